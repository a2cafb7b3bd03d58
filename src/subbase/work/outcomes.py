"""What each slip would do: the house it leaves is built and solved in every legal single call, and held against the good one.

A control that its own supply does not reach closes no output, so its calls are solved with its outputs open; what the
slip does in spite of that still counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from subbase.catalog import Catalog
from subbase.circuit import Impedance, Solution, Source, Switch, settle, solve
from subbase.circuit.fuses import melting_time
from subbase.errors import Chatter
from subbase.survey import Survey
from subbase.wiring import House, Need, Settings, State, build_house, legal_states, need_of, outputs_on
from subbase.wiring.states import judged_loads, operated_switches, services
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
ALIVE_SHARE = 0.5
"""Of the least supply volts of a control: below it, its outputs are taken to stay open (judgement)."""


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
class CallSolved:
    """A house in one call: at rest, or what it swings between."""

    state: State
    words: str
    solutions: tuple[Solution, ...]
    """One at rest; when relays chatter, with none of them in, and with all that chatter in."""
    coils_in: frozenset[str]
    chattering: tuple[str, ...] = ()
    asleep: bool = False
    """Whether a control that ought to call has no supply and so does not."""


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


def bench_of(left: Survey, catalog: Catalog) -> Bench:
    """Return the good house solved in every single call."""
    states = single_calls(left, catalog)
    house = build_house(left, catalog)
    calls = tuple(solved_calls(house, states))
    heating, cooling = (_loads_of(left, catalog, word) for word in ("heat", "cool"))
    return Bench(
        left, catalog, states, calls,
        needs=tuple(need_of(left, catalog, state) for state in states),
        tied=tuple(_tied(house, call) for call in calls),
        heating=heating - cooling,
        cooling=cooling - heating,
        guarded=tuple((guard, tuple(_on_with_open(house, guard, states, {}))) for guard in _guards(house)),
    )  # fmt: skip


def single_calls(survey: Survey, catalog: Catalog) -> tuple[State, ...]:
    """Return the legal states in which at most one control asks for one call, conditions such as defrost included."""
    return tuple(state for state in legal_states(survey, catalog) if sum(len(calls) for _, calls in state.calls) <= 1)


def solved_calls(
    house: House, states: Iterable[State], settings: Mapping[str, Settings] | None = None
) -> Iterator[CallSolved]:
    """Yield a house in each call, with controls set as ``settings`` say where they say anything."""
    several = len(house.survey.controls) > 1
    for state, operated, asleep in _positions(house, states, settings or {}):
        words = state.words(name_controls=several)
        try:
            settled = settle(house.netlist, operated=operated)
        except Chatter as error:
            ends = (frozenset[str](), frozenset(error.coils))
            solutions = tuple(solve(house.netlist, operated=operated, coils_in=coils) for coils in ends)
            yield CallSolved(state, words, solutions, frozenset(), error.coils, asleep)
        else:
            yield CallSolved(state, words, (settled.solution,), settled.coils_in, asleep=asleep)


def asleep_controls(house: House) -> frozenset[str]:
    """Return the controls whose outputs stay open, because too little supply reaches them at rest."""
    at_rest = _rest_solution(house)
    return frozenset(
        name
        for name, volts in _control_volts(house, at_rest)
        if volts < ALIVE_SHARE * house.survey.controls[name].old.least_v and not house.survey.controls[name].old.battery
    )


def outcomes(slips: Iterable[Slip], bench: Bench) -> tuple[Outcome, ...]:
    """Return what each slip does, in the order of the slips."""
    return tuple(outcome_of(slip, bench) for slip in slips)


def outcome_of(slip: Slip, bench: Bench) -> Outcome:
    """Return what one slip does in every single call of the house."""
    house = build_house(slip.survey, bench.catalog)
    settings = dict(slip.settings)
    found: list[Finding] = []
    on: dict[State, frozenset[str]] = {}
    for index, call in enumerate(solved_calls(house, bench.states, settings)):
        on[call.state] = call.coils_in
        if _can_be(call.state, on, bench):
            found.extend(_findings(house, call, bench, index))
    if not found:
        found.extend(_bypassed(house, bench, settings))
    ranked = tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
    return Outcome(slip, ranked[0].severity if ranked else "nothing", ranked)


def _can_be(state: State, on: Mapping[State, frozenset[str]], bench: Bench) -> bool:
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
    house: House, guard: str, states: Iterable[State], settings: Mapping[str, Settings]
) -> Iterator[frozenset[str]]:
    """Yield the loads that are on in each call though a guarding switch stands open."""
    for _, operated, _ in _positions(house, states, settings):
        try:
            yield settle(house.netlist, operated=operated | {guard}).coils_in & judged_loads(house)
        except Chatter as error:
            yield frozenset(error.coils)


def _bypassed(house: House, bench: Bench, settings: Mapping[str, Settings]) -> Iterator[Finding]:
    """Open each guarding switch and see what runs on; asked only where nothing else shows, for it never shows by itself."""
    for guard, good in bench.guarded:
        for call, stopped, on in zip(
            bench.calls, good, _on_with_open(house, guard, bench.states, settings), strict=True
        ):
            if on - stopped:
                words = ", ".join(house.part_words(tag) for tag in sorted(on - stopped))
                text = f"{house.part_words(guard)} opens and does not stop: {words}"
                yield Finding("safety bypassed", call.words, text)


def _findings(house: House, call: CallSolved, bench: Bench, index: int) -> Iterator[Finding]:
    yield from _control_damage(house, call)
    yield from _overloads(house, call)
    for pair in sorted(map(sorted, _tied(house, call) - bench.tied[index])):
        words = " and ".join(house.part_words(tag) for tag in pair)
        yield Finding("supplies tied", call.words, f"{words} share wire")
    if call.chattering:
        words = ", ".join(house.part_words(tag) for tag in call.chattering)
        yield Finding("relay chatters", call.words, f"{words} pulls in and falls out by turns")
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
            current_a = _most(abs(solution.current_a(tag)) for solution in call.solutions)
            if current_a > control.old.output_a:
                text = f"output {output} of {name} carries {current_a:.1f} A; it may carry {control.old.output_a:g} A"
                yield Finding("damage to the control", call.words, text, current_a, "A")
    for solution in call.solutions[:1]:
        for name, volts in _control_volts(house, solution):
            most_v = house.survey.controls[name].old.most_v
            if volts > most_v:
                text = f"{name} is fed {volts:.1f} V; it stands {most_v:g} V"
                yield Finding("damage to the control", call.words, text, volts, "V")


def _overloads(house: House, call: CallSolved) -> Iterator[Finding]:
    for branch in house.netlist.of(Impedance):
        if branch.fuse_a:
            current_a = _most(abs(solution.current_a(branch.tag)) for solution in call.solutions)
            latest_s = melting_time(current_a / branch.fuse_a).latest_s
            if latest_s is not None:
                text = (
                    f"{house.part_words(branch.tag)} of {branch.fuse_a:g} A carries {current_a:.1f} A "
                    f"and opens within {latest_s:.3g} s"
                )
                yield Finding("fuse opens or supply overloaded", call.words, text, current_a, "A")
    for tag, part in house.sources.items():
        # Heating of the winding goes with current, so draw is taken at rated volts, as the proof does.
        current_a = _most(abs(solution.current_a(tag)) for solution in call.solutions)
        draw_va = current_a * part.volts
        if draw_va > part.va:
            text = f"{house.part_words(tag)} gives {current_a:.1f} A, {draw_va:.0f} VA of its {part.va:g} VA"
            yield Finding("fuse opens or supply overloaded", call.words, text, draw_va, "VA")


def _load_findings(house: House, call: CallSolved, bench: Bench, index: int) -> Iterator[Finding]:
    """Compare the loads that are on with what the call needs and with what the good house brings on."""
    need, good = bench.needs[index], bench.calls[index].coils_in
    judged = judged_loads(house)
    on = call.coils_in & judged
    wrong = on - need.on - need.may - good
    for place, item in house.survey.equipment.items():
        for never in house.catalog[str(item.kind)].never:
            tag, other = f"{place}/{never.on}", f"{place}/{never.without}"
            if tag in call.coils_in and other not in call.coils_in:
                text = f"{house.part_words(tag)} is on without {house.part_words(other)}: {never.why}"
                yield Finding("strips without fan", call.words, text)
    if wrong and on & bench.heating and on & bench.cooling:
        words = ", ".join(house.part_words(tag) for tag in sorted(on & (bench.heating | bench.cooling)))
        yield Finding("heat and cool together", call.words, f"on together: {words}")
    for tag in sorted(wrong):
        volts = abs(call.solutions[0].across(tag))
        yield Finding("wrong load", call.words, f"{house.part_words(tag)} comes on", volts, "V")
    if call.asleep:
        return  # told as a control without supply
    for tag in sorted((need.on & good) - on):
        volts = abs(call.solutions[0].across(tag))
        text = f"{house.part_words(tag)} stays off with {volts:.1f} V"
        yield Finding("load missing", call.words, text, volts, "V")


def _unpowered(house: House, call: CallSolved) -> Iterator[Finding]:
    for name, volts in _control_volts(house, call.solutions[0]):
        least_v = house.survey.controls[name].old.least_v
        if volts < least_v:
            text = f"{name} is fed {volts:.1f} V; it needs {least_v:g} V"
            yield Finding("control unpowered", call.words, text, volts, "V")


def _control_volts(house: House, solution: Solution) -> Iterator[tuple[str, float]]:
    """Yield (control, volts across its own electronics) of controls that a common feeds."""
    for name, control in house.survey.controls.items():
        power = control.old.power_terminal()
        if control.old.power == "common" and power is not None:
            yield name, abs(solution.between(f"{name}.{power}", f"{name}.C") or 0j)


def _rest_solution(house: House) -> Solution:
    try:
        return settle(house.netlist).solution
    except Chatter as error:
        return solve(house.netlist, coils_in=frozenset(error.coils))


def _positions(
    house: House, states: Iterable[State], settings: Mapping[str, Settings]
) -> Iterator[tuple[State, frozenset[str], bool]]:
    """Yield (state, switches that leave their normal position, whether a control that ought to call has no supply)."""
    dead = asleep_controls(house)
    for state in states:
        awake = State(tuple((control, calls) for control, calls in state.calls if control not in dead), state.condition)
        yield state, _operated(house, awake, settings), awake != state


def _operated(house: House, state: State, settings: Mapping[str, Settings]) -> frozenset[str]:
    operated = set(operated_switches(house, state))
    for control, calls in state.calls:
        if control in settings:
            profile = house.survey.controls[control].old
            operated -= {f"{control}/{terminal}" for terminal in profile.terminals}
            operated |= {f"{control}/{output}" for output in outputs_on(profile, settings[control], calls)}
    return frozenset(operated)


def _tied(house: House, call: CallSolved) -> frozenset[frozenset[str]]:
    """Return the pairs of supplies that share any wire in a call."""
    sources = list(house.netlist.of(Source))
    index = house.netlist.index
    return frozenset(
        frozenset({a.tag, b.tag})
        for solution in call.solutions
        for i, a in enumerate(sources)
        for b in sources[i + 1 :]
        if solution.reference[index[a.tail]] == solution.reference[index[b.tail]]
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


def _most(values: Iterable[float]) -> float:
    return max(values, default=0.0)


__all__ = [
    "DAMAGING",
    "SEVERITIES",
    "Bench",
    "CallSolved",
    "Finding",
    "Outcome",
    "Severity",
    "asleep_controls",
    "bench_of",
    "outcome_of",
    "outcomes",
    "single_calls",
    "solved_calls",
]
