"""Pages of the packet about settings, schedule and what they do, and the owner's page about them.

The packet calls ``tune_pages`` for the technician's pages and ``owner_blocks`` for the owner's; charts come as drawings
that also stand alone (``charts_of``).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from subbase.comfort.answers import Units
from subbase.comfort.setting_records import Tuning
from subbase.comfort.study import Study
from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.drawing import Drawing
from subbase.papers.tables import Table
from subbase.papers.tune_charts import balance_chart, cold_day_chart, setback_chart, year_chart
from subbase.papers.tune_tables import house_rows, outcome_table, owner_words, schedule_table, setback_words
from subbase.words import _


def tune_pages(tuning: Tuning, found: Study | None, units: Units) -> Iterator[dict[str, Any]]:
    """Yield pages on one control: its settings with reasons; with a study also schedule, year and charts."""
    yield blocks.page(list(_settings(tuning)))
    if found is not None:
        yield blocks.page(list(_study(found, units)))


def owner_blocks(tuning: Tuning, found: Study | None, units: Units) -> Iterator[Block]:
    """Yield what the owner should know of one control's settings."""
    yield blocks.subheading(_("How {control} is set").format(control=tuning.control))
    yield blocks.bullets(owner_words(tuning, found, units))
    if found is not None:
        yield from blocks.table(schedule_table(found, units))


def charts_of(found: Study, units: Units) -> dict[str, Drawing]:
    """Return chart name -> drawing, those that there is something to draw for."""
    charts = {"year": year_chart(found.net_w, found.control)}
    if found.cold_day is not None:
        charts["cold-day"] = cold_day_chart(found.cold_day, units, found.control)
    if found.setback is not None:
        charts["setback"] = setback_chart(found.setback, units, found.control)
    if found.balance is not None:
        charts["balance"] = balance_chart(found.balance, units, found.control)
    return charts


def settings_table(tuning: Tuning) -> Table:
    """Return every setting with its reason and source."""
    rows = tuple((one.name, one.value, f"{one.why} [{one.source}]") for one in tuning.settings)
    return Table(_("Settings"), (_("Set"), _("To"), _("Why")), rows, (1.2, 1.2, 2.6))


def _settings(tuning: Tuning) -> Iterator[Block]:
    yield blocks.heading(_("Settings of {control}").format(control=tuning.control))
    yield from blocks.table(settings_table(tuning), look="led", titled=0)
    if tuning.questions:
        yield blocks.subheading(_("Still to find out"))
        yield blocks.bullets(tuning.questions)


def _study(found: Study, units: Units) -> Iterator[Block]:
    yield blocks.heading(_("Schedule of {control}").format(control=found.control))
    yield from blocks.table(schedule_table(found, units))
    yield from blocks.table(outcome_table(found), look="led")
    if found.setback is not None:
        yield blocks.bullets(setback_words(found, units))
    yield blocks.facts(house_rows(found, units))
    for drawing in charts_of(found, units).values():
        yield blocks.subheading(drawing.title)
        yield blocks.figure(drawing, flipped=False)
