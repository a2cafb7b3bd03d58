"""The packet: one PDF with everything a job leaves behind, set by typst from plain data.

The same plan and date give the same bytes: nothing is taken from the clock, the machine or its fonts.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterator, Sequence
from importlib import resources
from itertools import groupby
from typing import Any

from subbase import __version__
from subbase.papers import blocks, tables
from subbase.papers.blocks import Block
from subbase.papers.drawing import Drawing
from subbase.papers.labels import labels_of
from subbase.papers.ladder import ladder_sheets
from subbase.papers.map_model import Changed, RunKey, parts_of, runs_of
from subbase.papers.wiring_map import wiring_map
from subbase.papers.work_pages import check_sheet_blocks, hazard_blocks, step_blocks
from subbase.plan import ControlPlan, Plan, Question
from subbase.survey import Survey
from subbase.survey.rooms_reading import SiteFile
from subbase.words import date_words
from subbase.work.checks import checks_for
from subbase.work.step_plan import work_plan

LEAST_TEXT_PT, COMFORTABLE_TEXT_PT = 6.0, 6.4
"""No text on paper is smaller; below the second a drawing is turned on its side if that helps."""
_WHAT = {"planned": "Wiring packet", "stopped": "Stop sheet", "question": "Question sheet"}


def packet_pdf(plan: Plan, *, date: datetime.date) -> bytes:
    """Return the papers of a plan as a tagged PDF on A4 or Letter, by the survey's units."""
    # The PDF engine takes a tenth of a second to load; drawings and tables must not wait for it.
    import typst
    from fontpkg_atkinson_hyperlegible import ROOT

    midnight = datetime.datetime(date.year, date.month, date.day, tzinfo=datetime.UTC)
    data = json.dumps(packet_data(plan, date=date), ensure_ascii=False)
    with resources.as_file(resources.files("subbase.papers") / "packet.typ") as template:
        return typst.compile(
            template,
            format="pdf",
            sys_inputs={"data": data},
            font_paths=[ROOT / "files"],
            ignore_system_fonts=True,
            pdf_standards="ua-1",
            timestamp=int(midnight.timestamp()),
        )


def packet_data(plan: Plan, *, date: datetime.date) -> dict[str, Any]:
    """Return what the template sets: title, date and pages of blocks."""
    pages = list(_planned(plan) if plan.verdict == "planned" else _one_sheet(plan))
    pages[0]["blocks"].insert(0, blocks.title(plan.survey.name, f"{_WHAT[plan.verdict]}, {date_words(date)}"))
    return {
        "title": blocks.soft(plan.survey.name),
        "what": _WHAT[plan.verdict],
        "date": [date.year, date.month, date.day],
        "footer": f"Made by subbase {__version__} on {date_words(date)}. Local code and the licence rules of the place decide.",
        "paper": "us-letter" if plan.survey.units == "us" else "a4",
        "pages": pages,
    }


# --- planned ---------------------------------------------------------------------------------------------------------


def _planned(plan: Plan) -> Iterator[dict[str, Any]]:
    assert plan.left is not None
    yield blocks.page([*_cover(plan), *_cautions(plan)])
    changed = tables.changed_conductors(plan)
    # What is not known is drawn as not known, though the plan was made for every answer.
    as_found = _maps(plan, plan.survey, "Wiring as found", frozenset())
    yield from _joined(as_found + _maps(plan, plan.left, "Wiring as left", changed))
    yield blocks.page([*_landings(plan), *_proof(plan), *_readings(plan), *_routes(plan)])
    found = checks_for(plan)
    yield blocks.page(list(step_blocks(work_plan(plan, checks=found))))
    yield blocks.page([*hazard_blocks(found), *check_sheet_blocks(found)])
    yield from _joined(_ladder(plan, plan.left))
    yield from _site(plan.survey)
    yield blocks.page(list(_labels(plan)))
    yield blocks.page(list(_parts_and_sources(plan)))


def _joined(figures: Sequence[tuple[str, Drawing, bool]]) -> Iterator[dict[str, Any]]:
    """Yield pages for (heading, drawing, turned), upright ones below each other where they fit."""
    for flipped, group in groupby(figures, key=lambda item: item[2]):
        found: list[Block] = []
        for heading, drawing, _ in group:
            found += [*([blocks.heading(heading)] if heading else []), blocks.figure(drawing, flipped=flipped)]
        yield blocks.page(found, flipped=flipped)


def _cover(plan: Plan) -> Iterator[Block]:
    assert plan.proof is not None
    margin = f"Every call was solved on the circuit and holds; the nearest limit is {plan.proof.margin:.0%} away."
    if len(plan.controls) == 1:
        line, words = plan.controls[0].chosen.title, []
    else:
        line = "Every new control can be wired and fed"
        words = [f"{item.control}: {item.chosen.title}." for item in plan.controls]
    yield blocks.verdict("planned", line, [*words, margin, *_losses(plan)])
    for item in plan.controls:
        yield blocks.subheading(f"What to do for {item.control}", 2)
        yield blocks.bullets(tables.steps(item), numbered=True)
        yield blocks.facts(_facts(item))
        if item.chosen.reasons:
            yield blocks.bullets(item.chosen.reasons)
    if plan.trusted:
        yield blocks.subheading("Taken on trust: look for yourself", 2)
        yield blocks.bullets(plan.trusted)
    if plan.indifferent:
        yield blocks.subheading("Not known, and it does not matter", 2)
        yield blocks.bullets(plan.indifferent)


def _losses(plan: Plan) -> Iterator[str]:
    lost = [f"{item.control} gives up: {', '.join(item.chosen.lost)}." for item in plan.controls if item.chosen.lost]
    yield from lost or ["Nothing that works today is given up."]


def _facts(item: ControlPlan) -> list[tuple[str, str]]:
    route = item.chosen
    kept = ", ".join(call for call in item.wanted if call not in route.lost)
    parts = ", ".join(f"{p.count} × {p.what}" if p.count > 1 else p.what for p in route.parts)
    return [
        ("Keeps", kept or "nothing"),
        ("Gives up", ", ".join(route.lost) or "nothing"),
        ("Parts", parts or "none beside the new control"),
        ("Time", f"about {route.minutes} minutes (judgement)"),
    ]


def _cautions(plan: Plan) -> Iterator[Block]:
    yield blocks.subheading("Cautions", 2)
    yield from blocks.table(tables.caution_table(plan), titled=0)


def _maps(plan: Plan, survey: Survey, title: str, changed: Changed) -> list[tuple[str, Drawing, bool]]:
    """Return the wiring map, or a sheet for each control and one for the equipment where it would be too small."""
    return [(drawing.title, drawing, is_flipped(drawing)) for drawing in map_sheets(plan, survey, title, changed)]


def map_sheets(plan: Plan, survey: Survey, title: str, changed: Changed) -> list[Drawing]:
    """Return the wiring map in as many drawings as are needed for its text to be large enough."""

    def drawn(words: str, only: frozenset[RunKey] | None) -> Drawing:
        return wiring_map(survey, plan.catalog, title=words, changed=changed, only=only, headed=False)

    whole = drawn(title, None)
    if scale_of(whole) * whole.least_text() >= LEAST_TEXT_PT:
        return [whole]
    parts = parts_of(survey, runs_of(survey, changed))
    return [drawn(f"{title}: {name}", only) for name, only in parts.items()] or [whole]


def is_flipped(drawing: Drawing) -> bool:
    """Return whether a drawing needs a page turned on its side: upright its text would be small, turned it is larger."""
    upright = blocks.scale_on_page(drawing, flipped=False)
    comfortable = upright * drawing.least_text() >= COMFORTABLE_TEXT_PT
    return not comfortable and blocks.scale_on_page(drawing, flipped=True) > upright


def scale_of(drawing: Drawing) -> float:
    """Return by how much a drawing is scaled on the page it stands on."""
    return blocks.scale_on_page(drawing, flipped=is_flipped(drawing))


def _landings(plan: Plan) -> Iterator[Block]:
    yield blocks.heading("Landings")
    for item in plan.controls:
        yield from blocks.table(tables.landing_table(plan, item), look="marked")
    jumpers = tables.jumper_table(plan)
    if jumpers.rows:
        yield from blocks.table(jumpers, look="led")
    for item in plan.controls:
        yield blocks.subheading(f"Set {item.control}")
        yield blocks.facts(tables.settings_rows(item))


def _proof(plan: Plan) -> Iterator[Block]:
    assert plan.proof is not None
    yield blocks.heading("Proof")
    yield from blocks.table(tables.proof_table(plan.proof))
    yield from blocks.table(tables.supply_table(plan.proof))


def _readings(plan: Plan) -> Iterator[Block]:
    yield blocks.heading("What the meter must read")
    yield blocks.text(
        "Volts AC, leads on the two terminals, the call made at the control. Upper figure: at nominal line voltage. "
        "Lower figures: accept anything between them. Another reading means that something is not as drawn: stop and look.",
        sticky=True,
    )
    for found in tables.reading_tables(plan.readings):
        yield from blocks.table(found, look="readings")


def _routes(plan: Plan) -> Iterator[Block]:
    yield blocks.heading("Every way looked at")
    several = len(plan.controls) > 1
    for item in plan.controls:
        if several:
            yield blocks.subheading(item.control)
        yield from blocks.table(tables.route_table(item.routes, item.chosen), look="led")
        refused = tables.refusal_table(item.routes)
        if refused.rows:
            yield from blocks.table(refused)


def _ladder(plan: Plan, left: Survey) -> list[tuple[str, Drawing, bool]]:
    title = "Ladder diagram as left"
    upright = ladder_sheets(left, plan.catalog, title=title, room=(blocks.PORTRAIT_WIDTH, blocks.PORTRAIT_HEIGHT))
    flipped = blocks.PORTRAIT_WIDTH / upright[0].width * upright[0].least_text() < LEAST_TEXT_PT
    room = (blocks.LANDSCAPE_WIDTH, blocks.LANDSCAPE_HEIGHT)
    sheets = ladder_sheets(left, plan.catalog, title=title, room=room) if flipped else upright
    count = f" of {len(sheets)}" if len(sheets) > 1 else ""
    return [
        (f"{title}, sheet {number}{count}" if count else title, sheet, flipped)
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


def _labels(plan: Plan) -> Iterator[Block]:
    yield blocks.heading("Labels")
    yield blocks.text(
        "Cut along the dashes, fold at the dots around the conductor, close with clear tape. One for each end.",
        sticky=True,
    )
    yield blocks.labels(labels_of(plan))


def _parts_and_sources(plan: Plan) -> Iterator[Block]:
    yield blocks.heading("Parts, tools, sources")
    yield from blocks.table(tables.parts_table(plan))
    yield blocks.subheading("Tools")
    yield blocks.bullets(tables.TOOLS)
    yield from blocks.table(tables.source_table(plan))
    yield from blocks.table(tables.rules_table())


# --- stopped, or a question ------------------------------------------------------------------------------------------


def _one_sheet(plan: Plan) -> Iterator[dict[str, Any]]:
    found: list[Block] = list(_stopped(plan) if plan.verdict == "stopped" else _asked(plan))
    yield blocks.page([*found, *_cautions(plan)])


def _stopped(plan: Plan) -> Iterator[Block]:
    if plan.stops:
        first, *others = plan.stops
        yield blocks.verdict("stopped", first.seen, [first.instead, "Nothing may be wired here as things stand."])
        for stop in others:
            yield blocks.subheading(stop.seen, 2)
            yield blocks.text(stop.instead)
        return
    line = "Stop: no wiring of the new control was found that the circuit proves"
    yield blocks.verdict(
        "stopped",
        line,
        ["Leave the old control in service. Below is every way looked at, and what would lift its refusal."],
    )
    yield from blocks.table(tables.refusal_table(plan.refused), titled=2)
    if plan.notes:
        yield blocks.subheading("The whole house together", 2)
        yield blocks.bullets(plan.notes)


def _asked(plan: Plan) -> Iterator[Block]:
    first = plan.questions[0] if plan.questions else None
    line = f"Answer first: {first.text}" if first else "Something must be settled first"
    yield blocks.verdict("question", line, ["Nothing is to be moved before it is answered; the plan depends on it."])
    for contradiction in plan.contradictions:
        yield blocks.subheading("Reading against survey", 2)
        yield blocks.text(contradiction.text)
        if contradiction.would_agree:
            yield blocks.text("It would agree if one of these were so:")
            yield blocks.bullets(contradiction.would_agree)
    for number, question in enumerate(plan.questions, start=1):
        yield from _question(plan, number, question)
    if plan.indifferent:
        yield blocks.subheading("Not known, and it does not matter", 2)
        yield blocks.bullets(plan.indifferent)


def _question(plan: Plan, number: int, question: Question) -> Sequence[Block]:
    head = f"{number}. {question.text}" if len(plan.questions) > 1 else question.text
    found = [blocks.subheading(head, 2), blocks.text(f"How to find out: {question.how}")]
    if question.answers:
        rows = tuple((_answer_words(plan, answer.value), answer.leads_to) for answer in question.answers)
        found += blocks.table(tables.Table("", ("If it is", "then"), rows, (2.2, 5.0)), titled=0)
    return [*found, blocks.text(f"Write the answer into the survey at {question.field}.", small=True)]


def _answer_words(plan: Plan, value: str) -> str:
    kind = plan.catalog.get(value)
    return f"{kind.title} ({value})" if kind else tables.terminal_words(value)
