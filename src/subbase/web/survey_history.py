"""The history of a job: every event in words, and undo, which is an event too."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request, Response

from subbase.journal.bodies import Undone
from subbase.journal.fold import Line
from subbase.web.asking import CallerHere, JobHere, KeyField, OfficeHere, go, keep
from subbase.web.job_erasing import may_erase
from subbase.web.looks import page
from subbase.words import _, mark

router = APIRouter()
PER_PAGE = 60
WORDS = {
    "named": mark("Named {name}"),
    "survey_edited": mark("Survey: {what}"),
    "control_chosen": mark("New control for {control}: {title}"),
    "plan_accepted": mark("Plan accepted"),
    "step_done": mark("Step done: {step}"),
    "step_reopened": mark("Step reopened: {step}"),
    "verdict_given": mark("Judged {about}: {outcome}"),
    "photo_added": mark("Photo added"),
    "photo_removed": mark("Photo removed"),
    "note_made": mark("Note: {text}"),
    "person_present": mark("Present: {name}"),
    "setting_made": mark("Setting {name}"),
    "handed_over": mark("Handed over"),
}
MOST_WORDS = 220


@dataclass(frozen=True, slots=True)
class Shown:
    """One line of the history."""

    key: str
    number: int
    at: datetime
    who: str
    words: str
    undone: bool


@router.get("/jobs/{job}/history")
def history_page(
    request: Request,
    view: JobHere,
    caller: CallerHere,
    number: Annotated[int, Query(alias="page", ge=1, le=10_000)] = 1,
) -> Response:
    """Show every event, the last first."""
    words = {line.event.key: words_of_event(line) for line in view.state.history}
    lines = [_shown(line, words) for line in reversed(view.state.history)]
    last = max(1, -(-len(lines) // PER_PAGE))
    part = lines[(number - 1) * PER_PAGE : number * PER_PAGE]
    return page(request, "history.html", job=view, lines=part, number=number, last=last, may_erase=may_erase(caller))


@router.post("/jobs/{job}/history/undo")
def undo(
    request: Request, view: JobHere, office: OfficeHere, key: KeyField, target: Annotated[str, Form(max_length=40)]
) -> Response:
    """Let one event count no longer; to undo that brings it back."""
    keep(request, office, view, {key: {"kind": "undone", "target": target}})
    return go(f"/jobs/{view.id}/history")


def words_of_event(line: Line) -> str:
    """Return what an event says, in one line."""
    body: Any = line.event.body
    if body.kind == "reading_taken":
        value = _("open circuit") if body.value is None else f"{body.value:g} {body.unit}"
        return _("Read {value}, {first} to {second}").format(value=value, first=body.between[0], second=body.between[1])
    if body.kind not in WORDS:
        return _("Entry of a later version: {kind}").format(kind=body.kind)
    said = {name: " ".join(str(value).split()) for name, value in body.model_dump().items()}
    words = _(WORDS[body.kind]).format(**said).rstrip(": ")
    return words if len(words) <= MOST_WORDS else f"{words[:MOST_WORDS]} ..."


def _shown(line: Line, words: dict[str, str]) -> Shown:
    event = line.event
    said = words[event.key]
    if isinstance(event.body, Undone):
        said = _("Undone: {what}").format(what=words.get(event.body.target, event.body.target))
    who = " ".join(part for part in (event.actor, event.device) if part)
    return Shown(event.key, event.sequence, event.made_at, who, said, bool(line.undone_by))
