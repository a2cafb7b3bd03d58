"""The legal states of a house, and what each must bring on.

A state says what every control asks for, and a condition that the equipment brings about by itself (defrost). What it
must bring on is the sum of what the catalogue says of each piece of equipment; every other load must be off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import cast

from subbase.catalog import CALLS, Call, Catalog, Kind, Requirement
from subbase.names import named
from subbase.survey import Equipment, Survey
from subbase.wiring.build import House
from subbase.wiring.outputs import outputs_on, settings_for
from subbase.wiring.stages import calls_of

Calls = frozenset[Call]
QUIET: Calls = frozenset()
EXTRAS: tuple[Call, ...] = ("fan", "humidify", "dehumidify", "ventilate")
"""Calls that can come on top of another."""


@dataclass(frozen=True, slots=True)
class State:
    """What is asked for at one moment."""

    calls: tuple[tuple[str, Calls], ...]
    """(control, its calls), for controls that ask for something."""
    condition: tuple[str, str] | None = None
    """(equipment, condition) such as (outdoor unit, defrost)."""

    def words(self, *, name_controls: bool = False) -> str:
        """Return the state as people say it, in their language."""
        return self._said(name_controls, named)

    def name(self, *, name_controls: bool = False) -> str:
        """Return the state's name, in English whatever the language: for JSON, files and comparing."""
        return self._said(name_controls, str)

    def _said(self, name_controls: bool, one: Callable[[str], str]) -> str:
        said = []
        for control, calls in self.calls:
            text = " + ".join(one(call) for call in sorted(calls, key=CALLS.index))
            said.append(f"{control}: {text}" if name_controls else text)
        text = "; ".join(said) or one("off")
        return f"{text}, {one(self.condition[1])}" if self.condition else text

    def of(self, control: str) -> Calls:
        """Return what one control asks for."""
        return dict(self.calls).get(control, QUIET)


OFF = State(())
"""Nothing called."""


@dataclass(frozen=True, slots=True)
class Need:
    """What a state must bring on, as branch tags."""

    on: frozenset[str] = frozenset()
    may: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Service:
    """One piece of equipment as one control sees it: system calls brought to the kind's own requirements."""

    place: str
    kind: Kind
    requirements: dict[Call, Requirement]
    air: Requirement | None
    """What it does when other equipment needs air moved."""


def serves(item: Equipment, control: str) -> bool:
    """Return whether equipment works for a control."""
    if item.zones:
        return control in item.zones.values()
    return control in item.serves if item.serves else True


def services(survey: Survey, catalog: Catalog, control: str) -> tuple[Service, ...]:
    """Return what every piece of equipment does for a control's calls."""
    found = []
    for place, item in survey.equipment.items():
        if not serves(item, control):
            continue
        kind = catalog[str(item.kind)]
        own = calls_of(kind, place, survey.jumpers)
        requirements: dict[Call, Requirement] = {}
        for zone, owner in item.zones.items():
            if owner == control:
                requirements.update(kind.zones.get(zone, {}))
        for call in CALLS:
            need = _requirement(kind, own, item, call)
            if need is not None:
                requirements.setdefault(call, need)
        kept = ((call, _without(need, item.without)) for call, need in requirements.items())
        air = None if kind.air is None else _without(kind.air, item.without)
        found.append(Service(place, kind, {call: need for call, need in kept if need is not None}, air))
    return tuple(found)


def _without(need: Requirement, missing: tuple[str, ...]) -> Requirement | None:
    """Return a requirement without the loads that this piece of equipment does not have; None when nothing is left."""
    if not missing:
        return need
    on = tuple(load for load in need.on if load not in missing)
    if need.on and not on:
        return None
    return need.model_copy(update={"on": on, "may": tuple(load for load in need.may if load not in missing)})


def _requirement(kind: Kind, own: Mapping[Call, Requirement], item: Equipment, call: Call) -> Requirement | None:
    """Return what equipment does in a call of the system, by its own calls and the part it plays in heating."""
    word, _, number = call.rpartition(" ")
    if item.role == "auxiliary":
        local = {"auxiliary heat": "heat", "emergency heat": "heat", "heat": ""}.get(word, word)
    elif item.role == "second fuel":
        local = {"second fuel heat": "heat", "heat": ""}.get(word, word)
    else:
        if word == "auxiliary heat" and kind.group == "heat pump":
            # Auxiliary heat helps the compressor; it does not replace it.
            stages = [c for c in own if c.startswith("heat ")]
            return own[max(stages)] if stages and call not in own else own.get(call)
        local = word
    wanted = f"{local} {number}" if word and local else ("" if word else call)
    return own.get(cast("Call", wanted))


def system_calls(survey: Survey, catalog: Catalog, control: str) -> tuple[Call, ...]:
    """Return the calls that the equipment of a control can answer and it is set up for, in the trade's order."""
    found: set[Call] = set()
    has_backup = any(item.role == "auxiliary" and serves(item, control) for item in survey.equipment.values())
    zoned = [item for item in survey.equipment.values() if control in item.zones.values()]
    for service in services(survey, catalog, control):
        for call, need in service.requirements.items():
            if not need.answers:
                continue  # it only tolerates the call, it does not answer it
            if call.startswith("auxiliary") and not has_backup and call not in service.kind.calls:
                continue
            found.add(call)
    if has_backup:
        backup = {
            call
            for place, item in survey.equipment.items()
            if item.role == "auxiliary" and serves(item, control)
            for kind in (catalog[str(item.kind)],)
            for own in (calls_of(kind, place, survey.jumpers),)
            for call in CALLS
            if call.startswith("auxiliary") and _requirement(kind, own, item, call)
        }
        found = {call for call in found if not call.startswith("auxiliary") or call in backup}
    for item in zoned:
        offered = {
            call
            for zone, owner in item.zones.items()
            if owner == control
            for call in catalog[str(item.kind)].zones[zone]
        }
        found &= offered
    return tuple(call for call in CALLS if call in found and call not in survey.controls[control].not_wired)


def legal_states(survey: Survey, catalog: Catalog) -> tuple[State, ...]:
    """Return every legal state: each control alone in each call and combination, then controls together."""
    per_control = {control: _combinations(system_calls(survey, catalog, control)) for control in survey.controls}
    states = [OFF]
    for control, combinations in per_control.items():
        for calls in combinations:
            states.append(State(((control, calls),)))
            states.extend(_conditions(survey, catalog, control, calls))
    states.extend(_together(per_control))
    return tuple(dict.fromkeys(states))


def single_calls(survey: Survey, catalog: Catalog) -> tuple[State, ...]:
    """Return the legal states in which at most one control asks for one call, conditions such as defrost included."""
    return tuple(state for state in legal_states(survey, catalog) if sum(len(calls) for _, calls in state.calls) <= 1)


def _combinations(calls: tuple[Call, ...]) -> list[Calls]:
    singles = [frozenset({call}) for call in calls]
    found: list[Calls] = list(singles)
    for call in calls:
        word = call.rpartition(" ")[0]
        for extra in EXTRAS:
            fits = {"fan": bool(word), "humidify": "heat" in word or call == "fan", "dehumidify": word == "cool"}
            if extra in calls and call != extra and fits.get(extra, bool(word) or call == "fan"):
                found.append(frozenset({call, extra}))
    return found


def _conditions(survey: Survey, catalog: Catalog, control: str, calls: Calls) -> Iterator[State]:
    for service in services(survey, catalog, control):
        for name, condition in service.kind.conditions.items():
            if calls == {condition.during}:
                yield State(((control, calls),), (service.place, name))


def _together(per_control: dict[str, list[Calls]]) -> Iterator[State]:
    """Yield states in which several controls ask for the same single call: every pair, and all at once."""
    singles = {control: [c for c in combos if len(c) == 1] for control, combos in per_control.items()}
    for calls in dict.fromkeys(c for combos in singles.values() for c in combos):
        asking = [control for control, combos in singles.items() if calls in combos]
        for i, a in enumerate(asking):
            for b in asking[i + 1 :]:
                yield State(((a, calls), (b, calls)))
        if len(asking) > 2:
            yield State(tuple((control, calls) for control in asking))


def need_of(survey: Survey, catalog: Catalog, state: State) -> Need:
    """Return the loads that a state must and may bring on."""
    on: set[str] = set()
    may: set[str] = set()
    for control, calls in state.calls:
        found = services(survey, catalog, control)
        wants_air = False
        for service in found:
            for call in calls:
                need = service.requirements.get(call)
                if need is not None:
                    on.update(f"{service.place}/{load}" for load in need.on)
                    may.update(f"{service.place}/{load}" for load in need.may)
                    wants_air = wants_air or (service.kind.needs_air and call != "fan")
        if wants_air:
            for service in found:
                if service.air is not None:
                    on.update(f"{service.place}/{load}" for load in service.air.on)
                    may.update(f"{service.place}/{load}" for load in service.air.may)
    if state.condition is not None:
        place, name = state.condition
        condition = catalog[str(survey.equipment[place].kind)].conditions[name]
        own = {tag for tag in on | may if tag.startswith(f"{place}/")}
        on = (on - own) | {f"{place}/{load}" for load in condition.on}
        may = (may - own) | {f"{place}/{load}" for load in condition.may}
        for control, _ in state.calls:
            for service in services(survey, catalog, control):
                for call in condition.may_elsewhere:
                    elsewhere = service.requirements.get(call)
                    if elsewhere is not None:
                        may.update(f"{service.place}/{load}" for load in (*elsewhere.on, *elsewhere.may))
    return Need(frozenset(on), frozenset(may - on))


def operated_switches(house: House, state: State) -> frozenset[str]:
    """Return the switches that leave their normal position in a state: controls' outputs and conditions."""
    operated: set[str] = set()
    for control, calls in state.calls:
        settings = settings_for(house.survey, house.catalog, control)
        made = outputs_on(house.survey.controls[control].old, settings, calls)
        operated.update(f"{control}/{output}" for output in made)
    if state.condition is not None:
        place, name = state.condition
        operated.update(f"{place}/{switch}" for switch in house.kind(place).conditions[name].acts)
    return frozenset(operated)


def judged_loads(house: House) -> frozenset[str]:
    """Return the loads that a state is judged by."""
    return frozenset(tag for tag, load in house.loads.items() if not load.neutral)


__all__ = [
    "OFF",
    "Need",
    "State",
    "judged_loads",
    "legal_states",
    "need_of",
    "operated_switches",
    "services",
    "system_calls",
]
