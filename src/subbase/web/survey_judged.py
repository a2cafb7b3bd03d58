"""What can be said of a survey at once: the plan's verdict, what is wrong, what is open, which readings disagree, the map."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence, Set
from dataclasses import dataclass, replace
from typing import Literal

from markupsafe import Markup

from subbase.errors import Fault
from subbase.papers.wiring_map import input_map_svg
from subbase.plan import Plan
from subbase.plan.check import check_survey
from subbase.plan.result import Contradiction
from subbase.plan.screen import screen
from subbase.plan.unknowns import OpenFact, count_possibilities, open_facts
from subbase.survey import Survey
from subbase.web.jobs import JobView, Office
from subbase.web.looks import drawing
from subbase.words import _, plural

Word = Literal["planned", "stopped", "question", "faults", "nothing"]
_ID = re.compile(r'id="(f-[^"]*)"')
SECTIONS = {"place": "house", "name": "house", "units": "house", "notes": "house", "survey": "house", "site": "house"}
GROUPS = ("signs", "equipment", "transformers", "controls", "cables", "jumpers", "readings", "wishes")
MOST_SHOWN = 8
MOST_LIVE = 9
"""Possibilities that are planned for while somebody waits for the page: about 0.1 s each. The Plan page does them all."""


@dataclass(frozen=True, slots=True)
class Told:
    """One thing to look at, with the place on the page where it is put right."""

    text: str
    where: str
    """The field, as in the survey file."""
    more: str = ""
    href: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """What can be said now."""

    word: Word
    line: str
    """One line, to be read at a glance."""
    stops: tuple[Told, ...] = ()
    faults: tuple[Told, ...] = ()
    questions: tuple[Told, ...] = ()
    disagreements: tuple[Told, ...] = ()
    look_again: tuple[Told, ...] = ()
    left_out: int = 0
    map: Markup | None = None


def judged(office: Office, view: JobView) -> Judged:
    """Return what can be said of a job's survey."""
    return office.shown_once("judged", view, lambda: _judged(office, view))


def _judged(office: Office, view: JobView) -> Judged:
    if not view.state.survey.text.strip():
        return Judged("nothing", _("Nothing is entered yet."))
    survey = view.survey
    if survey is None:
        return _with_faults(view.read.faults)
    facts = open_facts(survey, office.catalog)
    if count_possibilities(facts) > MOST_LIVE:
        return _too_open(office, survey, facts)
    plan = office.plan(view)
    if plan is None:
        return _with_faults(view.read.faults)
    check = check_survey(survey, office.catalog)
    questions = [Told(question.text, question.field, question.how) for question in plan.questions]
    asked = {question.field for question in plan.questions}
    questions += [Told(fact.text, fact.field, fact.how) for fact in check.open_facts if fact.field not in asked]
    contradicted = tuple(Told(item.text, "readings", _would_agree(item)) for item in plan.contradictions)
    word, line = _verdict(plan, len(questions))
    return Judged(
        word,
        line,
        stops=tuple(Told(stop.seen, "signs", stop.instead) for stop in plan.stops),
        questions=tuple(questions[:MOST_SHOWN]),
        disagreements=contradicted or tuple(Told(text, "readings") for text in check.disagreements),
        look_again=tuple(Told(text, "") for text in check.look_again),
        left_out=max(0, len(questions) - MOST_SHOWN),
        map=_map(office, survey),
    )


def _would_agree(item: Contradiction) -> str:
    if not item.would_agree:
        return ""
    return _("It would agree if one of these were so: {changes}.").format(changes="; ".join(item.would_agree))


def _map(office: Office, survey: Survey) -> Markup:
    return drawing(input_map_svg(survey, office.catalog, title=_("Wiring as found")))


def _too_open(office: Office, survey: Survey, facts: Sequence[OpenFact]) -> Judged:
    """Return what can be said while so much is open that a plan for every possibility would keep the page waiting."""
    stops = tuple(Told(stop.seen, "signs", stop.instead) for stop in screen(survey))
    # Where a conductor lands is what one is about to look at; lengths and nameplates can wait.
    ordered = sorted(facts, key=lambda fact: ".conductors." not in fact.field)
    line = _("{count} open, next: {text}")
    said = (
        _("Stop: {seen}").format(seen=stops[0].text) if stops else line.format(count=len(ordered), text=ordered[0].text)
    )
    return Judged(
        "stopped" if stops else "question",
        said,
        stops=stops,
        questions=tuple(Told(fact.text, fact.field, fact.how) for fact in ordered[:MOST_SHOWN]),
        left_out=max(0, len(ordered) - MOST_SHOWN),
        map=_map(office, survey),
    )


def _with_faults(faults: tuple[Fault, ...]) -> Judged:
    line = plural("{count} thing to put right first", "{count} things to put right first", len(faults))
    shown = tuple(Told(fault.message, fault.where, _line(fault)) for fault in faults[:MOST_SHOWN])
    left_out = max(0, len(faults) - MOST_SHOWN)
    return Judged("faults", line.format(count=len(faults)), faults=shown, left_out=left_out)


def _line(fault: Fault) -> str:
    return _("Line {line} of the text.").format(line=fault.line) if fault.line and not fault.where else ""


def _verdict(plan: Plan, questions: int) -> tuple[Word, str]:
    if plan.verdict == "planned":
        if len(plan.controls) != 1:
            return "planned", _("Planned: every new control can be wired and fed")
        return "planned", _("Planned: {how}").format(how=plan.controls[0].chosen.title)
    if plan.verdict == "stopped":
        seen = plan.stops[0].seen if plan.stops else _("no wiring was found that the circuit proves")
        return "stopped", _("Stop: {seen}").format(seen=seen)
    if plan.contradictions:
        return "question", _("A reading and the survey disagree.")
    if not plan.questions:
        return "question", _("Something must be settled first.")
    line = plural("{count} open: {text}", "{count} open, first: {text}", questions)
    return "question", line.format(count=questions, text=plan.questions[0].text)


def linked(found: Judged, page: str) -> Judged:
    """Return what is said with links to the fields on a page, as far as the page has them."""
    ids = {html.unescape(name) for name in _ID.findall(page)}

    def with_links(told: tuple[Told, ...]) -> tuple[Told, ...]:
        return tuple(Told(t.text, t.where, t.more, href_of(t.where, ids)) for t in told)

    return replace(
        found,
        stops=with_links(found.stops),
        faults=with_links(found.faults),
        questions=with_links(found.questions),
        disagreements=with_links(found.disagreements),
        look_again=with_links(found.look_again),
    )


def href_of(where: str, ids: Set[str]) -> str:
    """Return the id of the field that a fault or a question is about, or of the nearest part that holds it."""
    steps = where.split(".")
    for count in range(len(steps), 0, -1):
        name = "f-" + "_".join(".".join(steps[:count]).split())
        if name in ids:
            return name
    return steps[0] if steps[0] in GROUPS else SECTIONS.get(steps[0], "house")
