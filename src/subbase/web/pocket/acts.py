"""What is done on the pocket's page, as entries of the journal: the same that the app's own pages write."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from subbase.errors import Fault, InputError
from subbase.journal import new_key, read_entry
from subbase.web.display import read_number
from subbase.web.pocket.answering import answered
from subbase.web.pocket.bench import Bench, Job
from subbase.web.record import changed_meanwhile
from subbase.web.record_check import reading_body
from subbase.web.record_work import day_body, result_body
from subbase.web.standing import day_told, results_told, says_nothing_new, step_named
from subbase.words import _
from subbase.work.progress import with_result
from subbase.work.taken import METERS

Fields = Mapping[str, str]
Bodies = list[dict[str, Any]]


def entries_for(bench: Bench, job: Job, act: str, fields: Fields) -> list[dict[str, Any]]:
    """Return the entries that keep what was done, as plain data; none when it says nothing new.

    Raises
    ------
    InputError
        When what was told cannot be read, or the steps' gates do not allow it.
    """
    make = _ACTS.get(act)
    if make is None:
        raise _fault(_("The page asks for something that this version does not know."))
    now = datetime.now(tz=UTC).isoformat()
    who = {"actor": fields.get("actor", "").strip()[:200], "device": "pocket"}
    made = ({"key": new_key(), "made_at": now, **who, "body": body} for body in make(bench, job, fields))
    return [read_entry(item).model_dump(mode="json") for item in made]


def _begin(bench: Bench, job: Job, fields: Fields) -> Bodies:
    name = fields.get("name", "").strip() or bench.name_in(fields.get("text", "")) or _("A house")
    return [{"kind": "named", "name": name[:200]}, *_edit(bench, job, fields)]


def _edit(_bench: Bench, job: Job, fields: Fields) -> Bodies:
    text = fields.get("text", "").replace("\r\n", "\n")
    if text == job.state.survey.text:
        return []
    return [_edited(job, text, _("Text edited"))]


def _edited(job: Job, text: str, what: str) -> dict[str, Any]:
    base = job.state.survey.sha256 if job.state.survey.edit else ""
    return {"kind": "survey_edited", "text": text, "base": base, "what": what[:200]}


def _answer(bench: Bench, job: Job, fields: Fields) -> Bodies:
    field, index = fields.get("field", ""), fields.get("index", "")
    text = answered(job.state.survey.text, field, int(index) if index.isdigit() else -1, bench.catalog)
    return [_edited(job, text, _("Answered: {field}").format(field=field))]


def _day(bench: Bench, job: Job, fields: Fields) -> Bodies:
    survey = bench.read(job).survey
    return [day_body(day_told(fields, survey.units if survey is not None else "us"))]


def _step(bench: Bench, job: Job, fields: Fields) -> Bodies:
    found = bench.standing(job)
    if found is None:
        raise _fault(_("There is no plan to work by."))
    found.mine.refuse_changed(fields)
    step = step_named(found.steps, fields.get("step", ""))
    results = results_told(found, step, fields.get("act", ""), dict(fields))
    if says_nothing_new(found, step, results[0]):
        return []
    now = found.now
    for result in results:
        now = with_result(found.steps, now, result)
    return [result_body(found.mine, found.steps.step(result.step), result) for result in results]


def _reading(bench: Bench, job: Job, fields: Fields) -> Bodies:
    found = bench.standing(job)
    item = found.mine.sheet.by_id.get(fields.get("check", "")) if found is not None else None
    if found is None or item is None or not found.mine.is_seen_in(fields):
        raise changed_meanwhile()
    value = read_number(fields.get("value", ""), open_allowed=item.check.unit == "ohm")
    if value < 0.0:
        raise _fault(_("Volts AC and ohms are never negative; look at the meter's range."))
    meter = fields.get("meter", "")
    return [reading_body(found.mine, item, value, meter if meter in METERS else "")]


def _note(_bench: Bench, _job: Job, fields: Fields) -> Bodies:
    text = fields.get("text", "").strip()
    if not text:
        raise _fault(_("There is nothing in the note."))
    return [{"kind": "note_made", "text": text[:10_000]}]


def _hand_over(_bench: Bench, _job: Job, fields: Fields) -> Bodies:
    return [{"kind": "handed_over", "to": fields.get("to", "").strip()[:200]}]


def _undo(_bench: Bench, job: Job, fields: Fields) -> Bodies:
    target = fields.get("target", "")
    if not any(line.event.key == target and not line.undone_by for line in job.state.history):
        raise _fault(_("There is nothing to take back."))
    return [{"kind": "undone", "target": target}]


def _fault(message: str) -> InputError:
    return InputError((Fault(message),))


_ACTS: dict[str, Callable[[Bench, Job, Fields], Sequence[dict[str, Any]]]] = {
    "begin": _begin, "edit": _edit, "answer": _answer, "day": _day, "step": _step, "reading": _reading, "note": _note,
    "hand over": _hand_over, "undo": _undo,
}  # fmt: skip

__all__ = ["entries_for"]
