"""Every built-in kind alone on a bench: each call brings on the loads that it promises, and no others.

The bench is a second opinion. It makes branches of a kind by itself, without the package's own builder, and feeds every
terminal through a switch of its own; so a fault in that builder cannot hide a fault in a kind.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Set
from dataclasses import dataclass
from itertools import product

import pytest

from subbase.catalog import (
    ContactPart,
    FusePart,
    Kind,
    LinkPart,
    LoadPart,
    ResistorPart,
    SwitchPart,
    TransformerPart,
    load_catalog,
)
from subbase.circuit import Coil, Contact, Impedance, Netlist, Settled, Source, Switch, settle
from subbase.circuit.netlist import Branch, Tag

KINDS = load_catalog()
NAMES = tuple(sorted(KINDS))
LINES = (0.9, 1.0, 1.1)
"""Line voltage over nominal."""
JOINT_OHM = 0.01
BENCH = TransformerPart(id="bench", type="transformer", between=("common", "hot"), source="bench", va=40)
"""Feeds the kinds that have no transformer of their own."""


@dataclass(frozen=True, slots=True)
class Case:
    """One promise of a kind: with these terminals fed, pairs closed and switches acted, these loads are on."""

    kind: Kind
    label: str
    energise: tuple[str, ...]
    close: tuple[tuple[str, str], ...]
    on: frozenset[str]
    may: frozenset[str]
    acts: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.kind.kind} {self.label}"

    def operated(self) -> frozenset[Tag]:
        """Return the switches of the bench and of the kind that stand acted."""
        fed = {f"feed {terminal}" for terminal in self.energise}
        closed = {f"close {a} {b}" for a, b in self.close}
        return frozenset(fed | closed | {f"it/{switch}" for switch in self.acts})


def cases_of(kind: Kind) -> Iterator[Case]:
    """Yield every promise that a kind makes; an adapter's, which only a pair of pieces keeps, are tried further down."""
    for label, need in kind.requirements():
        if kind.group != "adapter":
            yield Case(kind, label, need.energise, need.close, frozenset(need.on), frozenset(need.may))
    for label, state in kind.conditions.items():
        call = kind.calls[state.during]
        yield Case(kind, label, call.energise, call.close, frozenset(state.on), frozenset(state.may), state.acts)


CASES = tuple(case for name in NAMES for case in cases_of(KINDS[name]))


def branches_of(kind: Kind, place: str, line: float = 1.0) -> list[Branch]:
    """Return a kind's parts as branches, by the words of the catalogue's model."""
    made: list[Branch] = []
    for part in kind.parts:
        tag = f"{place}/{part.id}"
        tail, head = (f"{place}.{end}" if end in kind.terminals else f"{place}/{end}" for end in part.between)
        match part:
            case TransformerPart():
                made.append(source_of(part, tag, (tail, head), line))
            case FusePart():
                made.append(Impedance(tag, tail, head, part.ohm, fuse_a=part.rating_a))
            case LoadPart():
                made.append(coil_of(part, tag, (tail, head)))
            case ContactPart():
                coils = tuple(f"{place}/{load}" for load in part.worked_by)
                made.append(Contact(tag, tail, head, coils, normally_closed=part.normally == "closed"))
            case SwitchPart():
                made.append(Switch(tag, tail, head, normally_closed=part.normally == "closed"))
            case ResistorPart():
                made.append(Impedance(tag, tail, head, part.ohm))
            case LinkPart():
                made.append(Impedance(tag, tail, head, JOINT_OHM))
    return made


def source_of(part: TransformerPart, tag: Tag, ends: tuple[str, str], line: float) -> Source:
    """Return a secondary that falls from its no-load voltage to its rated one at rated current, times the line."""
    drop_v, full_load_a = part.volts * part.regulation, part.va / part.volts
    return Source(tag, *ends, (part.volts + drop_v) * line, drop_v / full_load_a, rated_va=part.va)


def coil_of(part: LoadPart, tag: Tag, ends: tuple[str, str]) -> Coil:
    """Return a load whose impedance has the size V²/VA and the angle whose cosine is its power factor."""
    sealed_va, sealed_pf = part.va, part.pf
    inrush_va, inrush_pf = part.va_inrush or sealed_va, part.pf_inrush or sealed_pf
    return Coil(
        tag,
        *ends,
        z_out_ohm=cmath.rect(part.volts**2 / inrush_va, math.acos(inrush_pf)),
        z_in_ohm=cmath.rect(part.volts**2 / sealed_va, math.acos(sealed_pf)),
        pull_in_v=part.pull_in * part.volts,
        drop_out_v=part.drop_out * part.volts,
        delay_s=part.delay_s,
    )


def bench(kind: Kind, line: float = 1.0) -> Netlist:
    """Return a kind at place ``it``, with a supply if it brings none, and a switch to every terminal and pair."""
    made = branches_of(kind, "it", line)
    hot = f"it.{kind.supply}" if kind.supply else "bench.hot"
    if not any(isinstance(branch, Source) for branch in made) and kind.common:
        made.append(source_of(BENCH, "bench/supply", (f"it.{kind.common}", hot), line))
        if kind.zones:  # a zone panel's outputs belong to the equipment's circuit, which has a supply of its own
            made.append(source_of(BENCH, "bench/equipment", ("it.C", "it.R"), line))
        elif "R" in kind.terminals:
            made.append(Impedance("bench/to R", hot, "it.R", JOINT_OHM))
    for terminal in kind.terminals:
        feed = f"it.{terminal[0]}R" if terminal[0].isdigit() else hot
        if f"it.{terminal}" != feed:
            made.append(Switch(f"feed {terminal}", feed, f"it.{terminal}"))
    pairs = dict.fromkeys(pair for _, need in kind.requirements() for pair in need.close)
    made.extend(Switch(f"close {a} {b}", f"it.{a}", f"it.{b}") for a, b in pairs)
    return Netlist(tuple(made))


def judged(kind: Kind, settled: Settled) -> frozenset[str]:
    """Return the loads at place ``it`` that are in, without the neutral ones."""
    return frozenset(load.id for load in kind.loads() if not load.neutral and f"it/{load.id}" in settled.coils_in)


def run(case: Case, line: float = 1.0, *, also: Set[Tag] = frozenset()) -> Settled:
    """Settle a case on its bench, with further switches acted."""
    return settle(bench(case.kind, line), operated=case.operated() | also)


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_call_brings_on_the_loads_it_promises_and_no_others(case: Case, line: float) -> None:
    """With the call's terminals fed, all promised loads are in and no load beyond those that may be."""
    on = judged(case.kind, run(case, line))
    assert case.on <= on
    assert on <= case.on | case.may


@pytest.mark.parametrize("case", CASES, ids=str)
def test_when_a_call_ends_every_load_falls_out(case: Case) -> None:
    """Nothing holds itself in, and nothing is on before a call."""
    during = run(case, 1.1)
    after = settle(bench(case.kind, 1.1), coils_in=during.coils_in)
    before = settle(bench(case.kind, 1.1))
    assert judged(case.kind, after) == judged(case.kind, before) == frozenset()


def runs_its_own_fan(case: Case) -> bool:
    """Return whether some promised load besides the fan's own input works the fan, as interlocked strips do."""
    contacts = [part for part in case.kind.parts if isinstance(part, ContactPart) and "fan-input" in part.worked_by]
    return any(case.on & {*contact.worked_by} for contact in contacts)


@pytest.mark.parametrize("case", [c for c in CASES if "G" in c.energise and not runs_its_own_fan(c)], ids=str)
def test_the_fan_terminal_is_never_asked_for_in_vain(case: Case) -> None:
    """Where G is among the terminals to be fed and nothing else runs the fan, leaving G out loses a promised load."""
    without = case.operated() - {"feed G"}
    assert case.on - judged(case.kind, settle(bench(case.kind), operated=without))


@pytest.mark.parametrize("case", [case for case in CASES if "fan" in case.kind.calls], ids=str)
def test_the_fan_on_top_of_a_call_adds_nothing_but_the_fan(case: Case) -> None:
    """A call keeps its loads, and only loads of the fan call can join them, when the control calls the fan too."""
    fan = case.kind.calls["fan"]
    on = judged(case.kind, run(case, also={f"feed {terminal}" for terminal in fan.energise}))
    assert case.on <= on <= case.on | case.may | {*fan.on, *fan.may}


@pytest.mark.parametrize("name", NAMES)
def test_a_higher_stage_includes_the_lower_one(name: str) -> None:
    """The terminals and loads of a stage are among those of the next stage of the same word."""
    calls = KINDS[name].calls
    for call, need in calls.items():
        word, _, number = call.rpartition(" ")
        lower = {other: low for other, low in calls.items() if word and other == f"{word} {int(number) - 1}"}
        for low in lower.values():
            assert set(low.energise) <= set(need.energise)
            assert set(low.on) <= set(need.on)


@pytest.mark.parametrize("name", [name for name in NAMES if KINDS[name].loads()])
def test_every_load_can_be_brought_on_from_the_terminals(name: str) -> None:
    """No load hangs where nothing can reach it: each comes in with one terminal, all of them, or a promised call."""
    kind, netlist = KINDS[name], bench(KINDS[name])
    feeds = {branch.tag for branch in netlist.of(Switch) if not branch.tag.startswith("it/")}
    tries = [frozenset({feed}) for feed in sorted(feeds)] + [frozenset(feeds)]
    tries += [case.operated() for case in CASES if case.kind is kind]
    reached = frozenset[str]().union(*(settle(netlist, operated=operated).coils_in for operated in tries))
    assert {f"it/{load.id}" for load in kind.loads()} <= reached


@pytest.mark.parametrize("name", NAMES)
def test_every_inner_node_joins_two_parts(name: str) -> None:
    """A node inside the equipment that only one part touches would be a slip of the pen."""
    kind = KINDS[name]
    ends = [end for part in kind.parts for end in part.between if end not in kind.terminals]
    assert [node for node in dict.fromkeys(ends) if ends.count(node) < 2] == []


def safety_switches(kind: Kind) -> list[str]:
    """Return a kind's limits, floats and pressure switches: closed until something is wrong."""
    by_itself = {switch for state in kind.conditions.values() for switch in state.acts}
    return [p.id for p in kind.parts if isinstance(p, SwitchPart) and p.normally == "closed" and p.id not in by_itself]


@pytest.mark.parametrize(
    ("name", "switch"), [(n, s) for n in NAMES if KINDS[n].calls for s in safety_switches(KINDS[n])]
)
def test_every_safety_switch_stops_something(name: str, switch: str) -> None:
    """In some call an open limit takes a promised load away, and in no call does it bring one on."""
    stopped = 0
    for case in cases_of(KINDS[name]):
        on, with_limit = judged(case.kind, run(case)), judged(case.kind, run(case, also={f"it/{switch}"}))
        assert with_limit <= on
        stopped += len(case.on - with_limit)
    assert stopped > 0


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("case", [case for case in CASES if case.kind.never], ids=str)
def test_no_promised_call_breaks_a_never_rule(case: Case, line: float) -> None:
    """In every call of the kind, a load that must not be on alone has its companion."""
    on = judged(case.kind, run(case, line))
    assert not any(rule.on in on and rule.without not in on for rule in case.kind.never)


STRIPS = tuple(name for name in NAMES if any(load.id.startswith("strip-") for load in KINDS[name].loads()))


@pytest.mark.parametrize("name", STRIPS)
def test_strips_called_without_the_fan_run_alone_unless_interlocked(name: str) -> None:
    """W without G breaks the rule where there is no interlock; an interlock starts the fan, and without it the rule bites."""
    kind, netlist = KINDS[name], bench(KINDS[name])
    feeds = {f"feed {terminal}" for terminal in kind.terminals if terminal.startswith("W")}
    strips = {load.id for load in kind.loads() if load.id.startswith("strip-")}
    assert {(rule.on, rule.without) for rule in kind.never} == {(strip, "fan-relay") for strip in strips}
    interlock = kind.part("fan-contact") is not None
    assert interlock == (name.endswith("-interlock") or name.startswith("packaged"))
    with_fan = {"fan-relay"} if interlock else set[str]()
    assert judged(kind, settle(netlist, operated=feeds)) == strips | with_fan
    for feed in feeds:  # each strip has its own way to the fan, not only the first
        on = judged(kind, settle(netlist, operated={feed}))
        assert len(on & strips) == 1
        assert on - strips == with_fan
    if interlock:
        cut = Netlist(tuple(branch for branch in netlist.branches if branch.tag != "it/fan-contact"))
        assert judged(kind, settle(cut, operated=feeds)) == strips


def test_an_open_water_limit_stops_the_burner_but_not_the_circulator() -> None:
    """A hot boiler's heat must go somewhere: the limit takes the gas valve away and leaves the circulator."""
    kind = KINDS["boiler-gas-circuit"]
    assert judged(kind, settle(bench(kind), operated={"feed W", "it/aquastat"})) == {"circulator"}


OWN_SUPPLY = [case for case in CASES if any(isinstance(part, TransformerPart) for part in case.kind.parts)]


@pytest.mark.parametrize("case", OWN_SUPPLY, ids=str)
def test_a_kinds_own_transformer_and_fuse_carry_its_own_calls(case: Case) -> None:
    """At rest in a call no transformer gives more than its rating, and no fuse carries more than three quarters of its own."""
    for line in LINES:
        settled = run(case, line)
        for source in settled.solution.netlist.of(Source):
            assert settled.solution.va(source.tag) <= source.rated_va * line**2
        for fuse in settled.solution.netlist.of(Impedance):
            assert not fuse.fuse_a or abs(settled.solution.current_a(fuse.tag)) <= 0.75 * fuse.fuse_a


PANELS = ("zone-panel-2", "zone-panel-3")


def live_outputs(settled: Settled) -> set[str]:
    """Return the equipment terminals of a zone panel that stand at supply voltage."""
    return {t for t in ("W", "Y", "G") if abs(settled.solution.between(f"it.{t}", "it.C") or 0) > 20}


@pytest.mark.parametrize("name", PANELS)
def test_a_zone_panel_passes_on_any_zones_call_and_heat_goes_first(name: str) -> None:
    """W for heat, Y and G for cooling, G for the fan, from every zone; with heat in one zone, cooling elsewhere waits."""
    kind, netlist = KINDS[name], bench(KINDS[name])
    passes = {"heat 1": {"W"}, "cool 1": {"Y", "G"}, "fan": {"G"}}
    for zone, calls in kind.zones.items():
        assert calls.keys() == passes.keys()
        for call, need in calls.items():
            settled = settle(netlist, operated={f"feed {terminal}" for terminal in need.energise})
            assert live_outputs(settled) == passes[call]
            assert {f"it/damper-{zone}"} == {tag for tag in settled.coils_in if tag.startswith("it/damper")}
    for a, b in product(kind.zones, repeat=2):
        if a != b:
            both = settle(netlist, operated={f"feed {a}W", f"feed {b}Y", f"feed {b}G"})
            assert live_outputs(both) == {"W", "G"}


@pytest.mark.parametrize("name", PANELS)
def test_a_zone_panel_never_joins_its_two_supplies(name: str) -> None:
    """With every input live there is still no path between the panel's own transformer and the equipment's."""
    kind, netlist = KINDS[name], bench(KINDS[name])
    inputs = frozenset(f"feed {zone}{letter}" for zone in kind.zones for letter in "WYG")
    for operated in (frozenset[Tag](), inputs):
        settled = settle(netlist, operated=operated)
        assert len(judged(kind, settled)) == (len(kind.loads()) - 1 if operated else 0)
        assert settled.solution.between("it.C", "it.S2") is None


def join(*pairs: tuple[str, str], ohm: float = JOINT_OHM) -> list[Branch]:
    """Return conductors between terminals."""
    return [Impedance(f"wire {a} to {b}", a, b, ohm) for a, b in pairs]


@pytest.mark.parametrize("name", PANELS)
def test_a_zone_panel_feeds_every_zones_control(name: str) -> None:
    """Each zone's R and C stand at the panel's own supply voltage with nothing called."""
    settled = settle(bench(KINDS[name]))
    supply_v = abs(settled.solution.between("it.S1", "it.S2") or 0)
    assert supply_v > 24
    for zone in KINDS[name].zones:
        assert abs(settled.solution.between(f"it.{zone}R", f"it.{zone}C") or 0) == pytest.approx(supply_v, rel=0.01)


@pytest.mark.parametrize(("name", "switch"), [("float-switch", "float"), ("limit-switch", "limit")])
def test_a_switch_in_series_lets_a_call_through_until_it_acts(name: str, switch: str) -> None:
    """F1 and F2 are joined as found, and parted when the pan is full or the limit passed."""
    netlist = Netlist((Source("supply", "common", "it.F1", 24.0, 1.0), *branches_of(KINDS[name], "it")))
    assert settle(netlist).solution.between("it.F1", "it.F2") is not None
    assert settle(netlist, operated={f"it/{switch}"}).solution.between("it.F1", "it.F2") is None


SHARING_CALLS = {"off": set[str](), "fan": {"G"}, "cool": {"Y"}, "cool and fan": {"Y", "G"}}
SHARING_LOADS = {"off": set[str](), "fan": {"fan"}, "cool": {"fan", "cool"}, "cool and fan": {"fan", "cool"}}


def shared(volts: float, wire_ohm: float, leak_ohm: float | None = None) -> Netlist:
    """Return both pieces of the sharing adapter on a stiff supply, with a control's outputs Y and G."""
    made = [
        Source("supply", "board.C", "board.R", volts, 0.01),
        *branches_of(KINDS["sharing-adapter-board"], "board"),
        *branches_of(KINDS["sharing-adapter-wall"], "wall"),
        *join(("wall.SH", "board.SH"), ("control.R", "board.R"), ohm=wire_ohm),
        *(Switch(f"out {t}", "control.R", f"wall.{t}", z_open_ohm=leak_ohm) for t in ("Y", "G")),
    ]
    return Netlist(tuple(made))


@pytest.mark.parametrize("leak_ohm", [None, 24_000.0])
@pytest.mark.parametrize("wire_ohm", [0.01, 5.0])
@pytest.mark.parametrize("volts", [20.0, 24.0, 27.0, 30.0])
def test_the_sharing_adapter_tells_its_levels_apart_whatever_went_before(
    volts: float, wire_ohm: float, leak_ohm: float | None
) -> None:
    """From 20 to 30 V, over long wire, with 1 mA of output leakage, what comes through depends on the call alone."""
    netlist = shared(volts, wire_ohm, leak_ohm)
    for before, after in product(SHARING_CALLS, repeat=2):
        first = settle(netlist, operated={f"out {t}" for t in SHARING_CALLS[before]})
        then = settle(netlist, operated={f"out {t}" for t in SHARING_CALLS[after]}, coils_in=first.coils_in)
        assert then.coils_in == {f"board/{load}-sense" for load in SHARING_LOADS[after]}


def test_the_sharing_adapter_promises_what_comes_through() -> None:
    """The board's own calls name the senses that the circuit brings in, and heat asks nothing of it."""
    calls = KINDS["sharing-adapter-board"].calls
    for call, told in (("fan", calls["fan"]), ("cool", calls["cool 1"])):
        settled = settle(shared(24.0, 0.5), operated={f"out {terminal}" for terminal in SHARING_CALLS[call]})
        assert settled.coils_in == {f"board/{load}" for load in told.on}
    assert all(not need.on for call, need in calls.items() if "heat" in call)


@pytest.mark.parametrize("volts", [20.0, 30.0])
def test_the_sharing_adapter_has_room_between_its_levels(volts: float) -> None:
    """At the fan level the fan sense has a quarter to spare and the cooling sense is a tenth below its release."""
    board = {load.id: load for load in KINDS["sharing-adapter-board"].loads()}
    fan = settle(shared(volts, 5.0), operated={"out G"})
    level_v = abs(fan.solution.across("board/cool-sense"))
    assert level_v >= 1.25 * board["fan-sense"].pull_in * board["fan-sense"].volts
    assert level_v <= 0.9 * board["cool-sense"].drop_out * board["cool-sense"].volts


def test_the_sharing_adapters_resistor_is_bypassed_while_both_calls_are_made() -> None:
    """With Y and G made together the resistor carries nothing to speak of, so cooling loses no voltage to it."""
    both = settle(shared(24.0, 0.5), operated={"out Y", "out G"})
    assert abs(both.solution.current_a("wall/fan-resistor")) < 1e-6
    assert abs(both.solution.across("board/cool-sense")) == pytest.approx(24.0, abs=0.1)


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("call", SHARING_CALLS)
def test_fan_and_compressor_follow_their_calls_through_the_sharing_adapter(call: str, line: float) -> None:
    """With an air handler and an outdoor unit behind it, relay and contactor do what the control asks, line ±10 %."""
    made = [
        *(b for name, place in (("air-handler", "indoor"), ("condensing-unit-1", "outdoor"), ("sharing-adapter-board", "board"),
                                ("sharing-adapter-wall", "wall")) for b in branches_of(KINDS[name], place, line)),
        *join(("board.R", "indoor.R"), ("board.C", "indoor.C"), ("board.G", "indoor.G"), ("board.Y", "outdoor.Y")),
        *join(("outdoor.C", "indoor.C"), ("wall.SH", "board.SH"), ("control.R", "indoor.R"), ohm=0.5),
        *(Switch(f"out {t}", "control.R", f"wall.{t}") for t in ("Y", "G")),
    ]  # fmt: skip
    settled = settle(Netlist(tuple(made)), operated={f"out {t}" for t in SHARING_CALLS[call]})
    works = {"fan": "indoor/fan-relay", "cool": "outdoor/contactor"}
    assert settled.coils_in - {"board/fan-sense", "board/cool-sense"} == {works[load] for load in SHARING_LOADS[call]}


@pytest.mark.parametrize(
    ("starter", "load", "pair"),
    [("zone-valve-motor", "motor", ("E1", "E2")), ("zone-valve-heat-motor", "motor", ("E1", "E2")), ("circulator-relay", "coil", ("X1", "X2"))],
)  # fmt: skip
def test_an_end_switch_starts_the_boiler_after_its_own_load_and_joins_no_supplies(
    starter: str, load: str, pair: tuple[str, str]
) -> None:
    """The boiler's relay pulls in only once the valve or relay has, and the two circuits stay apart."""
    kind = KINDS[starter]
    hot = next(terminal for terminal in kind.calls["heat 1"].energise)
    made = [
        *branches_of(kind, "valve"),
        *branches_of(KINDS["boiler-start-pair"], "boiler"),
        source_of(BENCH, "supply", (f"valve.{kind.common}", "hot"), 1.0),
        Switch("call", "hot", f"valve.{hot}"),
        *join((f"valve.{pair[0]}", "boiler.T1"), (f"valve.{pair[1]}", "boiler.T2")),
    ]
    settled = settle(Netlist(tuple(made)), operated={"call"})
    assert [step.pulled_in for step in settled.steps] == [(f"valve/{load}",), ("boiler/burner-relay",)]
    assert settled.solution.between(f"valve.{kind.common}", "boiler/inner") is None


@pytest.mark.parametrize(
    ("pump", "handler"),
    [(p, h) for p in NAMES if p.startswith("heat-pump") for h in ("air-handler-strips-1", "air-handler-strips-1-interlock")],
)  # fmt: skip
def test_defrost_turns_the_valve_and_brings_on_the_strips_with_the_fan_running(pump: str, handler: str) -> None:
    """W of the outdoor unit is dead in heating, calls the strip in defrost, and the fan called by the control goes with it."""
    kind = KINDS[pump]
    calls = kind.calls["heat 1"].energise
    made = [
        *branches_of(kind, "outdoor"),
        *branches_of(KINDS[handler], "indoor"),
        *join(("outdoor.R", "indoor.R"), ("outdoor.C", "indoor.C"), ("outdoor.W", "indoor.W1")),
        *(Switch(f"out {t}", "indoor.R", f"outdoor.{t}") for t in calls),
        Switch("out G", "indoor.R", "indoor.G"),
    ]
    netlist = Netlist(tuple(made))
    asked = {"out G", *(f"out {t}" for t in calls)}
    heating = settle(netlist, operated=asked)
    acts = {f"outdoor/{switch}" for switch in kind.conditions["defrost"].acts}
    defrost = settle(netlist, operated=asked | acts, coils_in=heating.coils_in)
    assert "indoor/strip-1" not in heating.coils_in
    assert {"indoor/strip-1", "indoor/fan-relay", "outdoor/contactor"} <= defrost.coils_in
    assert ("outdoor/reversing-valve" in heating.coils_in) == pump.endswith("-b")
    assert ("outdoor/reversing-valve" in defrost.coils_in) == pump.endswith("-o")


@pytest.mark.parametrize("name", [name for name in NAMES if name.startswith(("heat-pump", "packaged-unit-heat-pump"))])
def test_defrost_feeds_nothing_back_to_the_controls_changeover(name: str) -> None:
    """While the unit defrosts, its board holds the valve; the control's O or B gets no voltage that it did not give."""
    kind = KINDS[name]
    changeover = next(terminal for terminal in ("O", "B") if terminal in kind.terminals)
    acts = {f"it/{switch}" for switch in kind.conditions["defrost"].acts}
    settled = settle(bench(kind), operated=acts)
    assert abs(settled.solution.between(f"it.{changeover}", "it.C") or 0) < 0.1


def test_every_kind_that_moves_air_for_others_answers_with_a_fan() -> None:
    """What a kind does when air is needed is a fan relay, and every kind with a fan call has one, unless it cools itself."""
    for kind in KINDS.values():
        if kind.air is not None:
            assert "fan-relay" in kind.air.on
        elif "fan" in kind.calls and kind.group != "adapter":
            assert any(call.startswith("cool") for call in kind.calls)


@pytest.mark.parametrize(
    ("name", "pair"),
    [("isolation-relay", ("X1", "X2")), ("circulator-relay", ("X1", "X2")), *((name, ("E1", "E2")) for name in NAMES if name.startswith("zone-valve"))],
)  # fmt: skip
def test_an_isolated_pair_closes_with_its_coil_and_touches_nothing_else(name: str, pair: tuple[str, str]) -> None:
    """The pair is open at rest, closed with the coil fed, and never has a path to the coil's own circuit."""
    kind = KINDS[name]
    feed = next(f"feed {t}" for t in kind.terminals if t != kind.common and t not in pair)
    a, b = (f"it.{terminal}" for terminal in pair)
    netlist = Netlist(
        tuple(
            branch
            for branch in bench(kind).branches
            if branch.tag in {feed, "bench/supply"} or branch.tag.startswith("it/")
        )
    )
    for operated in (frozenset[Tag](), frozenset({feed})):
        solution = settle(netlist, operated=operated).solution
        assert (solution.between(a, b) is not None) == bool(operated)
        assert solution.between(a, f"it.{kind.common}") is None
