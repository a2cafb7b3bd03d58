"""The pages to work by and to look back on: the steps, what a wrong landing would do, the checks with what was read."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from subbase.names import list_words, named, sentence
from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.job_record import JobRecord, Read, Stepped
from subbase.papers.tables import Table, terminal_words
from subbase.words import _, mark, plural
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan
from subbase.work.meter_words import bounds_words
from subbase.work.outcomes import DAMAGING, SEVERITIES, Outcome
from subbase.work.steps import PHASE_TITLES, Step, WorkPlan

MOST_TOLD = 6
"""Slips told one by one in a row of the hazard table; more of the same are counted."""
SHORT_LINE = 60
"""Lines of a step no longer than this stand one behind the other."""
OFTEN = 3
"""So many steps of a phase that say the same say it once, at its head."""
_SEVERITY_WORDS = {
    "damage to the control": mark("Damages the control"),
    "fuse opens or supply overloaded": mark("Opens a fuse or overloads a supply"),
    "supplies tied": mark("Ties two supplies"),
    "strips without fan": mark("Strips without fan"),
}
_STATUS_WORDS = {
    "done": mark("done"),
    "failed": mark("not met"),
    "skipped": mark("left out"),
    "open": mark("open"),
    "blocked": mark("open"),
}


# --- steps -----------------------------------------------------------------------------------------------------------


def step_blocks(work: WorkPlan, record: JobRecord | None) -> Iterator[Block]:
    """Yield every step of the work, phase by phase: what came of it, or room for a tick."""
    yield blocks.heading(_("Steps done") if record else _("The work, step by step"))
    count = len(work.steps)
    if record:
        done = sum(1 for step in work.steps if (state := record.steps.get(step.id)) and state.status == "done")
        yield blocks.text(_("{done} of {count} steps are done.").format(done=done, count=count), sticky=True)
    else:
        gates = _("{count} steps. Every step is a gate: not met, nothing behind it may begin.")
        yield blocks.text(gates.format(count=count), sticky=True)
    if not work.order.safe:
        yield blocks.text(
            _("No order of the moves is safe by itself in this house: the locks are all that stands between.")
        )
    rows: list[tuple[str, ...]] = []
    number = 0
    for phase, steps in work.phases():
        said = _said_once(steps)
        rows.append((_phase_head(_(PHASE_TITLES[phase]), said, brief=bool(record)),))
        for step in steps:
            number += 1
            came = _came(record.steps.get(step.id)) if record else ""
            must = "" if record and _is_done(record, step) else _must(work, step, said)
            rows.append((str(number), _what(step, said, brief=bool(record)), must, came))
    head = (_("No."), _("What to do, and where"), _("Must be so; if not"), _("Came of it") if record else _("Done"))
    weights = (0.45, 3.8, 2.4, 1.6) if record else (0.45, 4.2, 3.6, 0.6)
    yield from blocks.table(Table("", head, tuple(rows), weights), titled=0, look="record" if record else "steps")


@dataclass(frozen=True, slots=True)
class _Once:
    """What many steps of a phase say alike, said at its head instead."""

    cautions: tuple[str, ...]
    lines: tuple[str, ...]
    otherwise: tuple[str, ...]


def _said_once(steps: Sequence[Step]) -> _Once:
    def often(texts: Iterable[str]) -> tuple[str, ...]:
        counts = Counter(text for text in texts if text)
        least = min(OFTEN, max(2, len(steps)))
        return tuple(text for text, count in counts.items() if count >= least)

    return _Once(
        often(step.caution for step in steps),
        # What a reading tells belongs to that reading.
        often(line for step in steps if step.expected is None for line in step.lines),
        often(step.otherwise for step in steps),
    )


def _phase_head(title: str, said: _Once, *, brief: bool) -> str:
    if brief:
        return title
    lines = [title, *(_("Caution: {caution}").format(caution=caution) for caution in said.cautions)]
    if said.lines:
        lines.append(_("Each time: {what}").format(what=" ".join(map(sentence, said.lines))))
    if said.otherwise:
        lines.append(_("If not: {what}").format(what=" ".join(map(sentence, said.otherwise))))
    return "\n".join(lines)


def _is_done(record: JobRecord, step: Step) -> bool:
    state = record.steps.get(step.id)
    return state is not None and state.status == "done"


def _came(state: Stepped | None) -> str:
    if state is None:
        return _("open")
    first = state.read or _(_STATUS_WORDS[state.status])
    by = ", ".join(part for part in (first, state.who, state.when) if part)
    return "\n".join(part for part in (by, state.note) if part)


def _what(step: Step, said: _Once, *, brief: bool) -> str:
    head = _("{title} ({where})").format(title=step.title, where=step.where)
    if brief:
        return head
    own = step.caution and step.caution not in said.cautions
    caution = [_("Caution: {caution}").format(caution=step.caution)] if own else []
    lines = [head, *caution, *_gathered([line for line in step.lines if line not in said.lines])]
    return "\n".join(lines if step.may_do else [*lines, _("For: {who}.").format(who=named(step.who))])


def _gathered(lines: Sequence[str]) -> Iterator[str]:
    """Yield particulars: short ones one behind the other, so that a cable of ten conductors takes no ten lines."""
    if len(lines) > 2 and all(len(line) <= SHORT_LINE for line in lines):
        yield "; ".join(line.rstrip(".") for line in lines) + "."
    else:
        yield from (f"\N{EN DASH} {line}" for line in lines)


def _must(work: WorkPlan, step: Step, said: _Once) -> str:
    lines = []
    if step.expected is not None:
        lines.append(f"{step.expected.words(work.units)}.")
        if step.expected.if_low:
            lines.append(_("Lower: {meaning}.").format(meaning=step.expected.if_low))
        if step.expected.if_high:
            lines.append(_("Higher: {meaning}.").format(meaning=step.expected.if_high))
    if step.otherwise and step.otherwise not in said.otherwise:
        lines.append(step.otherwise)
    return "\n".join(lines)


# --- hazards ---------------------------------------------------------------------------------------------------------


def hazard_blocks(found: CheckPlan) -> Iterator[Block]:
    """Yield what the dangerous wrong landings would do, in the house's own words, each with the check that shows it."""
    damaging = [outcome for outcome in found.outcomes if outcome.severity in DAMAGING]
    yield blocks.heading(_("What a wrong landing would do"))
    solved = _("{count} single wrong landings of this house were built and solved.").format(count=len(found.outcomes))
    if not damaging:
        yield blocks.text(_("{solved} None of them does damage.").format(solved=solved))
        return
    some = plural(
        "{count} of them does damage. In brackets stands the check of the check sheet that shows it first: "
        "do not put supply on before every dead check has passed.",
        "{count} of them do damage. In brackets stands the check of the check sheet that shows it first: "
        "do not put supply on before every dead check has passed.",
        len(damaging),
    ).format(count=len(damaging))
    yield blocks.text(f"{solved} {some}", sticky=True)
    yield from blocks.table(_hazard_table(found, damaging), titled=0, look="led")
    if found.only_live:
        yield blocks.subheading(_("Shows only with supply on: look twice before power"))
        yield blocks.bullets(_few([outcome.slip.words for outcome in found.only_live]))
    if found.untold:
        yield blocks.subheading(_("No reading tells these: look, and try them by hand"))
        yield blocks.bullets(_few([outcome.slip.words for outcome in found.untold]))


def _few(items: Sequence[str]) -> list[str]:
    """Return the first items, and how many more there are."""
    if len(items) <= 2 * MOST_TOLD:
        return list(items)
    more = len(items) - 2 * MOST_TOLD
    return [*items[: 2 * MOST_TOLD], _("and {count} more, in 'subbase checks --json'").format(count=more)]


def _hazard_table(found: CheckPlan, damaging: Sequence[Outcome]) -> Table:
    number = {id(chosen): n for n, chosen in enumerate(found.checks, start=1)}
    first = {words: number[id(chosen)] for words, chosen in found.first_shown_by.items()}
    alike: dict[tuple[str, str], list[Outcome]] = {}
    for outcome in sorted(damaging, key=lambda item: SEVERITIES.index(item.severity)):
        assert outcome.worst is not None, "a damaging slip has a finding"
        alike.setdefault((outcome.severity, f"{outcome.worst.text} ({outcome.worst.call})"), []).append(outcome)
    rows = tuple(
        (_(_SEVERITY_WORDS[severity]), text, _slips_words(first, outcomes))
        for (severity, text), outcomes in alike.items()
    )
    return Table(
        "", (_("Harm"), _("What happens"), _("When this is done [check that shows it]")), rows, (1.2, 2.6, 4.4)
    )


def _slips_words(first: dict[str, int], outcomes: Sequence[Outcome]) -> str:
    told = [f"{o.slip.words} [{first.get(o.slip.words) or _('look')}]" for o in outcomes[:MOST_TOLD]]
    rest = outcomes[MOST_TOLD:]
    if rest:
        shown = sorted({first.get(o.slip.words, 0) for o in rest} - {0})
        told.append(
            plural("{count} more like these [{checks}]", "{count} more like these [{checks}]", len(rest)).format(
                count=len(rest), checks=list_words(map(str, shown)) or _("look")
            )
        )
    return "\n".join(told)


# --- checks ----------------------------------------------------------------------------------------------------------


def check_sheet_blocks(found: CheckPlan, record: JobRecord | None) -> Iterator[Block]:
    """Yield the checks in the order of the work, with what was read, or with room for it."""
    yield blocks.heading(_("Readings taken") if record else _("Check sheet: readings to take"))
    dead = [(n, c.check) for n, c in enumerate(found.checks, start=1) if c.check.state is None]
    live = [(n, c.check) for n, c in enumerate(found.checks, start=1) if c.check.state is not None]
    yield blocks.text(
        _(
            "{count} readings, about {minutes} minutes (judgement). Together they tell {told} of the {all} single wrong "
            "landings that do something."
        ).format(
            count=len(found.checks),
            minutes=math.ceil(found.seconds / 60),
            told=found.told,
            all=found.told + len(found.untold),
        ),
        sticky=True,
    )
    taken = {item.check: item for item in record.readings if item.check} if record else {}
    if dead:
        yield from blocks.table(_check_table(_("Dead: supply locked out and proved dead"), dead, taken), look="sheet")
        if any(check.clip for _number, check in dead):
            yield blocks.text(_("Take every clip off again, and count them, before supply is put on."))
    if live:
        yield from blocks.table(_check_table(_("With supply on, in this call"), live, taken), look="sheet")
    others = [item for item in record.readings if not item.check] if record else []
    if others:
        rows = tuple((item.what, item.must, _read_words(item)) for item in others)
        head = (_("What"), _("Must read"), _("Was read"))
        yield from blocks.table(Table(_("Other readings"), head, rows, (3.4, 1.8, 2.4)), look="sheet")


def _check_table(title: str, checks: Sequence[tuple[int, Check]], taken: dict[int, Read]) -> Table:
    rows = tuple(
        (
            str(number),
            _(check.site),
            between_words(check),
            state_words(check),
            bounds_words(check.low, check.high, check.unit),
            _read_words(taken[number]) if number in taken else "",
        )
        for number, check in checks
    )
    head = (_("No."), _("Stand at"), _("Leads on"), _("Set"), _("Must read"), _("Was read"))
    return Table(title, head, rows, (0.5, 1.1, 2.2, 1.8, 1.5, 1.6))


def _read_words(item: Read) -> str:
    first = item.read if item.within else _("{read}: NOT as it must be").format(read=item.read)
    by = ", ".join(part for part in (item.who, item.when) if part)
    return "\n".join(part for part in (first, by) if part)


def between_words(check: Check) -> str:
    """Return where the leads go."""
    a, b = check.between
    return _("{a} and {b}").format(a=terminal_words(a), b=terminal_words(b))


def state_words(check: Check) -> str:
    """Return what is called meanwhile, or what is clipped together at the far end."""
    if check.state is not None:
        return check.state.words(name_controls=True)
    if not check.clip:
        return ""
    a, b = check.clip
    return _("clip {a} and {b} together").format(a=terminal_words(a), b=terminal_words(b))


__all__ = ["between_words", "check_sheet_blocks", "hazard_blocks", "state_words", "step_blocks"]
