"""How each control is set, and the schedule it is left with: a page of the packet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from subbase.names import and_words
from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.figures import clock, degrees
from subbase.papers.job_record import JobRecord
from subbase.papers.tables import Table
from subbase.plan import Plan
from subbase.words import _

if TYPE_CHECKING:
    from subbase.comfort.setting_records import Tuning


def tunings_of(plan: Plan, record: JobRecord | None = None) -> tuple[Tuning, ...]:
    """Return how each control of a plan is set; without a description of the house what depends on it is asked for."""
    if record is not None and record.tunings:
        return record.tunings
    # Numbers in bulk come with it; a stop sheet must not load them.
    from subbase.comfort.equipment_settings import tuning

    if plan.left is None:
        return ()
    return tuple(
        tuning(plan.left, plan.catalog, item.control, sorted(set(item.wanted) - set(item.chosen.lost)))
        for item in plan.controls
    )


def settings_blocks(plan: Plan, tunings: Sequence[Tuning], record: JobRecord | None) -> Iterator[Block]:
    """Yield settings and first schedule, controls that are set alike together."""
    yield blocks.heading(_("Settings and schedule"))
    if record and record.settings:
        head = (_("Setting"), _("Decided"))
        yield from blocks.table(Table(_("As it was left"), head, record.settings, (3.0, 4.0)), look="led")
    for names, found in alike(tunings):
        rows = tuple(
            (s.name, s.value, _("{why} [{source}]").format(why=s.why, source=s.source)) for s in found.settings
        )
        title = _("Set {controls}").format(controls=names)
        yield from blocks.table(Table(title, (_("Setting"), _("Set to"), _("Why")), rows, (1.7, 1.7, 5.0)), look="led")
        if found.questions:
            yield blocks.subheading(_("To find out for {controls}").format(controls=names))
            yield blocks.bullets(found.questions)
        schedule = schedule_table(found, plan.survey.units, names)
        if schedule is not None:
            yield from blocks.table(schedule, look="led")


def alike(tunings: Sequence[Tuning]) -> Iterator[tuple[str, Tuning]]:
    """Yield (controls, how they are set), each way of setting once."""
    groups: dict[object, list[Tuning]] = {}
    for item in tunings:
        groups.setdefault((item.heat, item.settings, item.first_schedule), []).append(item)
    for items in groups.values():
        yield and_words(item.control for item in items), items[0]


def schedule_table(found: Tuning, units: str, names: str) -> Table | None:
    """Return the first schedule, the same every day; None when there is nothing to heat or cool."""
    heats = any(slot.heat_f is not None for slot in found.first_schedule)
    cools = any(slot.cool_f is not None for slot in found.first_schedule)
    if not heats and not cools:
        return None
    head = [_("From")] + [_("Heat to")] * heats + [_("Cool to")] * cools
    rows = tuple(
        (clock(slot.at, units), *(degrees(value, units) for value in (slot.heat_f, slot.cool_f) if value is not None))
        for slot in found.first_schedule
    )
    title = _("First schedule of {controls}, every day, until the people who live there have spoken").format(
        controls=names
    )
    note = f"{found.schedule_why} {found.schedule_source}."
    return Table(title, tuple(head), rows, (1.0,) * len(head), note)
