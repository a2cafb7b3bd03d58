"""The search for a fault as the journal's events keep it: answers to tests, repairs, and all of it as evidence."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Literal

from subbase.diagnose.evidence_file import evidence_text, read_evidence
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import Evidence, Probe, Reading
from subbase.errors import InputError
from subbase.journal import Event
from subbase.journal.bodies import ReadingTaken as ReadingEvent
from subbase.journal.bodies import TestAnswered, VerdictGiven
from subbase.web.record import DIAGNOSIS, Mine, repaired_in
from subbase.web.record_check import reading_of
from subbase.wiring import OFF, House


def evidence_of(mine: Mine, predictions: Predictions) -> Evidence:
    """Return the checks' readings and the tests' answers as evidence, in their order, with the repairs between them."""
    house, causes = predictions.house, {item.id for item in predictions.hypotheses}
    found = Evidence()
    latest: dict[Probe, Reading] = {}  # since the last repair
    begun = mine.begun
    for event in mine.events():
        body = event.body
        if event.sequence <= begun or not isinstance(body, ReadingEvent | TestAnswered) or not mine.counts(body):
            continue
        put_right = [cause for cause in repaired_in(body) if cause in causes]
        if put_right:
            found = replace(found, readings=(*found.readings, *latest.values())).and_repaired(put_right)
            latest = {}
            continue
        told = _answers(body.entry, house) if isinstance(body, TestAnswered) else _carried(mine, event, house)
        for reading in told:
            latest.pop(reading.probe, None)
            latest[reading.probe] = reading
    return replace(found, readings=(*found.readings, *latest.values()))


def repair_entry(causes: Iterable[str]) -> dict[str, Any]:
    """Return the entry of evidence that says that causes were put right, and something is still wrong."""
    return {"repaired": list(dict.fromkeys(causes))}


def _carried(mine: Mine, event: Event, house: House) -> tuple[Reading, ...]:
    """Return a reading of the sheet of checks as evidence; nothing of what a clipped conductor or an open circuit shows."""
    r = reading_of(mine, event)
    if r is None or r.clip is not None or not set(r.between) <= house.netlist.index.keys():
        return ()
    if r.unit == "V" and math.isinf(r.value or 0.0):
        return ()
    return (Reading(Probe(_kind(r.unit), r.state if r.unit == "V" else OFF, r.between), r.value),)


def _kind(unit: str) -> Literal["volts", "ohms"]:
    return "volts" if unit == "V" else "ohms"


def _answers(entry: dict[str, Any], house: House) -> tuple[Reading, ...]:
    try:
        return (read_answer(entry, house),)
    except InputError:
        return ()  # of a house that had what this one has not


def read_answer(entry: dict[str, Any], house: House) -> Reading:
    """Return one entry of a file of evidence as a reading.

    Raises
    ------
    InputError
        When it does not fit the house.
    """
    text = json.dumps({"evidence": "1", "readings": [entry]}, ensure_ascii=False)
    return read_evidence(text.encode(), "answer", house).evidence.readings[0]


def answer_entry(probe: Probe) -> dict[str, Any]:
    """Return a test as an entry that waits for its value, 'unknown' until then."""
    line = evidence_text(Evidence((Reading(probe, None),))).splitlines()[-1]
    entry: dict[str, Any] = json.loads(line.removeprefix("  - "))
    return entry


def answer_body(mine: Mine, entry: dict[str, Any], words: str) -> dict[str, Any]:
    """Return the event that keeps the answer to a test."""
    return {"kind": "test_answered", "entry": entry, "words": words[:200], **mine.stamp()}


def repaired_body(words: str) -> dict[str, Any]:
    """Return the event that says that something was repaired."""
    return VerdictGiven(about=DIAGNOSIS, outcome="good", text=words).model_dump(mode="json")


__all__ = [
    "answer_body",
    "answer_entry",
    "evidence_of",
    "read_answer",
    "repair_entry",
    "repaired_body",
]  # fmt: skip
