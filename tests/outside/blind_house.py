"""A house with something wrong in it, as ngspice solves it: nothing here is solved by the engine that is on trial.

The survey and the catalogue say which branches there are. From there on all is done again: the deck is written here,
which points are joined is found here, coils act by ngspice's voltages here. No two houses are alike: line, loads, copper,
windings and the wakefulness of controls are drawn for each, and a fuse that a short has melted stays open.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from subbase.catalog import Catalog
from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Source, Switch
from subbase.survey import Survey
from subbase.wiring import House, Settings, State, build_house, legal_states, outputs_on, settings_for
from subbase.wiring.build import Corner
from tests.outside.spice_runner import spice_library

HERTZ = 60.0
MELTS_AT = 1.5
"""Times its rating, steadily, at which a fuse is open before anybody comes: past 1.35 a blade fuse must melt in ten
minutes (ISO 8820-3, from memory)."""
DISPLAY_LEAST_V = 10.0
"""A control's electronics die somewhere between this and the least volts that its maker promises for (judgement)."""
ELECTRONICS_OL = 0.3
"""Of boards, inputs and controls that show OL to an ohmmeter; the others show some resistance (judgement)."""
INPUT_OHM = 500.0
"""A load without inductance above this is the input of a board; below it is a heater, as of a sequencer or heat motor."""
PROBE_A = 1e-6
OL_OHM = 40e6


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong, as what becomes of branches and settings."""

    kind: str
    words: str
    about: tuple[str, ...]
    """Branch tags, or for a short its two nodes."""
    becomes: tuple[tuple[str, Branch | None], ...] = ()
    """(tag, what it becomes); None when it is gone; a tag that is not there yet is added."""
    settings: tuple[tuple[str, Settings], ...] = ()
    stuck_out: frozenset[str] = frozenset()
    """Coils that never pull in."""


@dataclass(frozen=True, slots=True)
class AtRest:
    """One call after the relays have come to rest, or where they never do, one moment of it."""

    coils_in: frozenset[str]
    restless: frozenset[str]
    volts: dict[str, complex]
    island: dict[str, int]

    def between(self, a: str, b: str) -> float | None:
        """Return the volts between two nodes, or None where no path joins them."""
        if a not in self.island or self.island[a] != self.island.get(b, -1):
            return None
        return abs(self.volts[a] - self.volts[b])


class BlindHouse:
    """One house with its own tolerances and faults; a person may only look, listen and measure."""

    def __init__(self, survey: Survey, catalog: Catalog, faults: Sequence[Fault], rng: Random) -> None:
        corner = Corner(
            "drawn", rng.uniform(0.95, 1.05), rng.uniform(0.9, 1.1), 1.0, conductor_c=rng.uniform(0.0, 40.0)
        )
        self.survey, self.catalog = survey, catalog
        self.house: House = build_house(survey, catalog, corner=corner)
        self.settings: dict[str, Settings] = {c: settings_for(survey, catalog, c) for c in survey.controls}
        self.stuck_out: frozenset[str] = frozenset().union(*(fault.stuck_out for fault in faults))
        drawn = {branch.tag: _drawn(branch, rng) for branch in self.house.netlist.branches}
        for fault in faults:
            self.settings.update(fault.settings)
            for tag, branch in fault.becomes:
                if branch is None:
                    drawn.pop(tag, None)
                else:
                    drawn[tag] = _on_this_line(branch, self.house)
        self.branches: tuple[Branch, ...] = tuple(drawn.values())
        neutral = {tag for tag, load in self.house.loads.items() if load.neutral}
        windings = rng.random()  # by name, so that a part that is gone moves no other's
        self._dc_ohm = {b.tag: _dc_ohm(b, Random(f"{windings} {b.tag}"), neutral) for b in self.branches}
        self._dies_v = {
            name: rng.uniform(DISPLAY_LEAST_V, max(DISPLAY_LEAST_V, control.old.least_v))
            for name, control in survey.controls.items()
        }
        self._kept: dict[object, AtRest] = {}
        self.melted: tuple[str, ...] = ()
        self._melt()

    @property
    def single_calls(self) -> tuple[State, ...]:
        """Every state that a person can bring about by asking for at most one call at one control."""
        states = legal_states(self.survey, self.catalog)
        return tuple(s for s in states if s.condition is None and sum(len(calls) for _, calls in s.calls) <= 1)

    def awake(self, control: str) -> bool:
        """Return whether a control's electronics have enough to work; those that need no common always do."""
        profile = self.survey.controls[control].old
        power = profile.power_terminal()
        if profile.power != "common" or profile.battery or power is None:
            return True
        volts = self._settled(frozenset()).between(f"{control}.{power}", f"{control}.C")
        return volts is not None and volts >= self._dies_v[control]

    def display(self, control: str) -> bool | None:
        """Return whether the display shows something; None where there is none to look at."""
        return self.awake(control) if self.survey.controls[control].old.power == "common" else None

    def in_call(self, state: State, meter: Impedance | None = None) -> AtRest:
        """Return what ngspice makes of a call, with a meter held somewhere or none."""
        operated: set[str] = set()
        for control, calls in state.calls:
            if self.awake(control):
                made = outputs_on(self.survey.controls[control].old, self.settings[control], calls)
                operated |= {f"{control}/{output}" for output in made}
        return self._settled(frozenset(operated), meter)

    def fed(self, tag: str, state: State) -> bool:
        """Return whether a load has most of its rated volts."""
        branch = self.house.netlist.by_tag[tag]
        volts = self.in_call(state).between(branch.tail, branch.head)
        return (
            volts is not None and volts > 0.6 * self.house.loads[tag].volts and any(b.tag == tag for b in self.branches)
        )

    def loads_on(self, state: State) -> frozenset[str]:
        """Return the loads that a person sees or hears working; one that chatters is not taken to work."""
        seen = {tag for tag, load in self.house.loads.items() if not load.neutral}
        at_rest = self.in_call(state)
        return (at_rest.coils_in - at_rest.restless) & seen

    def ohms(self, a: str, b: str) -> float:
        """Return the resistance between two nodes with supplies locked out [ohm]; infinite for OL."""
        dead = tuple(self._dead())
        island = _islands(dead, frozenset(), frozenset())
        if a not in island or island[a] != island.get(b, -1):
            return math.inf
        volts = _run(dead, frozenset(), frozenset(), island, extra=[("Iprobe", b, a)])
        ohm = abs(volts[a] - volts[b]) / PROBE_A
        return ohm if ohm <= OL_OHM else math.inf

    def _dead(self) -> Iterator[Branch]:
        for branch in self.branches:
            ohm = self._dc_ohm[branch.tag]
            if math.isinf(ohm) or branch.tag in self.melted:
                continue
            yield Impedance(branch.tag, branch.tail, branch.head, ohm)

    def _settled(self, operated: frozenset[str], meter: Impedance | None = None) -> AtRest:
        key = (operated, self.melted, meter)
        if key not in self._kept:
            start = self._settled(operated).coils_in if meter is not None else frozenset()
            branches = [b for b in self.branches if b.tag not in self.melted] + ([meter] if meter is not None else [])
            self._kept[key] = _come_to_rest(branches, operated, start, self.stuck_out)
        return self._kept[key]

    def _melt(self) -> None:
        """Open every fuse that a single call overloads, as it has been before anybody came; again until none does."""
        fuses = [b for b in self.branches if isinstance(b, Impedance) and b.fuse_a > 0.0]
        while True:
            for state in self.single_calls:
                at_rest = self.in_call(state)
                for fuse in fuses:
                    if fuse.tag in self.melted:
                        continue
                    volts = at_rest.between(fuse.tail, fuse.head) or 0.0
                    if volts / abs(fuse.z_ohm) > MELTS_AT * fuse.fuse_a:
                        self.melted += (fuse.tag,)
                        break
                else:
                    continue
                break
            else:
                return


def _drawn(branch: Branch, rng: Random) -> Branch:
    """Return a load within 5 % of its value."""
    if isinstance(branch, Coil):
        share = rng.uniform(0.95, 1.05)
        return replace(branch, z_out_ohm=branch.z_out_ohm * share, z_in_ohm=branch.z_in_ohm * share)
    return branch


def _on_this_line(branch: Branch, house: House) -> Branch:
    """Return a supply that was made from the nominal one as the line volts of this house leave it."""
    nominal = house.netlist.by_tag.get(branch.tag)
    if isinstance(branch, Source) and isinstance(nominal, Source):
        part = house.sources[branch.tag]
        return replace(branch, emf_v=branch.emf_v * nominal.emf_v / (part.volts * (1.0 + part.regulation)))
    return branch


def _dc_ohm(branch: Branch, rng: Random, neutral: set[str]) -> float:
    """Return what direct current sees of a branch at rest: windings less than at 60 Hz, electronics nearly anything."""
    share = rng.uniform(0.2, 1.0)
    electronics = math.inf if rng.random() < ELECTRONICS_OL else rng.uniform(0.2, 1.0)
    match branch:
        case Source():
            return max(1e-3, complex(branch.z_ohm).real * share)
        case Coil():
            z_ohm = complex(branch.z_in_ohm)
            is_electronics = z_ohm.imag == 0.0 and (branch.tag in neutral or z_ohm.real > INPUT_OHM)
            return z_ohm.real * (electronics if is_electronics else share)
        case Contact() | Switch():
            return branch.r_closed_ohm if branch.normally_closed else math.inf
        case Impedance():
            z_ohm = complex(branch.z_ohm)
            if branch.tag.endswith("/own draw"):
                return z_ohm.real * electronics
            return z_ohm.real * (share if z_ohm.imag > 0.0 else 1.0)


def _z_ohm(branch: Branch, operated: frozenset[str], coils_in: frozenset[str]) -> complex | None:
    match branch:
        case Coil():
            return branch.z_in_ohm if branch.tag in coils_in else branch.z_out_ohm
        case Switch():
            closed = (branch.tag in operated) != branch.normally_closed
            return branch.r_closed_ohm if closed else branch.z_open_ohm
        case Contact():
            closed = bool(coils_in & set(branch.coils)) != branch.normally_closed
            return branch.r_closed_ohm if closed else branch.z_open_ohm
        case _:
            return branch.z_ohm


def _islands(branches: Sequence[Branch], operated: frozenset[str], coils_in: frozenset[str]) -> dict[str, int]:
    """Return a number for each node, alike for those that a path joins."""
    parent: dict[str, str] = {}

    def top(node: str) -> str:
        while parent.setdefault(node, node) != node:
            node = parent[node]
        return node

    for branch in branches:
        a, b = top(branch.tail), top(branch.head)
        if a != b and _z_ohm(branch, operated, coils_in) is not None:
            parent[a] = b
    numbers: dict[str, int] = {}
    return {node: numbers.setdefault(top(node), len(numbers)) for node in list(parent)}


def _run(
    branches: Sequence[Branch],
    operated: frozenset[str],
    coils_in: frozenset[str],
    island: Mapping[str, int],
    extra: Sequence[tuple[str, str, str]] = (),
) -> dict[str, complex]:
    """Return ngspice's voltage of every node; each island has one joint with ground, so nothing flows there."""
    name = {node: f"n{i}" for i, node in enumerate(island, start=1)}
    lines = ["blind", *(f"* node {name[node]} is {json.dumps(node)}" for node in island)]
    for i, branch in enumerate(branches, start=1):
        z_ohm = _z_ohm(branch, operated, coils_in)
        if z_ohm is None:
            continue
        tail, head = name[branch.tail], name[branch.head]
        if isinstance(branch, Source):
            lines.append(f"V{i} e{i} {tail} DC 0 AC {complex(branch.emf_v).real!r}")
            tail = f"e{i}"
        lines += _passive(str(i), tail, head, complex(z_ohm))
    lines += [f"{tag} {name[a]} {name[b]} DC 0 AC {PROBE_A!r}" for tag, a, b in extra]
    joints = {number: node for node, number in island.items()}
    lines += [f"Vref{number} {name[node]} 0 DC 0 AC 0" for number, node in joints.items()]
    lines += [".options noopac", f".ac lin 1 {HERTZ:g} {HERTZ:g}", ".end"]
    library = spice_library()
    library.load("\n".join(lines) + "\n")
    library.run()
    return library.node_voltages()


def _passive(label: str, tail: str, head: str, z_ohm: complex) -> Iterator[str]:
    if z_ohm.imag == 0.0:
        yield f"R{label} {tail} {head} {z_ohm.real!r}"
        return
    omega = 2.0 * math.pi * HERTZ
    yield f"R{label} {tail} m{label} {max(z_ohm.real, 1e-6)!r}"
    if z_ohm.imag > 0.0:
        yield f"L{label} m{label} {head} {z_ohm.imag / omega!r}"
    else:
        yield f"C{label} m{label} {head} {-1.0 / (omega * z_ohm.imag)!r}"


def _come_to_rest(
    branches: Sequence[Branch], operated: frozenset[str], start: frozenset[str], stuck_out: frozenset[str]
) -> AtRest:
    """Let coils act by ngspice's volts, those with the shortest delay first, until none wants to or a state comes again."""
    coils = [b for b in branches if isinstance(b, Coil) and b.tag not in stuck_out]
    state, seen = start - stuck_out, list[frozenset[str]]()
    while True:
        island = _islands(branches, operated, state)
        volts = _run(branches, operated, state, island)
        seen.append(state)
        wanting = []
        for coil in coils:
            across_v = abs(volts[coil.tail] - volts[coil.head])
            if across_v < coil.drop_out_v if coil.tag in state else across_v >= coil.pull_in_v:
                wanting.append(coil)
        if not wanting:
            return AtRest(state, frozenset(), volts, island)
        first_s = min(coil.delay_s for coil in wanting)
        state ^= {coil.tag for coil in wanting if coil.delay_s == first_s}
        if state in seen:
            cycle = seen[seen.index(state) :]
            restless = frozenset.union(*cycle) - frozenset.intersection(*cycle)
            return AtRest(seen[-1], restless, volts, island)
