"""The fewest checks and the wrong landings they tell, as text and as plain data."""

from __future__ import annotations

import math
from typing import Any

from subbase.cli.plan_text import table, wrapped
from subbase.work.checks import CheckPlan
from subbase.work.outcomes import DAMAGING, Outcome

MOST_SHOWN = 12


def checks_text(name: str, found: CheckPlan) -> str:
    """Return the checks to make, then the dangerous wrong landings, then what no check can tell."""
    lines = [name, "=" * len(name), ""]
    lines.append(
        f"{len(found.checks)} CHECKS, ABOUT {math.ceil(found.seconds / 60)} MINUTES (dead ones first, supply locked out)"
    )
    rows = [
        (str(number), chosen.check.words(), f"at {chosen.check.site}", f"{len(chosen.tells)}")
        for number, chosen in enumerate(found.checks, start=1)
    ]
    lines += table(("", "Reading, and what it must be", "Where", "Tells"), rows)
    lines.append(
        f"  Of {len(found.outcomes)} single wrong landings {found.told} are told, {len(found.harmless)} do nothing, "
        f"{len(found.untold)} cannot be told."
    )
    lines += _part("WRONG LANDINGS THAT DO DAMAGE", [o for o in found.outcomes if o.severity in DAMAGING])
    lines += _part("DAMAGE THAT SHOWS ONLY WITH SUPPLY ON: LOOK TWICE", list(found.only_live))
    lines += _part("NO READING TELLS THESE: LOOK, AND TRY THEM BY HAND", list(found.untold))
    return "\n".join(lines)


def _part(title: str, outcomes: list[Outcome]) -> list[str]:
    if not outcomes:
        return []
    lines = ["", title]
    for outcome in outcomes[:MOST_SHOWN]:
        lines += wrapped(f"{outcome.slip.words}: {_why(outcome)}", "    ", "  - ")
    if len(outcomes) > MOST_SHOWN:
        lines.append(f"  and {len(outcomes) - MOST_SHOWN} more (--json lists all)")
    return lines


def _why(outcome: Outcome) -> str:
    return f"{outcome.worst.text} ({outcome.worst.call})" if outcome.worst else outcome.severity


def checks_data(name: str, found: CheckPlan) -> dict[str, Any]:
    """Return the same as plain data, every slip included; OL is null."""
    return {
        "format": 1,
        "survey": name,
        "seconds": found.seconds,
        "checks": [
            {
                "kind": chosen.check.kind,
                "between": list(chosen.check.between),
                "clip": list(chosen.check.clip) if chosen.check.clip else None,
                "state": chosen.check.state.words(name_controls=True) if chosen.check.state else None,
                "site": chosen.check.site,
                "unit": chosen.check.unit,
                "low": _finite(chosen.check.low),
                "high": _finite(chosen.check.high),
                "tells": [slip.words for slip in chosen.tells],
            }
            for chosen in found.checks
        ],
        "slips": [
            {
                "slip": outcome.slip.words,
                "severity": outcome.severity,
                "findings": [{"call": f.call, "severity": f.severity, "text": f.text} for f in outcome.findings],
            }
            for outcome in found.outcomes
        ],
        "untold": [outcome.slip.words for outcome in found.untold],
        "only_live": [outcome.slip.words for outcome in found.only_live],
    }


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else round(value, 3)
