"""A sheet of readings read whole: every fault at once with line and column, or what was taken.

A number may bear its own unit; one without is in the unit given beside it, temperatures in the survey's. An empty value
was not taken; ``don't know`` says so. Terminals are written ``place.terminal``, as in the survey.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from subbase.catalog import CALLS, Catalog
from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.survey import Survey, split_terminal
from subbase.survey.faults import nearest
from subbase.survey.yaml_tree import MOST_BYTES, Path, plain_words, read_tree
from subbase.wiring import OFF, State
from subbase.wiring.states import system_calls
from subbase.words import _
from subbase.work.air_and_water import Air, Water
from subbase.work.call_sequences import CallSequence
from subbase.work.slips import terminals_at
from subbase.work.taken import METERS, AirTaken, Pair, ReadingTaken, SequenceSeen, StepSeen, Taken, WaterTaken
from subbase.work.taken_fields import FieldReader
from subbase.work.taken_values import (
    ELECTRIC,
    NOT_KNOWN,
    Kind,
    amount_shown,
    literal,
    one_of,
    quantity,
    seconds,
)

VERSION = "1"
READING_FIELDS = (
    "between", "clip", "call", "control", "during", "value", "unit", "power", "setting", "meter", "range", "when",
    "who", "note",
)  # fmt: skip
AIR_FIELDS = (
    "call", "control", "during", "return", "supply", "feels", "minutes", "flow", "input", "efficiency", "rise", "note",
)  # fmt: skip
WATER_FIELDS = ("call", "control", "during", "return", "supply", "minutes", "flow", "output", "note")


def load_taken(path: FilePath | str, left: Survey, catalog: Catalog, sequences: Sequence[CallSequence] = ()) -> Taken:
    """Return the readings in a YAML or JSON file.

    Raises
    ------
    InputError
        With every fault found: file, line, column, field, what was expected.
    """
    path = FilePath(path)
    return read_taken(read_at_most(path, MOST_BYTES), str(path), left, catalog, sequences)


def read_taken(raw: bytes, file: str, left: Survey, catalog: Catalog, sequences: Sequence[CallSequence] = ()) -> Taken:
    """Return the readings in YAML or JSON text, for the house as its plan leaves it.

    Parameters
    ----------
    sequences
        What steps may be named in each call.

    Raises
    ------
    InputError
        As ``load_taken``.
    """
    if not raw.strip():
        raise InputError((Fault(_("The file is empty; 'subbase check FILE' writes a sheet to fill in."), file=file),))
    tree = read_tree(raw, file)
    reader = _Reader(tree, list(tree.faults), left, catalog, {sequence.state: sequence for sequence in sequences})
    taken = reader.taken()
    if reader.faults:
        raise InputError(tuple(sorted(reader.faults, key=lambda fault: (fault.line, fault.column))))
    return taken


@dataclass(frozen=True, slots=True)
class _Reader(FieldReader):
    """Reads one sheet of a house."""

    left: Survey
    catalog: Catalog
    sequences: dict[State, CallSequence]

    def taken(self) -> Taken:
        """Return everything that could be read."""
        data = self.tree.data
        if not isinstance(data, dict):
            self.fault((), _("This is not a sheet of readings; 'subbase check FILE' writes one to fill in."))
            return Taken()
        self.only((), data, ("readings taken", "house", "readings", "air", "water", "sequences", "notes"))
        if data.get("readings taken") != VERSION:
            self.fault(
                ("readings taken",),
                _("Begin with 'readings taken: {version}': this program reads version {version}.").format(
                    version=VERSION
                ),
            )
        house = data.get("house")
        if house is not None and house != self.left.name:
            text = _("These readings are of '{house}', the survey is of '{left}'; take the right file.").format(
                house=plain_words(str(house)), left=self.left.name
            )
            self.fault(("house",), text)
        return Taken(
            tuple(self.items("readings", self.reading)),
            tuple(self.items("air", self.air)),
            tuple(self.items("water", self.water)),
            tuple(self.items("sequences", self.sequence)),
            self.text(("notes",), data, "notes"),
        )

    def reading(self, path: Path, data: dict[str, Any]) -> ReadingTaken | None:
        """Return one reading with a meter."""
        before = len(self.faults)
        self.only(path, data, READING_FIELDS)
        between = self.pair(path, data, "between", needed=True)
        clip = self.pair(path, data, "clip", needed=False)
        state = self.state(path, data)
        named = self.value(path, data, "unit", one_of(tuple(ELECTRIC)))
        amount = self.value(path, data, "value", amount_shown)
        unit = (amount[1] if amount else None) or named
        if unit is None and "unit" not in data and not (amount and amount[1]):
            self.fault(path, _("Say the unit: 'unit: V' or 'unit: ohm', or with the value, as '26.4 V'."))
        elif amount and amount[1] and named and amount[1] != named:
            self.fault(
                (*path, "unit"),
                _("The value is in {amount_2}, the unit says {named}; keep one.").format(
                    amount_2=amount[1], named=named
                ),
            )
        range_top = self.value(path, data, "range", amount_shown)
        if len(self.faults) > before or between is None or state is None or unit is None:
            return None
        quantity, factor = ELECTRIC[unit]
        top_factor = ELECTRIC[range_top[1]][1] if range_top and range_top[1] else 1.0
        return ReadingTaken(
            between, state, quantity, amount[0] * factor if amount else None,
            f"{data.get('value') or ''}{f' {unit}' if amount and not amount[1] and math.isfinite(amount[0]) else ''}".strip(),
            self.tree.mark(path).line, clip,
            power=literal(self.value(path, data, "power", one_of(("on", "off"))), ("on", "off")),
            setting=literal(self.value(path, data, "setting", one_of(("ac", "dc", "ohms"))), ("ac", "dc", "ohms")),
            meter=self.value(path, data, "meter", one_of(tuple(METERS))),
            range_top=range_top[0] * top_factor if range_top else None,
            when=self.text((*path, "when"), data, "when"),
            who=self.text((*path, "who"), data, "who"),
            note=self.text((*path, "note"), data, "note"),
        )  # fmt: skip

    def pair(self, path: Path, data: dict[str, Any], word: str, *, needed: bool) -> Pair | None:
        """Return two terminals that the house has."""
        written = data.get(word)
        if written in (None, ""):
            if needed:
                self.fault(path, _("'{word}' is missing: the two terminals, as [hall.R, hall.C].").format(word=word))
            return None
        if not isinstance(written, list) or len(written) != 2 or not all(isinstance(end, str) for end in written):
            self.fault((*path, word), _("'{word}' is two terminals, as [hall.R, hall.C].").format(word=word))
            return None
        faults = [self.terminal((*path, word, index), end) for index, end in enumerate(written)]
        if written[0] == written[1]:
            self.fault(
                (*path, word),
                _("Both probes are on {written_1}; name two terminals.").format(written_1=plain_words(written[0])),
            )
            return None
        return (written[0], written[1]) if all(faults) else None

    def terminal(self, path: Path, written: str) -> bool:
        """Return whether a terminal is one of the house; keep a fault when it is not."""
        place, terminal = split_terminal(written)
        places = self.left.places()
        colours = {name for cable in self.left.cables.values() for name in cable.conductors}
        if (place not in places and written in colours) or (place in places and terminal in colours):
            marked = list(terminals_at(self.left, self.catalog, place)) if place in places else []
            if terminal not in marked:
                self.fault(
                    path,
                    _(
                        "'{written}' names a conductor; a reading is between two terminals, so write where it lands, as hall.Y1."
                    ).format(written=plain_words(written)),
                )
                return False
        if place not in places:
            self.fault(
                path,
                _("There is no place '{place}'; {nearest}").format(
                    place=plain_words(place), nearest=nearest(place, list(places))
                ),
            )
            return False
        marked = list(terminals_at(self.left, self.catalog, place))
        landed = {end for jumper in self.left.jumpers for end in jumper.between}
        landed |= {str(end) for _cable, _held, _name, c in self.left.conductors() for end in (c.from_, c.to)}
        if terminal not in marked and written not in landed:
            self.fault(
                path,
                _("'{place}' has no terminal '{terminal}'; {nearest}").format(
                    place=place, terminal=plain_words(terminal), nearest=nearest(terminal, marked)
                ),
            )
            return False
        return True

    def state(self, path: Path, data: dict[str, Any]) -> State | None:
        """Return what was called."""
        before = len(self.faults)
        call = self.value(path, data, "call", one_of(("off", *CALLS))) or "off"
        controls = list(self.left.controls)
        control = self.value(path, data, "control", one_of(tuple(controls)))
        during = self.value(path, data, "during", str)
        if len(self.faults) > before:
            return None
        if call == "off":
            return OFF
        if control is None:
            if len(controls) > 1:
                self.fault(
                    path,
                    _("Say which control was calling: 'control:' one of {controls}.").format(
                        controls=", ".join(controls)
                    ),
                )
                return None
            control = controls[0]
        answered = system_calls(self.left, self.catalog, control)
        if call not in answered:
            self.fault(
                (*path, "call"),
                _("Nothing in this house answers '{call}' of {control}; {nearest}").format(
                    call=call, control=control, nearest=nearest(call, list(answered))
                ),
            )
            return None
        calls = ((control, frozenset(known for known in CALLS if known == call)),)
        if during is None:
            return State(calls)
        for place, item in self.left.equipment.items():
            condition = self.catalog[str(item.kind)].conditions.get(during)
            if condition is not None and condition.during == call:
                return State(calls, (place, during))
        self.fault(
            (*path, "during"),
            _("Nothing in this house comes to '{during}' in {call}; leave it out.").format(
                during=plain_words(during), call=call
            ),
        )
        return None

    def number(self, path: Path, data: dict[str, Any], word: str, kind: Kind) -> float | None:
        """Return a quantity in SI."""
        si = self.left.units == "si"
        return self.value(path, data, word, lambda written: quantity(written, word, kind, si=si))

    def air(self, path: Path, data: dict[str, Any]) -> AirTaken | None:
        """Return what was taken of the air in one call."""
        self.only(path, data, AIR_FIELDS)
        state = self.state(path, data)
        feels = self.value(path, data, "feels", one_of(("warm", "cold", "neither")))
        rise = data.get("rise")
        rise_k: tuple[float, float] | None = None
        if isinstance(rise, list) and len(rise) == 2:
            ends = [self.number(path, {"rise": end}, "rise", "difference") for end in rise]
            if ends[0] is not None and ends[1] is not None:
                rise_k = (ends[0], ends[1])
                if not 0.0 < ends[0] < ends[1]:
                    self.fault((*path, "rise"), _("'rise' is the nameplate's least and most, as [35, 65]."))
        elif rise not in (None, ""):
            self.fault((*path, "rise"), _("'rise' is the nameplate's least and most, as [35, 65]."))
        heat_w = self.number(path, data, "input", "heat")
        share = self.number(path, data, "efficiency", "share")
        if share is not None and not 0.0 < share <= 1.0:
            self.fault((*path, "efficiency"), _("'efficiency' is above 0 and at most 1, as 0.8 or 80 %."))
        if heat_w is not None and share is None and "efficiency" not in data:
            self.fault(path, _("With 'input' say the 'efficiency' too, as 0.8; only what goes into the air counts."))
        air = Air(
            self.number(path, data, "return", "temperature"),
            self.number(path, data, "supply", "temperature"),
            literal(feels, ("warm", "cold", "neither")),
            self.number(path, data, "minutes", "minutes"),
            self.number(path, data, "flow", "air flow"),
            heat_w * share if heat_w is not None and share is not None else None,
            rise_k,
        )
        return None if state is None else AirTaken(state, air, self.tree.mark(path).line, self.text(path, data, "note"))

    def water(self, path: Path, data: dict[str, Any]) -> WaterTaken | None:
        """Return what was taken of the water in one call."""
        self.only(path, data, WATER_FIELDS)
        state = self.state(path, data)
        water = Water(
            self.number(path, data, "return", "temperature"),
            self.number(path, data, "supply", "temperature"),
            self.number(path, data, "minutes", "minutes"),
            self.number(path, data, "flow", "water flow"),
            self.number(path, data, "output", "heat"),
        )
        return (
            None
            if state is None
            else WaterTaken(state, water, self.tree.mark(path).line, self.text(path, data, "note"))
        )

    def sequence(self, path: Path, data: dict[str, Any]) -> SequenceSeen | None:
        """Return what was seen of one call."""
        self.only(path, data, ("call", "control", "during", "seen"))
        state = self.state(path, data)
        seen = data.get("seen")
        if not isinstance(seen, list):
            self.fault((*path, "seen"), _("'seen' is a list, each item as {what: the inducer starts, at: 3}."))
            return None
        if state is None:
            return None
        steps = [self.step((*path, "seen", index), item, state) for index, item in enumerate(seen)]
        return SequenceSeen(state, tuple(step for step in steps if step is not None), self.tree.mark(path).line)

    def step(self, path: Path, item: Any, state: State) -> StepSeen | None:
        """Return one step as seen; an empty time means that nobody looked."""
        if not isinstance(item, dict) or not isinstance(item.get("what"), str):
            self.fault(path, _("A step is written {what: the inducer starts, at: 3}."))
            return None
        self.only(path, item, ("what", "at"))
        what = str(item["what"])
        sequence = self.sequences.get(state)
        step = sequence.step(what) if sequence is not None else None
        if sequence is not None and step is None:
            words = [s.label for s in sequence.steps] + [thing for s in sequence.steps for thing in s.things]
            self.fault(
                (*path, "what"),
                _("'{what}' is no step of this call; {nearest}").format(
                    what=plain_words(what), nearest=nearest(what, words)
                ),
            )
            return None
        at = self.value(path, item, "at", seconds)
        written = str(item.get("at") or "").strip().lower()
        known = at is not None and written not in NOT_KNOWN
        return StepSeen(
            step.label if step else what, None if at is None or math.isinf(at) else at, known, self.tree.mark(path).line
        )


__all__ = ["AIR_FIELDS", "READING_FIELDS", "VERSION", "WATER_FIELDS", "load_taken", "read_taken"]
