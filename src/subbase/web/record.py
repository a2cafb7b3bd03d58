"""The journal's events as Work, Check and the search for a fault read them, and what is written there in return.

A result belongs to the wiring that it was made for: once the survey changes the wiring, earlier results are shown as history
and count for nothing, for what was proved dead or read then says nothing of the wires now.
"""

from __future__ import annotations

import json
import math
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, get_args

from subbase.errors import Fault, InputError
from subbase.journal import Event, JobState
from subbase.journal.events import ReadingTaken as ReadingEvent
from subbase.journal.events import StepDone, StepReopened, TestAnswered, VerdictGiven
from subbase.web.sheet import Day, Item, SeenItem, Sheet
from subbase.wiring import House, State
from subbase.words import _
from subbase.work.air_and_water import Air, Water
from subbase.work.progress import Result
from subbase.work.steps import LICENCES, Season, Step
from subbase.work.taken import METERS, AirTaken, ReadingTaken, SequenceSeen, StepSeen, Taken, WaterTaken

if TYPE_CHECKING:
    # The search for a fault counts in numpy, which a browser's Python has not got; steps and readings do without.
    from subbase.diagnose.predictions import Predictions
    from subbase.diagnose.probes import Evidence, Probe, Reading

OFF = State(())
DAY = "day of the work"
"""Name of the setting that holds season, outdoor temperature and licences."""
DIAGNOSIS = "diagnosis"
"""What a verdict is about that says that something was repaired."""
TOUCHING = ("move/", "look/landings")
"""Beginnings of the ids of steps after which, done again, landings may be others."""
COLDEST_C, HOTTEST_C = -60.0, 60.0


@dataclass(frozen=True, slots=True)
class Mine:
    """Whether an event belongs to the wiring as it is planned now."""

    sheet: Sheet
    state: JobState

    def counts(self, body: StepDone | StepReopened | ReadingEvent | TestAnswered) -> bool:
        """Return whether it does; what bears no mark goes by the text of the survey."""
        if isinstance(body, StepReopened):
            return body.mark in ("", self.sheet.mark)
        return body.mark == self.sheet.mark if body.mark else body.survey == self.state.survey.sha256

    def events(self) -> Iterator[Event]:
        """Yield every event that was not taken back, in order."""
        yield from (line.event for line in self.state.history if not line.undone_by)

    @property
    def renewed(self) -> int:
        """Return the sequence of the last event after which wires may be otherwise: a repair, or landings to be read back anew.

        What was read before it is to be read again.
        """
        repairs = (
            e.sequence
            for e in self.events()
            if isinstance(e.body, TestAnswered) and repaired_in(e.body) and self.counts(e.body)
        )
        return max((self.begun, *repairs))

    @property
    def begun(self) -> int:
        """Return the sequence of the last event after which a search for a fault begins anew.

        A repair that left something wrong is none: the search goes on with what was read before it.
        """
        record = self.state.verdicts.get(DIAGNOSIS)
        repaired = record.event.sequence if record is not None and record.body.outcome == "good" else 0
        reopened = (
            e.sequence
            for e in self.events()
            if isinstance(e.body, StepReopened) and self.counts(e.body) and e.body.step.startswith(TOUCHING)
        )
        return max((repaired, *reopened))

    def is_seen_in(self, fields: Mapping[str, str]) -> bool:
        """Return whether a form was shown for this wiring; one that does not say is taken as if it was."""
        return fields.get("mark", self.sheet.mark) == self.sheet.mark

    def stamp(self) -> dict[str, str]:
        """Return what marks a new event as belonging to this wiring."""
        return {"survey": self.state.survey.sha256, "mark": self.sheet.mark}


def changed_meanwhile() -> InputError:
    """Return the refusal of a form that was shown for another wiring."""
    message = _("The wiring in the survey was changed since this page was shown. Look at it again before you go on.")
    return InputError((Fault(message),))


def day_of(state: JobState) -> Day:
    """Return the weather and the licences that were told last."""
    record = state.settings.get(("", DAY))
    told = record.body.value if record is not None else None
    if not isinstance(told, dict):
        return Day()
    season, outdoor, licences = told.get("season"), told.get("outdoor_c"), told.get("licences")
    known: Season | None = next((word for word in get_args(Season) if word == season), None)
    is_number = isinstance(outdoor, int | float) and not isinstance(outdoor, bool)
    outdoor_c = float(outdoor) if is_number and COLDEST_C <= float(outdoor) <= HOTTEST_C else None  # type: ignore[arg-type]
    held = frozenset(word for word in LICENCES if isinstance(licences, list) and word in licences)
    return Day(known, outdoor_c, held, asked=True)


def day_body(day: Day) -> dict[str, Any]:
    """Return the event that keeps the weather and the licences."""
    value = {"season": day.season, "outdoor_c": day.outdoor_c, "licences": sorted(day.licences)}
    return {"kind": "setting_made", "name": DAY, "value": value}


# Steps.


def results_of(mine: Mine) -> tuple[Result, ...]:
    """Return the results of work steps, in the order of the journal."""
    return tuple(result for event in mine.events() if (result := _result(mine, event)) is not None)


def left_behind(mine: Mine) -> int:
    """Return how many step results belong to another wiring."""
    bodies = (event.body for event in mine.events())
    told = (body for body in bodies if isinstance(body, StepDone) or (isinstance(body, ReadingEvent) and body.step))
    return sum(not mine.counts(body) for body in told)


def _result(mine: Mine, event: Event) -> Result | None:
    body = event.body
    if isinstance(body, StepDone) and mine.counts(body):
        return Result(body.step, body.did, reason=body.note)
    if isinstance(body, StepReopened) and mine.counts(body):
        return Result(body.step, "undone", reason=body.note)
    if isinstance(body, ReadingEvent) and body.step and mine.counts(body):
        return Result(body.step, "read", math.inf if body.value is None else body.value, body.note)
    return None


def result_body(mine: Mine, step: Step, result: Result) -> dict[str, Any]:
    """Return the event that keeps the result of a step."""
    common = {"step": step.id, "note": result.reason, **mine.stamp()}
    if result.did == "undone":
        del common["survey"]
        return {"kind": "step_reopened", **common}
    if result.did == "read" and step.expected is not None:
        item = step_item(mine.sheet, step)
        between = step.expected.between or (step.site[:200] or "house", step.title[:200])
        read = _reading_body(between, step.expected.unit, result.value, (step.expected.low, step.expected.high))
        return {**read, **(_item_fields(item) if item is not None else {}), **common}
    return {"kind": "step_done", "did": result.did, **common}


def step_item(sheet: Sheet, step: Step) -> Item | None:
    """Return the line of the sheet of checks that a reading step answers, if any."""
    if step.check is not None:
        return sheet.item_of(step.check)
    if step.expected is None or step.expected.between is None or not step.id.startswith("load/"):
        return None
    several = len(sheet.left.controls) > 1
    for item in sheet.items:
        state = item.check.state
        if item.group == "dead" or state is None or set(item.check.between) != set(step.expected.between):
            continue
        if step.id.startswith(f"load/{state.name(name_controls=several)} "):
            return item
    return None


# Readings.


def reading_body(mine: Mine, item: Item, value: float, meter: str = "") -> dict[str, Any]:
    """Return the event that keeps a reading of the sheet of checks."""
    check = item.check
    read = _reading_body(check.between, check.unit, value, (check.low, check.high))
    return {**read, **_item_fields(item), **mine.stamp(), "meter": "" if meter == "digital" else meter}


def _reading_body(
    between: tuple[str, str], unit: str, value: float | None, bounds: tuple[float, float]
) -> dict[str, Any]:
    ends = {name: None if math.isinf(end) else round(end, 3) for name, end in zip(("low", "high"), bounds, strict=True)}
    shown = None if value is None or math.isinf(value) else value
    return {"kind": "reading_taken", "between": list(between), "unit": unit, "value": shown, **ends}


def _item_fields(item: Item) -> dict[str, Any]:
    control, call = call_of(item.check.state)
    found: dict[str, Any] = {"check": item.id, "call": call, "control": control}
    return found | ({"clip": list(item.check.clip)} if item.check.clip else {})


def call_of(state: State | None) -> tuple[str, str]:
    """Return (control, call) of a state with one call; empty where nothing is called."""
    if state is None or not state.calls:
        return "", "off" if state is not None else ""
    control, calls = state.calls[0]
    return control, next(iter(calls))


def seen_body(mine: Mine, item: SeenItem, value: float | None) -> dict[str, Any]:
    """Return the event that keeps what was seen: seconds, null for never; temperatures in °C."""
    control, call = call_of(item.sequence.state)
    return {
        "kind": "reading_taken",
        "between": [item.place, item.label[:200]],
        "unit": "s" if item.kind in ("step", "minutes") else "degC",
        "value": value,
        "check": item.id,
        "call": call,
        "control": control,
        **mine.stamp(),
    }


def taken_of(mine: Mine) -> Taken:
    """Return the readings of the sheet that count, and what was seen in the calls."""
    renewed = mine.renewed
    later = (event for event in mine.events() if event.sequence > renewed)
    readings = tuple(reading for event in later if (reading := _reading_of(mine, event)) is not None)
    seen = seen_of(mine)
    sequences: list[SequenceSeen] = []
    air: list[AirTaken] = []
    water: list[WaterTaken] = []
    for sequence in mine.sheet.sequences:
        own = [(item, seen[item.id]) for item in mine.sheet.seen if item.sequence is sequence and item.id in seen]
        steps = tuple(StepSeen(item.label, value, True, line) for item, (value, line) in own if item.kind == "step")
        if steps:
            sequences.append(SequenceSeen(sequence.state, steps, steps[0].line))
        told = {item.kind: value for item, (value, _line) in own if item.kind != "step"}
        line = max((line for item, (_value, line) in own if item.kind != "step"), default=0)
        minutes = told.get("minutes")
        run = None if minutes is None else minutes / 60.0
        if told and any(item.medium == "air" for item, _value in own):
            air.append(AirTaken(sequence.state, Air(told.get("return"), told.get("supply"), minutes=run), line))
        elif told:
            water.append(WaterTaken(sequence.state, Water(told.get("return"), told.get("supply"), run), line))
    return Taken(readings, tuple(air), tuple(water), tuple(sequences))


def seen_of(mine: Mine) -> dict[str, tuple[float | None, int]]:
    """Return id of what is to be seen -> (its last value, null for never; sequence of the event)."""
    found: dict[str, tuple[float | None, int]] = {}
    renewed = mine.renewed
    for event in mine.events():
        body = event.body
        if not isinstance(body, ReadingEvent) or body.check not in mine.sheet.seen_by_id:
            continue
        if event.sequence > renewed and mine.counts(body):
            found[body.check] = (body.value, event.sequence)
    return found


def taken_before(mine: Mine) -> int:
    """Return how many readings of the sheet were taken before wires were touched again."""
    renewed = mine.renewed
    events = (e for e in mine.events() if e.sequence <= renewed)
    return sum(isinstance(e.body, ReadingEvent) and e.body.check in mine.sheet.by_id for e in events)


def _reading_of(mine: Mine, event: Event) -> ReadingTaken | None:
    """Return what an event tells of a line of the sheet; None when it tells nothing of this wiring's."""
    body = event.body
    if not isinstance(body, ReadingEvent) or not mine.counts(body):
        return None
    item = mine.sheet.by_id.get(body.check)
    if item is None:
        return None
    check = item.check
    value = math.inf if body.value is None else body.value
    return ReadingTaken(
        check.between,
        check.state if check.state is not None else OFF,
        check.unit,
        value,
        shown(value, check.unit),
        event.sequence,
        check.clip,
        power="on" if check.unit == "V" else "off",
        setting="ac" if check.unit == "V" else "ohms",
        meter=body.meter if body.meter in METERS else None,
        who=event.actor,
        note=body.note,
    )


def shown(value: float, unit: str) -> str:
    """Return a reading as it stood on the display."""
    return "OL" if math.isinf(value) else f"{value:.4g} {unit}"


# The search for a fault.


def evidence_of(mine: Mine, predictions: Predictions) -> Evidence:
    """Return the checks' readings and the tests' answers as evidence, in their order, with the repairs between them."""
    from subbase.diagnose.probes import Evidence

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


def repaired_in(body: Any) -> tuple[str, ...]:
    """Return the causes that an event says were put right, while something is still wrong; none of any other event."""
    told = body.entry.get("repaired") if isinstance(body, TestAnswered) else None
    return tuple(name for name in told if isinstance(name, str)) if isinstance(told, list) else ()


def repair_entry(causes: Iterable[str]) -> dict[str, Any]:
    """Return the entry of evidence that says that causes were put right, and something is still wrong."""
    return {"repaired": list(dict.fromkeys(causes))}


def _carried(mine: Mine, event: Event, house: House) -> tuple[Reading, ...]:
    """Return a reading of the sheet of checks as evidence; nothing of what a clipped conductor or an open circuit shows."""
    from subbase.diagnose.probes import Probe, Reading

    r = _reading_of(mine, event)
    if r is None or r.clip is not None or not set(r.between) <= house.netlist.index.keys():
        return ()
    if r.unit == "V" and math.isinf(r.value or 0.0):
        return ()
    return (Reading(Probe(_kind(r.unit), r.state if r.unit == "V" else OFF, r.between), r.value),)


def _kind(unit: str) -> Any:
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
    from subbase.diagnose.evidence_file import read_evidence

    text = json.dumps({"evidence": "1", "readings": [entry]}, ensure_ascii=False)
    return read_evidence(text.encode(), "answer", house).evidence.readings[0]


def answer_entry(probe: Probe) -> dict[str, Any]:
    """Return a test as an entry that waits for its value, 'unknown' until then."""
    from subbase.diagnose.evidence_file import evidence_text
    from subbase.diagnose.probes import Evidence, Reading

    line = evidence_text(Evidence((Reading(probe, None),))).splitlines()[-1]
    entry: dict[str, Any] = json.loads(line.removeprefix("  - "))
    return entry


def answer_body(mine: Mine, entry: dict[str, Any], words: str) -> dict[str, Any]:
    """Return the event that keeps the answer to a test."""
    return {"kind": "test_answered", "entry": entry, "words": words[:200], **mine.stamp()}


def repaired_body(words: str) -> dict[str, Any]:
    """Return the event that says that something was repaired."""
    return VerdictGiven(about=DIAGNOSIS, outcome="good", text=words).model_dump(mode="json")


def further_key(key: str, name: str) -> str:
    """Return a key for one of several events of one form, the same when the form is sent again.

    Raises
    ------
    ValueError
        When the form's key is no UUID.
    """
    return str(uuid.uuid5(uuid.UUID(key), name))


__all__ = [
    "DIAGNOSIS",
    "Mine",
    "answer_body",
    "answer_entry",
    "call_of",
    "changed_meanwhile",
    "day_body",
    "day_of",
    "evidence_of",
    "further_key",
    "left_behind",
    "read_answer",
    "reading_body",
    "repair_entry",
    "repaired_body",
    "repaired_in",
    "result_body",
    "results_of",
    "seen_body",
    "seen_of",
    "shown",
    "step_item",
    "taken_before",
    "taken_of",
]  # fmt: skip
