"""The packet: one PDF with everything a job leaves behind, set by typst from plain data.

The same plan, record and date give the same bytes: nothing is taken from the clock, the machine or its fonts. What the
next technician needs comes first: the verdict, the wiring, where each conductor lands; what proves it comes after.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.drawing import Drawing
from subbase.papers.job_record import JobRecord
from subbase.papers.ladder import ladder_sheets
from subbase.papers.map_model import Changed, Marking, RunKey, markings, parts_of, runs_of
from subbase.papers.owner_page import owner_blocks, packet_frame
from subbase.papers.packet_pages import (
    cover_blocks,
    label_blocks,
    landing_blocks,
    open_blocks,
    photo_blocks,
    proof_blocks,
    reading_blocks,
    route_blocks,
    source_blocks,
)
from subbase.papers.pdf import typeset_pdf
from subbase.papers.settings_page import settings_blocks, tunings_of
from subbase.papers.stop_sheet import stop_sheet_blocks
from subbase.papers.tables import changed_conductors
from subbase.papers.wiring_map import wiring_map
from subbase.papers.work_pages import check_sheet_blocks, hazard_blocks, step_blocks
from subbase.plan import Plan
from subbase.survey import Survey
from subbase.survey.rooms_reading import SiteFile
from subbase.words import _, date_words, mark
from subbase.work.checks import checks_for
from subbase.work.step_plan import work_plan
from subbase.work.steps import WorkPlan

LEAST_TEXT_PT, COMFORTABLE_TEXT_PT = 6.0, 6.4
"""No text on paper is smaller; below the second a drawing is turned on its side if that helps."""
_WHAT = {"planned": mark("Wiring packet"), "stopped": mark("Stop sheet"), "question": mark("Question sheet")}


def packet_pdf(
    plan: Plan, *, date: datetime.date, record: JobRecord | None = None, work: WorkPlan | None = None
) -> bytes:
    """Return the papers of a plan as a tagged PDF/A on A4 or Letter, by the survey's units.

    Parameters
    ----------
    record
        What the job's journal holds; without it the pages for it are forms to fill in.
    work
        The work steps of this plan where they are made already; made anew when left out.
    """
    return typeset_pdf("packet.typ", packet_data(plan, date=date, record=record, work=work), date=date)


def packet_data(
    plan: Plan, *, date: datetime.date, record: JobRecord | None = None, work: WorkPlan | None = None
) -> dict[str, Any]:
    """Return what the template sets: title, date and pages of blocks."""
    what = _(_WHAT[plan.verdict])
    if plan.verdict == "planned":
        steps = work or work_plan(plan, checks=checks_for(plan))
        pages = blocks.flowing(_planned(plan, date, record, steps))
    else:
        pages = [blocks.page(list(stop_sheet_blocks(plan))), blocks.page(_owner(plan, (), record), large=True)]
    pages[0]["blocks"].insert(0, blocks.title(plan.survey.name, f"{what}, {date_words(date)}"))
    return packet_frame(plan, what, date) | {"pages": pages}


def _planned(plan: Plan, date: datetime.date, record: JobRecord | None, work: WorkPlan) -> Iterator[dict[str, Any]]:
    assert plan.left is not None
    tunings = tunings_of(plan, record)
    yield blocks.page(list(cover_blocks(plan, date)))
    before, changed = markings(plan.survey, plan.left, changed_conductors(plan))
    # What is not known is drawn as not known, though the plan was made for every answer.
    found, left, ladder = _("Wiring as found"), _("Wiring as left"), _("Ladder diagram as left")
    first, *rest = _joined(_maps(plan, plan.survey, found, before), found)
    yield first | {"fresh": True}
    yield from rest
    yield from _joined(_maps(plan, plan.left, left, changed), left)
    yield from _joined(_ladder(plan, plan.left, ladder), ladder)
    yield blocks.page([*landing_blocks(plan), *proof_blocks(plan), *reading_blocks(plan)])
    yield blocks.page([*check_sheet_blocks(work.checks, record), *hazard_blocks(work.checks)])
    yield blocks.page(list(step_blocks(work, record)))
    yield blocks.page(list(settings_blocks(plan, tunings, record)))
    yield from _site(plan.survey)
    yield blocks.page([*photo_blocks(record), *open_blocks(plan, record)])
    yield blocks.page([*source_blocks(plan), *route_blocks(plan)])
    # What is cut out, and what is given away, stands on paper of its own.
    yield blocks.page(list(label_blocks(plan)), fresh=True)
    yield blocks.page(_owner(plan, tunings, record), large=True)


def _owner(plan: Plan, tunings: Sequence[Any], record: JobRecord | None) -> list[Block]:
    return [blocks.heading(_("For the people who live here")), *owner_blocks(plan, tunings, record)]


def _joined(figures: Sequence[tuple[str, Drawing, bool]], title: str) -> Iterator[dict[str, Any]]:
    """Yield pages for (heading, drawing, turned), upright ones below each other where they fit.

    They stand in the contents once, under their common title.
    """
    for flipped, group in groupby(figures, key=lambda item: item[2]):
        found: list[Block] = []
        for heading, drawing, _turned in group:
            listed = title if heading == figures[0][0] else ""
            found += [blocks.heading(heading, listed=listed), blocks.figure(drawing, flipped=flipped)]
        yield blocks.page(found, flipped=flipped)


def _maps(plan: Plan, survey: Survey, title: str, changed: Changed | Marking) -> list[tuple[str, Drawing, bool]]:
    """Return the wiring map, or a sheet for each control and one for the equipment where it would be too small."""
    return [(drawing.title, drawing, is_flipped(drawing)) for drawing in map_sheets(plan, survey, title, changed)]


def map_sheets(plan: Plan, survey: Survey, title: str, changed: Changed | Marking) -> list[Drawing]:
    """Return the wiring map in as many drawings as are needed for its text to be large enough."""

    def drawn(words: str, only: frozenset[RunKey] | None) -> Drawing:
        return wiring_map(survey, plan.catalog, title=words, changed=changed, only=only, headed=False)

    whole = drawn(title, None)
    if scale_of(whole) * whole.least_text() >= LEAST_TEXT_PT:
        return [whole]
    parts = parts_of(survey, runs_of(survey, changed))
    return [
        drawn(_("{title}: {place}").format(title=title, place=name), only) for name, only in parts.items()
    ] or [whole]  # fmt: skip


def is_flipped(drawing: Drawing) -> bool:
    """Return whether a drawing needs a page turned on its side: upright its text would be small, turned it is larger."""
    upright = blocks.scale_on_page(drawing, flipped=False)
    comfortable = upright * drawing.least_text() >= COMFORTABLE_TEXT_PT
    return not comfortable and blocks.scale_on_page(drawing, flipped=True) > upright


def scale_of(drawing: Drawing) -> float:
    """Return by how much a drawing is scaled on the page it stands on."""
    return blocks.scale_on_page(drawing, flipped=is_flipped(drawing))


def _ladder(plan: Plan, left: Survey, title: str) -> list[tuple[str, Drawing, bool]]:
    upright = ladder_sheets(left, plan.catalog, title=title, room=(blocks.PORTRAIT_WIDTH, blocks.PORTRAIT_HEIGHT))
    flipped = blocks.PORTRAIT_WIDTH / upright[0].width * upright[0].least_text() < LEAST_TEXT_PT
    room = (blocks.LANDSCAPE_WIDTH, blocks.LANDSCAPE_HEIGHT)
    sheets = ladder_sheets(left, plan.catalog, title=title, room=room) if flipped else upright
    if len(sheets) == 1:
        return [(title, sheets[0], flipped)]
    named = _("{title}, sheet {number} of {count}")
    return [
        (named.format(title=title, number=number, count=len(sheets)), sheet, flipped)
        for number, sheet in enumerate(sheets, start=1)
    ]


def _site(survey: Survey) -> Iterator[dict[str, Any]]:
    """Yield the pages that say where the control goes, when the survey holds rooms."""
    if survey.site is not None:
        # The year of sun is reckoned in bulk; a packet without rooms must not load what that needs.
        from subbase.papers.site_page import site_pages
        from subbase.siting.verdict import judge_site

        house = SiteFile(name=survey.name, units=survey.units, place=survey.place, site=survey.site)
        yield from site_pages(judge_site(house))
