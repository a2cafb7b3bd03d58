"""What each slip would do: the house it leaves is solved in every legal single call, and held against the good one.

A control that its own supply does not reach closes no output (``work.calls``); what the slip does in spite of that counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, replace
from typing import Literal, get_args

from subbase.catalog import Catalog
from subbase.circuit import Impedance, Source, Switch
from subbase.circuit.fuses import melting_time
from subbase.errors import Chatter
from subbase.names import and_words
from subbase.survey import Survey
from subbase.wiring import House, Need, Settings, State, build_house, need_of, single_calls
from subbase.wiring.states import judged_loads, services
from subbase.words import _
from subbase.work.calls import (
    NOTHING_SET,
    CallSolved,
    Circuit,
    Electrical,
    Plain,
    Positions,
    SlipCircuits,
    control_volts,
    slip_circuits,
    solved_calls,
)
from subbase.work.slips import Slip

Severity = Literal[
    "damage to the control",
    "fuse opens or supply overloaded",
    "supplies tied",
    "strips without fan",
    "safety bypassed",
    "heat and cool together",
    "relay chatters",
    "wrong load",
    "load missing",
    "control unpowered",
    "nothing",
]
SEVERITIES: tuple[Severity, ...] = get_args(Severity)
"""Worst first: what breaks, then what can hurt, then what only fails to work (judgement)."""
DAMAGING: frozenset[Severity] = frozenset(SEVERITIES[:4])
"""What must be caught before supply is put on, wherever a dead check can (judgement)."""
MAKES_WARM_OR_COLD = frozenset({"heating", "cooling", "heat pump", "air handler", "hydronic"})
"""Groups of equipment whose loads heat or cool; inputs of panels, relays and adapters only pass a call on."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that goes wrong in one call."""

    severity: Severity
    call: str
    text: str
    amount: float = 0.0
    """The number behind it, in ``unit``; 0 where there is none."""
    unit: Literal["A", "VA", "V", ""] = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one slip does."""

    slip: Slip
    severity: Severity
    findings: tuple[Finding, ...]
    """Worst first; of one severity in the order of the calls."""

    @property
    def worst(self) -> Finding | None:
        """Return the finding that names the outcome; None when nothing happens."""
        return self.findings[0] if self.findings else None


@dataclass(frozen=True, slots=True)
class Bench:
    """The good house, and what it does in every single call."""

    survey: Survey
    catalog: Catalog
    states: tuple[State, ...]
    calls: tuple[CallSolved, ...]
    needs: tuple[Need, ...]
    tied: tuple[frozenset[frozenset[str]], ...]
    """In each call, the pairs of supplies that share wire in the good house."""
    heating: frozenset[str]
    """Loads that only heating calls bring on."""
    cooling: frozenset[str]
    guarded: tuple[tuple[str, tuple[frozenset[str], ...]], ...]
    """(switch that stops something when it opens, loads that are on in each call with it open)."""


@dataclass(frozen=True, slots=True)
class Workbench:
    """A slip's house ready to be asked more: its parts, the positions of its switches, and its circuit."""

    house: House
    """Only its parts count, which no slip changes: it may be the good one."""
    positions: Positions
    circuit: Circuit


def workbench_of(circuits: SlipCircuits, slip: Slip) -> Workbench:
    """Return the workbench of a slip by the quick way."""
    return Workbench(circuits.house, circuits.positions, circuits.of(slip.survey))


def bench_of(left: Survey, catalog: Catalog) -> Bench:
    """Return the good house solved in every single call."""
    states = single_calls(left, catalog)
    house = build_house(left, catalog)
    calls = tuple(solved_calls(house, states))
    work = Workbench(house, Positions(house), Plain(house.netlist))
    heating, cooling = (_loads_of(left, catalog, word) for word in ("heat", "cool"))
    return Bench(
        left, catalog, states, calls,
        needs=tuple(need_of(left, catalog, state) for state in states),
        tied=tuple(_tied(house, call) for call in calls),
        heating=heating - cooling,
        cooling=cooling - heating,
        guarded=tuple((guard, tuple(_on_with_open(work, guard, states, NOTHING_SET))) for guard in _guards(house)),
    )  # fmt: skip


def outcomes(slips: Iterable[Slip], bench: Bench) -> tuple[Outcome, ...]:
    """Return what each slip does, in the order of the slips; agrees with ``outcome_of``."""
    circuits = slip_circuits(bench.survey, bench.catalog)
    known: dict[Electrical, Outcome] = {}
    return tuple(outcome_among(known, slip, bench, circuits) for slip in slips)


def outcome_among(known: dict[Electrical, Outcome], slip: Slip, bench: Bench, circuits: SlipCircuits) -> Outcome:
    """Return what a slip does; one that is the same to the circuit as one among the known is not solved again."""
    same = circuits.electrical(slip)
    if same not in known:
        known[same] = judged(slip, bench, circuits.calls(slip, bench.states), workbench_of(circuits, slip))
    return replace(known[same], slip=slip)


def outcome_of(slip: Slip, bench: Bench) -> Outcome:
    """Return what one slip does in every single call of the house, built and solved by itself."""
    house = build_house(slip.survey, bench.catalog)
    calls = solved_calls(house, bench.states, dict(slip.settings))
    return judged(slip, bench, calls, Workbench(house, Positions(house), Plain(house.netlist)))


def judged(slip: Slip, bench: Bench, calls: Iterable[CallSolved], work: Workbench) -> Outcome:
    """Return what a slip does, from its house solved in each call of the bench."""
    found: list[Finding] = []
    on: dict[State, Set[str]] = {}
    for index, call in enumerate(calls):
        on[call.state] = call.coils_in
        if _can_be(call.state, on, bench):
            found.extend(_findings(work.house, call, bench, index))
    if not found:
        found.extend(_bypassed(work, bench, dict(slip.settings)))
    ranked = tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
    return Outcome(slip, ranked[0].severity if ranked else "nothing", ranked)


def _can_be(state: State, on: Mapping[State, Set[str]], bench: Bench) -> bool:
    """Tell whether a condition can come about: only in equipment that does run in the call (no defrost at rest)."""
    if state.condition is None:
        return True
    before = State(state.calls)
    place = state.condition[0]
    own = {tag for tag in bench.needs[bench.states.index(before)].on if tag.startswith(f"{place}/")}
    return own <= on[before]


def _guards(house: House) -> tuple[str, ...]:
    """Return the limits, floats and the like: switches that open by themselves, conditions of running left out."""
    acting = {
        f"{place}/{switch}"
        for place in house.survey.equipment
        for condition in house.kind(place).conditions.values()
        for switch in condition.acts
    }
    return tuple(s.tag for s in house.netlist.of(Switch) if s.normally_closed and s.tag not in acting)


def _on_with_open(
    work: Workbench, guard: str, states: Iterable[State], settings: Mapping[str, Settings]
) -> Iterator[frozenset[str]]:
    """Yield the loads that are on in each call though a guarding switch stands open."""
    judged = judged_loads(work.house)
    for _state, operated, _made in work.positions.in_calls(work.circuit, states, settings):
        try:
            yield judged & work.circuit.settle(operated=operated | {guard}).coils_in
        except Chatter as error:
            yield frozenset(error.coils)


def _bypassed(work: Workbench, bench: Bench, settings: Mapping[str, Settings]) -> Iterator[Finding]:
    """Open each guarding switch and see what runs on; asked only where nothing else shows, for it never shows by itself."""
    for guard, good in bench.guarded:
        for call, stopped, on in zip(
            bench.calls, good, _on_with_open(work, guard, bench.states, settings), strict=True
        ):
            if on - stopped:
                words = ", ".join(work.house.part_words(tag) for tag in sorted(on - stopped))
                text = _("{guard} opens and does not stop: {loads}").format(
                    guard=work.house.part_words(guard), loads=words
                )
                yield Finding("safety bypassed", call.words, text)


def _findings(house: House, call: CallSolved, bench: Bench, index: int) -> Iterator[Finding]:
    yield from _control_damage(house, call)
    yield from _overloads(house, call)
    for pair in sorted(map(sorted, _tied(house, call) - bench.tied[index])):
        words = and_words(house.part_words(tag) for tag in pair)
        yield Finding("supplies tied", call.words, _("{supplies} share wire").format(supplies=words))
    if call.chattering:
        words = ", ".join(house.part_words(tag) for tag in call.chattering)
        text = _("{words} pulls in and falls out by turns").format(words=words)
        yield Finding("relay chatters", call.words, text)
    else:
        yield from _load_findings(house, call, bench, index)
    yield from _unpowered(house, call)


def _control_damage(house: House, call: CallSolved) -> Iterator[Finding]:
    """Hold what every output carries, and what feeds every control, against what it can stand."""
    for name, control in house.survey.controls.items():
        for output in control.old.terminals:
            tag = f"{name}/{output}"
            if tag not in house.netlist.by_tag:
                continue
            current_a = _most_a(call, tag)
            if current_a > control.old.output_a:
                text = _("output {output} of {control} carries {current_a:.1f} A; it may carry {most_a:g} A").format(
                    output=output, control=name, current_a=current_a, most_a=control.old.output_a
                )
                yield Finding("damage to the control", call.words, text, current_a, "A")
    for solution in call.solutions[:1]:
        for name, volts in control_volts(house, solution):
            most_v = house.survey.controls[name].old.most_v
            if volts > most_v:
                text = _("{control} is fed {volts:.1f} V; it stands {most_v:g} V").format(
                    control=name, volts=volts, most_v=most_v
                )
                yield Finding("damage to the control", call.words, text, volts, "V")


def _overloads(house: House, call: CallSolved) -> Iterator[Finding]:
    for branch in house.netlist.of(Impedance):
        if branch.fuse_a:
            current_a = _most_a(call, branch.tag)
            latest_s = melting_time(current_a / branch.fuse_a).latest_s
            if latest_s is not None:
                text = _("{fuse} of {fuse_a:g} A carries {current_a:.1f} A and opens within {latest_s:.3g} s").format(
                    fuse=house.part_words(branch.tag), fuse_a=branch.fuse_a, current_a=current_a, latest_s=latest_s
                )
                yield Finding("fuse opens or supply overloaded", call.words, text, current_a, "A")
    for tag, part in house.sources.items():
        # Heating of the winding goes with current, so draw is taken at rated volts, as the proof does.
        current_a = _most_a(call, tag)
        draw_va = current_a * part.volts
        if draw_va > part.va:
            text = _("{supply} gives {current_a:.1f} A, {draw_va:.0f} VA of its {rated_va:g} VA").format(
                supply=house.part_words(tag), current_a=current_a, draw_va=draw_va, rated_va=part.va
            )
            yield Finding("fuse opens or supply overloaded", call.words, text, draw_va, "VA")


def _load_findings(house: House, call: CallSolved, bench: Bench, index: int) -> Iterator[Finding]:
    """Compare the loads that are on with what the call needs and with what the good house brings on."""
    need, good = bench.needs[index], bench.calls[index].coils_in
    judged = judged_loads(house)
    on = judged & call.coils_in
    wrong = on - need.on - need.may - good
    for place, item in house.survey.equipment.items():
        for never in house.catalog[str(item.kind)].never:
            tag, other = f"{place}/{never.on}", f"{place}/{never.without}"
            if tag in call.coils_in and other not in call.coils_in:
                text = _("{part} is on without {other}: {why}").format(
                    part=house.part_words(tag), other=house.part_words(other), why=_(never.why)
                )
                yield Finding("strips without fan", call.words, text)
    if wrong and on & bench.heating and on & bench.cooling:
        words = ", ".join(house.part_words(tag) for tag in sorted(on & (bench.heating | bench.cooling)))
        yield Finding("heat and cool together", call.words, _("on together: {loads}").format(loads=words))
    for tag in sorted(wrong):
        volts = abs(call.solutions[0].across(tag))
        text = _("{part} comes on").format(part=house.part_words(tag))
        yield Finding("wrong load", call.words, text, volts, "V")
    if call.asleep:
        return  # told as a control without supply
    for tag in sorted((need.on & good) - on):
        volts = abs(call.solutions[0].across(tag))
        text = _("{part} stays off with {volts:.1f} V").format(part=house.part_words(tag), volts=volts)
        yield Finding("load missing", call.words, text, volts, "V")


def _unpowered(house: House, call: CallSolved) -> Iterator[Finding]:
    for name, volts in control_volts(house, call.solutions[0]):
        least_v = house.survey.controls[name].old.least_v
        if volts < least_v:
            text = _("{control} is fed {volts:.1f} V; it needs {least_v:g} V").format(
                control=name, volts=volts, least_v=least_v
            )
            yield Finding("control unpowered", call.words, text, volts, "V")


def _tied(house: House, call: CallSolved) -> frozenset[frozenset[str]]:
    """Return the pairs of supplies that share any wire in a call."""
    sources = list(house.netlist.of(Source))
    return frozenset(
        frozenset({a.tag, b.tag})
        for solution in call.solutions
        for i, a in enumerate(sources)
        for b in sources[i + 1 :]
        if solution.between(a.tail, b.tail) is not None
    )


def _loads_of(survey: Survey, catalog: Catalog, word: str) -> frozenset[str]:
    """Return the loads that the equipment's own answers to heating (or cooling) calls bring on, those that move air left out."""
    found: set[str] = set()
    air: set[str] = set()
    for control in survey.controls:
        for service in services(survey, catalog, control):
            if service.kind.group not in MAKES_WARM_OR_COLD:
                continue
            asked = [(call, need) for call, need in service.requirements.items() if call == "fan" or word in call]
            asked += [("fan", service.air)] if service.air is not None else []
            for call, need in asked:
                (air if call == "fan" else found).update(f"{service.place}/{load}" for load in need.on)
    return frozenset(found - air)


def _most_a(call: CallSolved, tag: str) -> float:
    return max([abs(solution.current_a(tag)) for solution in call.solutions], default=0.0)


__all__ = [
    "DAMAGING",
    "SEVERITIES",
    "Bench",
    "Finding",
    "Outcome",
    "Severity",
    "Workbench",
    "bench_of",
    "judged",
    "outcome_among",
    "outcome_of",
    "outcomes",
    "workbench_of",
]
