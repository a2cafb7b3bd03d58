"""The search for a fault: what the checks read is carried over; then the next best test, the likeliest causes, the repair."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response

from subbase.diagnose.advice import Advice
from subbase.diagnose.costs import Offer, Situation, offers, probe_words
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import ANSWERS, Evidence
from subbase.diagnose.repair import repair_for
from subbase.diagnose.weigh import Belief
from subbase.errors import Fault, InputError
from subbase.web.asking import JobHere, OfficeHere, go, keep
from subbase.web.display import read_number
from subbase.web.forms import FormFields, form_key
from subbase.web.jobs import JobView, Office
from subbase.web.looks import page
from subbase.web.record import Mine
from subbase.web.record_search import answer_body, answer_entry, evidence_of, read_answer, repair_entry, repaired_body
from subbase.web.record_work import day_of
from subbase.web.sheet import Day
from subbase.web.slow import PATIENCE_S
from subbase.web.workbench import advice_of, mine_of, predictions_of
from subbase.words import _, mark

router = APIRouter()
SHOWN = 6
LEAST_SHOWN = 0.01
UNIT_WORDS = {"volts": "V", "ohms": "ohm", "amps": "A"}
ANSWER_WORDS = {
    "on": mark("on"), "dark": mark("dark"), "yes": mark("yes"), "no": mark("no"), "warm": mark("warm"), "cold": mark("cold"),
    "unchanged": mark("unchanged"), "still": mark("no air moves"), "steady": mark("steady"), "blinking": mark("blinking"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Search:
    """A search for a fault as far as it has come."""

    mine: Mine
    predictions: Predictions
    evidence: Evidence
    belief: Belief
    advice: Advice


def search_of(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> Search | None:
    """Return how the search stands; None when there is no plan.

    Raises
    ------
    NotYet
    """
    mine = mine_of(office, view, patience_s=patience_s)
    if mine is None:
        return None
    predictions = predictions_of(office, view, mine.sheet, patience_s=patience_s)
    evidence = evidence_of(mine, predictions)
    situation = _situation(predictions, evidence, day_of(view.state))
    belief, advice = advice_of(office, view, predictions, (evidence, situation), patience_s=patience_s)
    return Search(mine, predictions, evidence, belief, advice)


def _situation(predictions: Predictions, evidence: Evidence, day: Day) -> Situation:
    """Return where the person stands after the last test."""
    licences = frozenset({"line voltage"}) if "electrician" in day.licences else frozenset()
    situation = Situation(outdoor_c=day.outdoor_c, licences=licences)
    last = evidence.readings[-1].probe if evidence.readings else None
    offer = next((offer for offer in offers(predictions) if offer.probe == last), None)
    return situation if offer is None else situation.after(offer)


@router.get("/jobs/{job}/check/fault")
def fault_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the next best test, or what to repair, and the likeliest causes."""
    found = search_of(office, view)
    if found is None:
        return page(request, "work_none.html", job=view, plan=office.plan(view), stage=_("The search for the fault"))
    return page(request, "fault.html", job=view, said=(), given={}, **_context(found))


@router.post("/jobs/{job}/check/fault/answer")
def answer_test(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep the answer to a test, 'don't know' too."""
    key = form_key(fields)
    found = search_of(office, view, patience_s=None)
    if found is None:
        return go(f"/jobs/{view.id}/check")
    try:
        found.mine.refuse_changed(fields)
        entry = _answered(fields)
        reading = read_answer(entry, found.predictions.house)
    except InputError as error:
        said = tuple(fault.message for fault in error.faults)
        return page(request, "fault.html", status=422, job=view, said=said, given=fields, **_context(found))
    words = probe_words(found.predictions.house, reading.probe)
    keep(request, office, view, {key: answer_body(found.mine, entry, words)})
    return go(f"/jobs/{view.id}/check/fault")


@router.post("/jobs/{job}/check/fault/repaired")
def tell_repaired(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep that something was repaired; every check is then to be made again.

    When something is still wrong after it, the search goes on with all that was read before.
    """
    words = fields.get("what", "").strip() or _("Something was repaired.")
    if fields.get("still") == "wrong":
        found = search_of(office, view, patience_s=None)
        if found is None:
            return go(f"/jobs/{view.id}/check")
        found.mine.refuse_changed(fields)
        known = {item.id for item in found.predictions.hypotheses}
        causes = [name for name in fields.get("causes", "").splitlines() if name in known]
        if causes:
            body = answer_body(found.mine, repair_entry(causes), words)
            keep(request, office, view, {form_key(fields): body})
        return go(f"/jobs/{view.id}/check/fault")
    keep(request, office, view, {form_key(fields): repaired_body(words)})
    return go(f"/jobs/{view.id}/check")


def _put_right(found: Search) -> tuple[str, ...]:
    """Return the ids of all that the advised repair puts right: the causes of the entry, tied ones too."""
    members = found.advice.cause.members if found.advice.cause is not None else ()
    return tuple(item.id for group in members for item in group if item.kind != "nothing wrong")


def _answered(fields: dict[str, str]) -> dict[str, Any]:
    """Return the entry of evidence that a form gives: the test as it was asked, with its value."""
    try:
        entry = json.loads(fields.get("test", ""))
    except (ValueError, RecursionError):
        entry = None
    kind = fields.get("kind", "")
    if not isinstance(entry, dict) or kind not in entry:
        raise InputError((Fault(_("The form does not say which test it answers; load the page again.")),))
    text = fields.get("answer") or fields.get("value", "")
    if not text.strip():
        raise InputError((Fault(_("Enter what the meter shows, or press 'Don't know'.")),))
    if kind in UNIT_WORDS and text not in ("unknown", "OL"):
        value = read_number(text, open_allowed=kind == "ohms")
        return entry | {kind: "OL" if value == float("inf") else value}
    return entry | {kind: text}


def _context(found: Search) -> dict[str, Any]:
    belief, advice = found.belief, found.advice
    causes = [c for c in belief.ranking[:SHOWN] if c.probability >= LEAST_SHOWN] or list(belief.ranking[:1])
    cause = advice.cause
    return {
        "mark": found.mine.sheet.mark,
        "advice": advice,
        "belief": belief,
        "causes": causes,
        "known": _known(found),
        "put_right": _put_right(found),
        "test": _test(advice.offer) if advice.offer is not None else None,
        "repairs": [repair_for(group[0], found.predictions) for group in cause.members] if cause is not None else [],
        "likely": likely_words,
        "answer_words": ANSWER_WORDS,
    }


def _known(found: Search) -> list[tuple[str, str, bool]]:
    """Return (test, answer, whether it was read before the last repair) of everything read, and what was repaired between."""
    evidence, predictions = found.evidence, found.predictions
    words = {item.id: item.words for item in predictions.hypotheses}
    last = evidence.repaired[-1].after if evidence.repaired else 0
    lines: list[tuple[str, str, bool]] = []
    for number in range(len(evidence.readings) + 1):
        put_right = (words[item.causes[0]] for item in evidence.repaired if item.after == number)
        lines.extend((_("Repaired, and something was still wrong"), cause, False) for cause in put_right)
        if number < len(evidence.readings):
            r = evidence.readings[number]
            lines.append((probe_words(predictions.house, r.probe), value_words(r.value, r.probe.kind), number < last))
    return lines


def _test(offer: Offer) -> dict[str, Any]:
    probe = offer.probe
    kind = (probe.sight or "") if probe.kind == "seen" else probe.kind
    return {
        "entry": json.dumps(answer_entry(probe), ensure_ascii=False),
        "kind": kind,
        "unit": UNIT_WORDS.get(probe.kind, ""),
        "answers": ANSWERS[probe.sight] if probe.kind == "seen" and probe.sight else (),
    }


def value_words(value: float | str | None, kind: str) -> str:
    """Return what was answered."""
    if value is None:
        return _("not known")
    if isinstance(value, str):
        return _(ANSWER_WORDS.get(value, value))
    return "OL" if value == float("inf") else f"{value:.4g} {UNIT_WORDS.get(kind, '')}".strip()


def likely_words(p: float) -> str:
    """Return a probability in words, so that a bar is never alone."""
    for least, words in (
        (0.9, mark("almost sure")), (0.6, mark("likely")), (0.3, mark("quite possible")), (0.1, mark("possible")),
    ):  # fmt: skip
        if p >= least:
            return _(words)
    return _("unlikely")


__all__ = ["Search", "router", "search_of"]
