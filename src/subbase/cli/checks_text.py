"""The fewest checks and the wrong landings they tell, as text."""

from __future__ import annotations

import math

from subbase.cli.plan_text import table, wrapped
from subbase.papers.data_check import worst_words
from subbase.words import _
from subbase.work.checks import CheckPlan
from subbase.work.double_report import DoubleReport
from subbase.work.double_slips import RULE
from subbase.work.outcomes import DAMAGING, Outcome

MOST_SHOWN = 12


def checks_text(name: str, found: CheckPlan, doubles: DoubleReport | None = None) -> str:
    """Return the checks to make, the dangerous wrong landings, what no check can tell, and two slips at once if asked."""
    lines = [name, "=" * len(name), ""]
    lines.append(
        _("{count} CHECKS, ABOUT {minutes} MINUTES (dead ones first, supply locked out)").format(
            count=len(found.checks), minutes=math.ceil(found.seconds / 60)
        )
    )
    rows = [
        (str(number), chosen.check.words(), _("at {site}").format(site=chosen.check.site), f"{len(chosen.tells)}")
        for number, chosen in enumerate(found.checks, start=1)
    ]
    lines += table(("", _("Reading, and what it must be"), _("Where"), _("Tells")), rows)
    lines.append(
        "  "
        + _("Of {count} single wrong landings {told} are told, {harmless} do nothing, {untold} cannot be told.").format(
            count=len(found.outcomes), told=found.told, harmless=len(found.harmless), untold=len(found.untold)
        )
    )
    lines += _part(_("WRONG LANDINGS THAT DO DAMAGE"), [o for o in found.outcomes if o.severity in DAMAGING])
    lines += _part(_("DAMAGE THAT SHOWS ONLY WITH SUPPLY ON: LOOK TWICE"), list(found.only_live))
    lines += _part(_("NO READING TELLS THESE: LOOK, AND TRY THEM BY HAND"), list(found.untold))
    if doubles is not None:
        lines += _doubles_part(doubles)
    return "\n".join(lines)


def _doubles_part(found: DoubleReport) -> list[str]:
    """Say how the chosen checks fare against two slips at once, and which further checks show the rest."""
    lines = ["", _("TWO SLIPS AT ONCE")]
    lines += wrapped(_("Looked at: {rule}").format(rule=_(RULE)), "  ", "  ")
    count = len(found.doubles)
    lines += wrapped(
        _("{count} of all {pairs} pairs are of this kind; {told} are shown by the checks above, {harmless} do nothing, {masked} pass every check above.").format(count=count, pairs=found.pairs, told=found.told, harmless=found.harmless, masked=len(found.masked)),
        "  ", "  ",
    )  # fmt: skip
    lines += _part(_("THEY HIDE EACH OTHER FROM EVERY CHECK ABOVE"), [each.outcome for each in found.masked])
    lines += _part(_("THEIR DAMAGE SHOWS ABOVE ONLY WITH SUPPLY ON"), [each.outcome for each in found.shown_live])
    if found.extra:
        lines += [
            "",
            _("FURTHER CHECKS FOR THESE, ABOUT {minutes} MINUTES MORE").format(
                minutes=math.ceil(found.extra_seconds / 60)
            ),
        ]
        rows = [
            ("", each.check.words(), _("at {site}").format(site=each.check.site), f"{len(each.tells)}")
            for each in found.extra
        ]
        lines += table(("", _("Reading, and what it must be"), _("Where"), _("Tells")), rows)
    lines += _part(_("NO DEAD CHECK AT ALL SHOWS THESE"), [each.outcome for each in found.only_live])
    lines += _part(_("NO CHECK AT ALL SHOWS THESE"), [each.outcome for each in found.untold])
    return lines


def _part(title: str, outcomes: list[Outcome]) -> list[str]:
    if not outcomes:
        return []
    lines = ["", title]
    for outcome in outcomes[:MOST_SHOWN]:
        lines += wrapped(f"{outcome.slip.words}: {worst_words(outcome)}", "    ", "  - ")
    if len(outcomes) > MOST_SHOWN:
        lines.append("  " + _("and {count} more (--json lists all)").format(count=len(outcomes) - MOST_SHOWN))
    return lines
