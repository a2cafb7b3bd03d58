"""A house with a fault that answers probes: the reference solver with tolerances, ghost voltages, a meter, and mistakes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from subbase.circuit import Coil, Contact, Impedance, Netlist, Settled, Source, settle
from subbase.circuit.changes import Change
from subbase.circuit.ghost import Together, together_in_cable, with_capacitance
from subbase.circuit.meters import ohms_seen, volts_seen
from subbase.circuit.netlist import Branch
from subbase.diagnose.hypothesis import Form, Hypothesis, netlist_of, operated_in
from subbase.diagnose.probes import ANSWERS, Probe, Reading
from subbase.diagnose.sights import air_calls, lamp_of
from subbase.errors import Chatter
from subbase.wiring import OFF, House, State, build_house
from subbase.wiring.build import Corner
from subbase.wiring.outputs import ALIVE_SHARE

GRADED = ("poor joint", "supply weak", "shorted turns", "control overdraws")


@dataclass
class FaultyHouse:
    """The truth; it knows nothing of beliefs."""

    house: House
    forms: tuple[Form, ...]
    netlist: Netlist
    rng: Random
    wrong_share: float = 0.05

    @staticmethod
    def with_faults(
        nominal: House, faults: Sequence[Hypothesis], rng: Random, wrong_share: float = 0.05
    ) -> FaultyHouse:
        """Return a house with one or two faults of random degree, on a random line, with random loads and copper."""
        corner = Corner(
            "random", primary=rng.uniform(0.92, 1.08), regulation=rng.uniform(0.9, 1.1),
            load_va=rng.uniform(0.95, 1.05), conductor_c=rng.uniform(5.0, 40.0),
        )  # fmt: skip
        house = build_house(nominal.survey, nominal.catalog, corner=corner)
        forms = []
        for fault in faults:
            form = rng.choices(fault.forms, [form.share for form in fault.forms])[0]
            forms.append(replace(form, changes=tuple(_at_degree(house, c, fault.kind, rng) for c in form.changes)))
        netlist = netlist_of(house, *forms) if forms else house.netlist
        return FaultyHouse(house, tuple(forms), _with_ghosts(house, netlist, rng), rng, wrong_share)

    def answer(self, probe: Probe) -> Reading:
        """Return what a person reports, mistakes included."""
        if probe.kind == "seen":
            truth = self.sees(probe)
            answers = ANSWERS[probe.sight or "acts"]
            if self.rng.random() < self.wrong_share:
                truth = self.rng.choice([item for item in answers if item != truth])
            return Reading(probe, truth)
        value = self.reads(probe)
        if self.rng.random() < self.wrong_share:
            value = self.rng.uniform(0.0, 28.0) if probe.kind != "ohms" else self.rng.choice((0.4, 60.0, math.inf))
        return Reading(probe, value)

    def reads(self, probe: Probe) -> float:
        """Return what the meter shows, its error and rounding included."""
        if probe.kind == "ohms":
            shares = {b.tag: self.rng.uniform(0.25, 1.0) for b in self.netlist.branches}
            dc_ohm = {}
            for branch in self.netlist.branches:
                if isinstance(branch, Coil):
                    dc_ohm[branch.tag] = complex(branch.z_in_ohm).real * shares[branch.tag]
                elif branch.tag.endswith("/own draw"):
                    dc_ohm[branch.tag] = math.inf
            return ohms_seen(self.netlist, *probe.between, dc_ohm=dc_ohm).ohm
        settled = self.at_rest(probe.state)
        if probe.kind == "amps":
            there = probe.through in settled.solution.netlist.by_tag
            amps = abs(settled.solution.current_a(probe.through)) if there else 0.0
            return round(amps * self.rng.gauss(1.0, 0.02), 2)
        index = settled.solution.netlist.index
        if not set(probe.between) <= index.keys():
            return 0.0
        try:
            volts = volts_seen(settled, *probe.between, meter=probe.meter)
        except Chatter:
            volts = 0.0
        return round(abs(volts * self.rng.gauss(1.0, 0.007) + self.rng.gauss(0.0, 0.05)), 1)

    def at_rest(self, state: State) -> Settled:
        """Return the faulty circuit in a call; of one that chatters, with all coils out."""
        asleep = frozenset() if state == OFF else self.asleep()
        operated = operated_in(self.house, state, *self.forms, asleep=asleep)
        try:
            return settle(self.netlist, operated=operated)
        except Chatter:
            return settle(Netlist(tuple(opened_coil(branch) for branch in self.netlist.branches)), operated=operated)

    def asleep(self) -> frozenset[str]:
        """Return the controls that nothing feeds."""
        solution = self.at_rest(OFF).solution
        found = set()
        for name, control in self.house.survey.controls.items():
            power = control.old.power_terminal()
            if control.old.power == "common" and not control.old.battery and power:
                volts = abs(solution.between(f"{name}.{power}", f"{name}.C") or 0.0)
                if volts < ALIVE_SHARE * control.old.least_v:
                    found.add(name)
        return frozenset(found)

    def sees(self, probe: Probe) -> str:
        """Return what a person with good eyes sees."""
        settled = self.at_rest(probe.state)
        silent = frozenset().union(*(form.silent for form in self.forms))
        without = frozenset().union(*(form.without_effect for form in self.forms))
        always = frozenset().union(*(form.always_running for form in self.forms))
        runs = (settled.coils_in - without) | always
        match probe.sight:
            case "display":
                return "dark" if probe.about in silent | self.asleep() else "on"
            case "acts":
                return "yes" if probe.about in settled.coils_in else "no"
            case "runs":
                return "yes" if probe.about in runs else "no"
            case "air":
                movers, makers = air_calls(self.house, probe.about)
                done = [(len(loads), what) for what, loads in makers if loads <= runs]
                if movers and not movers <= runs:
                    return "still"
                return max(done)[1] if done else ("unchanged" if movers else "still")
            case _:
                tag = lamp_of(self.house, probe.about) or ""
                branch = self.netlist.by_tag.get(tag)
                lit = branch is not None and abs(settled.solution.across(tag)) > 14.4
                return "steady" if lit else "dark"


def _at_degree(house: House, change: Change, kind: str, rng: Random) -> Change:
    """Return a change of the nominal house made to fit this one, and of another degree where it has one."""
    becomes, old = change.becomes, house.netlist.by_tag.get(change.tag)
    if isinstance(becomes, Source) and isinstance(old, Source):
        nominal_v = 1.0 if kind != "supply weak" else rng.uniform(0.97, 1.03)
        ratio = abs(becomes.emf_v) / 27.0
        turned = -1.0 if complex(becomes.emf_v).real < 0.0 else 1.0
        emf = turned * old.emf_v * (ratio if 0.5 < ratio < 1.3 else 1.0) * nominal_v
        return Change(change.tag, replace(becomes, emf_v=emf))
    if isinstance(becomes, Impedance) and kind in GRADED:
        return Change(change.tag, replace(becomes, z_ohm=becomes.z_ohm * math.exp(rng.uniform(-0.6, 0.6))))
    return change


def opened_coil(branch: Branch) -> Branch:
    """Return a coil as what it shows while it is out, and a contact as one that nothing works."""
    if isinstance(branch, Coil):
        return Impedance(branch.tag, branch.tail, branch.head, branch.z_out_ohm)
    return replace(branch, coils=()) if isinstance(branch, Contact) else branch


def _with_ghosts(house: House, netlist: Netlist, rng: Random) -> Netlist:
    runs: list[Together] = []
    for name, cable in house.survey.cables.items():
        ends = []
        for conductor in cable.conductors:
            branch = netlist.by_tag.get(f"{name}/{conductor}") or house.netlist.by_tag.get(f"{name}/{conductor}")
            if branch is None:
                continue
            ends.append(branch.tail)
        assert isinstance(cable.length_m, float)
        runs.extend(together_in_cable(ends, cable.length_m))
    return with_capacitance(netlist, runs, f_per_m=rng.uniform(60e-12, 130e-12))
