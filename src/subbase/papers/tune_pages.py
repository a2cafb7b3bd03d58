"""Pages of the packet about settings, schedule and what they do, and the owner's page about them.

``settings_pdf`` sets them as a paper of its own, the technician's pages first and the owner's last; charts come as drawings
that also stand alone (``charts_of``).
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any

from subbase.comfort.answers import Units
from subbase.comfort.setting_records import Tuning
from subbase.comfort.study import Study
from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.drawing import Drawing
from subbase.papers.owner_page import packet_frame
from subbase.papers.pdf import typeset_pdf
from subbase.papers.tables import Table
from subbase.papers.tune_charts import WIDTH, balance_chart, cold_day_chart, setback_chart, year_chart
from subbase.papers.tune_tables import house_rows, outcome_table, owner_words, schedule_table, setback_words
from subbase.plan import Plan
from subbase.words import _, date_words


def settings_pdf(plan: Plan, controls: Sequence[tuple[Tuning, Study | None]], *, date: datetime.date) -> bytes:
    """Return settings, schedule, year and charts of a house's controls, and a page for those who live there."""
    units, what = plan.survey.units, _("Settings and schedule")
    pages = [blocks.page([blocks.title(plan.survey.name, f"{what}, {date_words(date)}")])]
    pages += [page for tuning, found in controls for page in tune_pages(tuning, found, units)]
    people = [block for tuning, found in controls for block in owner_blocks(tuning, found, units)]
    pages.append(blocks.page([blocks.heading(_("For the people who live here")), *people], large=True))
    frame = packet_frame(plan, what, date) | {"pages": blocks.flowing(pages)}
    return typeset_pdf("packet.typ", frame, date=date)


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


def charts_of(found: Study, units: Units, width: float = WIDTH) -> dict[str, Drawing]:
    """Return chart name -> drawing, those that there is something to draw for."""
    charts = {"year": year_chart(found.net_w, found.control, width)}
    if found.cold_day is not None:
        charts["cold-day"] = cold_day_chart(found.cold_day, units, found.control, width)
    if found.setback is not None:
        charts["setback"] = setback_chart(found.setback, units, found.control, width)
    if found.balance is not None:
        charts["balance"] = balance_chart(found.balance, units, found.control, width)
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
