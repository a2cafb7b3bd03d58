"""Evidence in a YAML or JSON file: every fault at once, with its line; and evidence written as such a file.

One reading is one entry of ``readings``. Its value stands under what was read (``volts``, ``ohms``, ``amps``) or seen
(``display``, ``acts``, ``runs``, ``air``, ``lamp``), or under a temperature difference (``rise_f``, ``split_f``, ``rise_k``,
``split_k``); beside it stand where, and in which call. 'unknown' is a value too: asked, and not known.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Any, get_args

from subbase.circuit import Impedance
from subbase.circuit.meters import DIGITAL, LOW_IMPEDANCE, MIDDLE, Meter
from subbase.diagnose.hypotheses import cause_ids
from subbase.diagnose.odds import Odds, load_odds
from subbase.diagnose.probes import ANSWERS, Evidence, Probe, ProbeKind, Reading, Repaired, SightKind
from subbase.diagnose.sights import air_calls, has_display, lamp_of
from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.survey.faults import nearest
from subbase.survey.yaml_tree import MOST_BYTES, Path, Tree, plain_words, read_tree
from subbase.wiring import OFF, House, State, system_calls
from subbase.words import _

METERS: dict[str, Meter] = {"digital": DIGITAL, "low impedance": LOW_IMPEDANCE, "400 kohm": MIDDLE}
VALUES = ("volts", "ohms", "amps", *get_args(SightKind), "rise_f", "split_f", "rise_k", "split_k")
BESIDE = ("between", "through", "call", "control", "load", "equipment", "meter", "error_share", "error", "doubt")
TOP = ("evidence", "history", "readings", "outdoors_f", "outdoors_c", "stands_at")
UNKNOWN = "unknown"
KELVIN_PER_F = 5.0 / 9.0
CLEAR_K, SLIGHT_K = 5.5, 2.5
"""An air temperature difference from which air is warm or cold, and below which it is unchanged (judgement); between the
two the reading is believed half."""
MOST_VALUE = 1e6


@dataclass(frozen=True, slots=True)
class EvidenceFile:
    """What one file says."""

    evidence: Evidence
    outdoor_c: float | None = None
    stands_at: str = ""


class _Refused(Exception):
    """A part of an entry that cannot be read; carries the fault."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


def load_evidence(path: FilePath | str, house: House, *, odds: Odds | None = None) -> EvidenceFile:
    """Return the evidence in a file.

    Raises
    ------
    InputError
        With every fault found: file, line, column, field, what was expected.
    """
    path = FilePath(path)
    return read_evidence(read_at_most(path, MOST_BYTES), str(path), house, odds=odds)


def read_evidence(raw: bytes, file: str, house: House, *, odds: Odds | None = None) -> EvidenceFile:
    """Return the evidence in YAML or JSON text; ``file`` is the name that faults bear.

    Raises
    ------
    InputError
        As ``load_evidence``.
    """
    tree = read_tree(raw, file)
    faults = list(tree.faults)
    data = tree.data
    if not isinstance(data, dict):
        raise InputError((tree.fault((), _("Expected named fields: evidence, history, readings.")),))
    reader = _Reader(tree, house, load_odds() if odds is None else odds)
    faults += [
        tree.fault(
            (key,),
            _("'{field}' is not a field here; {nearest}").format(
                field=plain_words(key), nearest=nearest(key, list(TOP))
            ),
        )
        for key in data
        if key not in TOP
    ]
    if data.get("evidence") != "1":
        faults.append(tree.fault(("evidence",), _("Expected 'evidence: 1', the version of this format.")))
    history = tuple(reader.tried(faults, lambda: list(reader.history(data.get("history", [])))) or ())
    outdoor_c = reader.tried(faults, lambda: reader.outdoors(data))
    entries = data.get("readings", [])
    if not isinstance(entries, list):
        faults.append(tree.fault(("readings",), _("Expected a list of readings.")))
        entries = []
    readings: list[Reading] = []
    repaired: list[Repaired] = []
    for i, entry in enumerate(entries):
        found = reader.tried(faults, lambda i=i, e=entry: reader.entry(("readings", i), e))
        if isinstance(found, Reading):
            readings.append(found)
        elif found:
            repaired.append(Repaired(found, len(readings)))
    stands = data.get("stands_at", "")
    if stands and (not isinstance(stands, str) or stands not in house.survey.places()):
        message = _("There is no place '{place}'; {nearest}").format(
            place=plain_words(str(stands)), nearest=nearest(str(stands), list(house.survey.places()))
        )
        faults.append(tree.fault(("stands_at",), message))
    if faults:
        raise InputError(tuple(sorted(faults, key=lambda fault: (fault.line, fault.column))))
    return EvidenceFile(Evidence(tuple(readings), history, tuple(repaired)), outdoor_c, str(stands))


@dataclass(frozen=True, slots=True)
class _Reader:
    tree: Tree
    house: House
    odds: Odds

    def tried(self, faults: list[Fault], work: Any) -> Any:
        """Return what work gives, or None with its fault added."""
        try:
            return work()
        except _Refused as refused:
            faults.append(refused.fault)
            return None

    def refuse(self, path: Path, message: str) -> _Refused:
        return _Refused(self.tree.fault(path, message))

    def history(self, words: Any) -> Iterator[str]:
        if not isinstance(words, list):
            raise self.refuse(("history",), _("Expected a list of words, as [new work]."))
        for i, word in enumerate(words):
            if not isinstance(word, str) or word not in self.odds.history:
                message = _("'{word}' is no history known here; {nearest}").format(
                    word=plain_words(str(word)), nearest=nearest(str(word), list(self.odds.history))
                )
                raise self.refuse(("history", i), message)
            yield word

    def outdoors(self, data: dict[str, Any]) -> float | None:
        if "outdoors_c" in data:
            return self.number(("outdoors_c",), data["outdoors_c"], least=-60.0)
        if "outdoors_f" in data:
            return (self.number(("outdoors_f",), data["outdoors_f"], least=-76.0) - 32.0) * KELVIN_PER_F
        return None

    def number(self, path: Path, text: Any, *, least: float = 0.0, most: float = MOST_VALUE) -> float:
        try:
            value = float(text)
        except (TypeError, ValueError):
            value = math.nan
        if not least <= value <= most:
            shown = plain_words(str(text)) if isinstance(text, str) else _("A list or a set of fields")
            said = _("'{shown}' is not a number from {least:g} to {most:g}.")
            raise self.refuse(path, said.format(shown=shown, least=least, most=most))
        return value

    def entry(self, path: Path, entry: Any) -> Reading | tuple[str, ...]:
        """Return a reading, or the causes that were put right before the readings that follow."""
        if isinstance(entry, dict) and list(entry) == ["repaired"]:
            return tuple(self.causes((*path, "repaired"), entry["repaired"]))
        return self.reading(path, entry)

    def causes(self, path: Path, names: Any) -> Iterator[str]:
        if not isinstance(names, list) or not names:
            raise self.refuse(path, _("Expected a list of causes, as ['conductor open: wall/red']."))
        known = cause_ids(self.house)
        for i, name in enumerate(names):
            if not isinstance(name, str) or name not in known:
                said = _("'{cause}' is no cause in this house; {nearest}")
                raise self.refuse(
                    (*path, i), said.format(cause=plain_words(str(name)), nearest=nearest(str(name), list(known)))
                )
            yield str(name)

    def reading(self, path: Path, entry: Any) -> Reading:
        if not isinstance(entry, dict):
            raise self.refuse(path, _("Expected named fields, as {volts: 26.4, between: [hall.R, hall.C]}."))
        for key in entry:
            if key not in VALUES and key not in BESIDE:
                message = _("'{field}' is not a field here; {nearest}").format(
                    field=plain_words(key), nearest=nearest(key, [*VALUES, *BESIDE])
                )
                raise self.refuse((*path, key), message)
        named = [key for key in VALUES if key in entry]
        if len(named) != 1:
            raise self.refuse(
                path, _("One entry holds one reading: exactly one of {fields}.").format(fields=", ".join(VALUES))
            )
        kind, value = named[0], entry[named[0]]
        if kind.endswith(("_f", "_k")):
            return self._temperature(path, kind, entry)
        probe = self._probe(path, kind, entry)
        return self._with_error(path, entry, Reading(probe, self._value((*path, kind), kind, value)))

    def _value(self, path: Path, kind: str, value: Any) -> float | str | None:
        if value == UNKNOWN:
            return None
        if kind in ANSWERS:
            answers = ANSWERS[kind]
            if not isinstance(value, str) or value not in answers:
                raise self.refuse(
                    path,
                    _("'{value}' is no answer to '{kind}'; {nearest}").format(
                        value=plain_words(str(value)), kind=kind, nearest=nearest(str(value), list(answers))
                    ),
                )
            return str(value)
        if kind == "ohms" and isinstance(value, str) and value.upper() == "OL":
            return math.inf
        return self.number(path, value, most=1000.0 if kind != "ohms" else 1e9)

    def _with_error(self, path: Path, entry: dict[str, Any], reading: Reading) -> Reading:
        said = {
            key: self.number((*path, key), entry[key], most=most)
            for key, most in (("error_share", 1.0), ("error", 100.0), ("doubt", 0.9))
            if key in entry
        }
        return replace(
            reading,
            error_share=said.get("error_share", reading.error_share),
            error_offset=said.get("error", reading.error_offset),
            doubt=said.get("doubt", reading.doubt),
        )

    def _probe(self, path: Path, kind: str, entry: dict[str, Any]) -> Probe:
        if kind in ("volts", "ohms"):
            state = OFF if kind == "ohms" else self._state(path, entry)
            word: ProbeKind = "ohms" if kind == "ohms" else "volts"
            return Probe(word, state, self._pair(path, entry), meter=self._meter(path, entry))
        if kind == "amps":
            return Probe("amps", self._state(path, entry), through=self._conductor(path, entry))
        sight: SightKind = kind  # type: ignore[assignment]
        return Probe("seen", self._state(path, entry), sight=sight, about=self._about(path, sight, entry))

    def _meter(self, path: Path, entry: dict[str, Any]) -> Meter:
        words = entry.get("meter", "digital")
        if not isinstance(words, str) or words not in METERS:
            message = _("'{words}' is no meter known here; {nearest}").format(
                words=plain_words(str(words)), nearest=nearest(str(words), list(METERS))
            )
            raise self.refuse((*path, "meter"), message)
        return METERS[words]

    def _pair(self, path: Path, entry: dict[str, Any]) -> tuple[str, str]:
        pair = entry.get("between")
        if not isinstance(pair, list) or len(pair) != 2:
            raise self.refuse(
                (*path, "between") if pair else path, _("Expected 'between' with two points, as [hall.R, hall.C].")
            )
        points = list(self.house.netlist.nodes())
        for i, point in enumerate(pair):
            self._among((*path, "between", i), point, points, _("'{word}' is no point of this circuit; {nearest}"))
        if pair[0] == pair[1]:
            raise self.refuse((*path, "between"), _("A reading is between two different points."))
        return pair[0], pair[1]

    def _conductor(self, path: Path, entry: dict[str, Any]) -> str:
        tags = [branch.tag for branch in self.house.netlist.of(Impedance)]
        unknown = _("'{word}' is no conductor of this circuit; {nearest}")
        return self._among((*path, "through"), entry.get("through"), tags, unknown, _("Say which conductor; {nearest}"))

    def _control(self, path: Path, entry: dict[str, Any]) -> str:
        controls = list(self.house.survey.controls)
        name = entry.get("control", controls[0] if len(controls) == 1 else None)
        unknown = _("There is no control '{word}'; {nearest}")
        return self._among((*path, "control"), name, controls, unknown, _("Say which control; {nearest}"))

    def _among(self, path: Path, word: Any, known: Sequence[str], unknown: str, missing: str = "") -> str:
        """Return a word that is known; refuse any other, or that it is not said where ``missing`` asks for it."""
        if word in known:
            return str(word)
        asked = missing if missing and not word else ""
        message = (asked or unknown).format(word=plain_words(str(word)), nearest=nearest(str(word or ""), list(known)))
        raise self.refuse(path[:-1] if asked else path, message)

    def _state(self, path: Path, entry: dict[str, Any]) -> State:
        call = entry.get("call", "off")
        if call == "off":
            return OFF
        control = self._control(path, entry)
        calls = system_calls(self.house.survey, self.house.catalog, control)
        match = next((item for item in calls if item == call), None)
        if match is None:
            message = _("'{call}' is no call of {control}; {nearest}").format(
                call=plain_words(str(call)), control=control, nearest=nearest(str(call), ["off", *calls])
            )
            raise self.refuse((*path, "call"), message)
        return State(((control, frozenset({match})),))

    def _about(self, path: Path, sight: SightKind, entry: dict[str, Any]) -> str:
        if sight in ("acts", "runs"):
            unknown = _("'{word}' is no load here; {nearest}")
            asked = _("Say which load; {nearest}")
            return self._among((*path, "load"), entry.get("load"), list(self.house.loads), unknown, asked)
        if sight == "lamp":
            boards = [place for place in self.house.survey.equipment if lamp_of(self.house, place)]
            unknown, asked = _("'{word}' has no board with a lamp; {nearest}"), _("Say which equipment; {nearest}")
            return self._among((*path, "equipment"), entry.get("equipment"), boards, unknown, asked)
        control = self._control(path, entry)
        if sight == "display" and not has_display(self.house, control):
            raise self.refuse(path, _("{control} is a mechanical control: it has no display.").format(control=control))
        if sight == "air" and not air_calls(self.house, control)[1]:
            raise self.refuse(path, _("Nothing warms or cools air for {control}.").format(control=control))
        return control

    def _temperature(self, path: Path, kind: str, entry: dict[str, Any]) -> Reading:
        """Return a temperature rise or split as air that is warm, cold, or unchanged."""
        if entry[kind] == UNKNOWN:
            probe = Probe("seen", self._state(path, entry), sight="air", about=self._control(path, entry))
            return Reading(probe, None)
        value = self.number((*path, kind), entry[kind], least=-200.0, most=200.0)
        kelvin = value * (KELVIN_PER_F if kind.endswith("_f") else 1.0) * (1.0 if kind.startswith("rise") else -1.0)
        probe = Probe("seen", self._state(path, entry), sight="air", about=self._about(path, "air", entry))
        clear = abs(kelvin) >= CLEAR_K or abs(kelvin) < SLIGHT_K
        answer = "unchanged" if abs(kelvin) < SLIGHT_K else "warm" if kelvin > 0.0 else "cold"
        return self._with_error(path, entry, Reading(probe, answer, doubt=0.05 if clear else 0.5))


def evidence_text(evidence: Evidence) -> str:
    """Return evidence as a file that ``load_evidence`` reads."""
    lines = ["evidence: 1"]
    if evidence.history:
        lines.append(f"history: {json.dumps(list(evidence.history))}")
    lines.append("readings:" if evidence.readings or evidence.repaired else "readings: []")
    for i in range(len(evidence.readings) + 1):
        done = [{"repaired": list(item.causes)} for item in evidence.repaired if item.after == i]
        read = [_entry(reading) for reading in evidence.readings[i : i + 1]]
        lines += ["  - " + json.dumps(entry, ensure_ascii=False) for entry in (*done, *read)]
    return "\n".join(lines) + "\n"


def _entry(reading: Reading) -> dict[str, Any]:
    probe = reading.probe
    key = probe.sight if probe.kind == "seen" and probe.sight else probe.kind
    value: Any = UNKNOWN if reading.value is None else reading.value
    found: dict[str, Any] = {key: "OL" if value == math.inf else value}
    if probe.kind in ("volts", "ohms"):
        found["between"] = list(probe.between)
    if probe.kind == "amps":
        found["through"] = probe.through
    if probe.sight in ("acts", "runs"):
        found["load"] = probe.about
    elif probe.sight == "lamp":
        found["equipment"] = probe.about
    elif probe.sight is not None:
        found["control"] = probe.about
    for control, calls in probe.state.calls:
        found |= {"call": next(iter(calls)), "control": control}
    meter = next((words for words, meter in METERS.items() if meter == probe.meter), "digital")
    usual = Reading(probe, reading.value)
    found |= {"meter": meter} if meter != "digital" else {}
    for name, field in (("error_share", "error_share"), ("error", "error_offset"), ("doubt", "doubt")):
        if getattr(reading, field) != getattr(usual, field):
            found[name] = getattr(reading, field)
    return found


__all__ = ["METERS", "EvidenceFile", "evidence_text", "load_evidence", "read_evidence"]
