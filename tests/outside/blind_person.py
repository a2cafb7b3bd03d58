"""The person on trial with the tool: does what is asked in a blind house, and reads, looks and errs as people do."""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

from subbase.circuit.netlist import Branch, Impedance, Source
from subbase.diagnose.probes import ANSWERS, Probe, Reading
from subbase.survey import split_terminal
from subbase.wiring import State, need_of, system_calls
from tests.outside.blind_house import HERTZ, BlindHouse

WRONG = 0.05
"""Of all answers: the lead slipped, the range was misread, the click was another relay's."""
SHARE, OFFSET_V = 0.01, 0.2
OHM_SHARE, OHM_OFFSET, LEADS_OHM = 0.02, 0.3, 0.2
CLAMP_SHARE, CLAMP_A = 0.02, 0.03
BLINKS = 0.7
"""Of boards that wait for a load: those whose lamp says so (judgement)."""
GHOST_LOADED_OHM = 100e3
"""A meter below this loads a ghost away."""


@dataclass
class Person:
    """Answers probes; every answer costs one reading."""

    house: BlindHouse
    rng: Random
    wrong: int = 0
    """How many answers were wrong."""

    def answer(self, probe: Probe) -> Reading:
        """Return what the person tells of a probe."""
        if probe.kind == "seen":
            return Reading(probe, self._seen(probe))
        if probe.kind == "amps":
            return Reading(probe, self._amps(probe))
        value = self._volts(probe, probe.between) if probe.kind == "volts" else self._ohms(probe.between)
        if self._errs():
            value = self._blunder(probe, value)
        return Reading(probe, value)

    def _errs(self) -> bool:
        errs = self.rng.random() < WRONG
        self.wrong += errs
        return errs

    def _volts(self, probe: Probe, between: tuple[str, str]) -> float:
        a, b = between
        free = self.house.in_call(probe.state)
        if free.between(a, b) is None:
            most_v = max(abs(source.emf_v) for source in self.house.house.netlist.of(Source))
            return round(self.rng.uniform(0.0, most_v), 1) if probe.meter.input_ohm > GHOST_LOADED_OHM else 0.0
        z_ohm = complex(probe.meter.leads_ohm) + 1.0 / (
            1.0 / probe.meter.input_ohm + 2j * math.pi * HERTZ * probe.meter.input_f
        )
        volts = self.house.in_call(probe.state, Impedance("the person's meter", a, b, z_ohm)).between(a, b) or 0.0
        return self._shown(volts, SHARE, OFFSET_V)

    def _shown(self, value: float, share: float, offset: float) -> float:
        return round(max(0.0, value * (1.0 + self.rng.uniform(-share, share)) + self.rng.uniform(-offset, offset)), 1)

    def _ohms(self, between: tuple[str, str]) -> float:
        ohm = self.house.ohms(*between)
        return self._shown(ohm + LEADS_OHM, OHM_SHARE, OHM_OFFSET) if math.isfinite(ohm) else math.inf

    def _amps(self, probe: Probe) -> float:
        at_rest = self.house.in_call(probe.state)
        branch = next((b for b in self.house.branches if b.tag == probe.through), None)
        amps = _current_a(branch, at_rest.between(branch.tail, branch.head)) if branch is not None else 0.0
        if self._errs():
            amps *= self.rng.choice((0.0, 10.0))
        return round(
            max(0.0, amps * (1.0 + self.rng.uniform(-CLAMP_SHARE, CLAMP_SHARE)) + self.rng.uniform(-CLAMP_A, CLAMP_A)),
            2,
        )

    def _blunder(self, probe: Probe, value: float) -> float:
        """Return what a slipped lead, a lead that does not touch, or a misread decimal point gives."""
        a, b = probe.between
        place = split_terminal(b)[0]
        others = [n for n in self.house.house.netlist.nodes() if split_terminal(n)[0] == place and n not in (a, b)]
        slip = self.rng.choice(("another pair", "not touching", "decimal off"))
        if slip == "another pair" and others:
            pair = (a, self.rng.choice(others))
            return self._volts(probe, pair) if probe.kind == "volts" else self._ohms(pair)
        if slip == "decimal off" and math.isfinite(value) and value > 0.0:
            return round(value * self.rng.choice((0.1, 10.0)), 1)
        return 0.0 if probe.kind == "volts" else math.inf

    def _seen(self, probe: Probe) -> str | None:
        if probe.sight == "display":
            shows = self.house.display(probe.about)
            if shows is None:
                return None
            return "on" if shows != self._errs() else "dark"
        if probe.sight in ("acts", "runs"):
            at_rest = self.house.in_call(probe.state)
            if probe.about in at_rest.restless:
                return self.rng.choice(("yes", "no"))
            return "yes" if (probe.about in at_rest.coils_in) != self._errs() else "no"
        answer = self._air(probe) if probe.sight == "air" else self._lamp(probe)
        return self.rng.choice(ANSWERS[probe.sight]) if probe.sight and self._errs() else answer

    def _air(self, probe: Probe) -> str | None:
        """Return what the air does: it moves with the loads of a fan call and is what the fullest heating or cooling makes it."""
        survey, catalog = self.house.survey, self.house.catalog
        on = self.house.loads_on(probe.state)
        needs = {
            call: need_of(survey, catalog, State(((probe.about, frozenset({call})),))).on
            for call in system_calls(survey, catalog, probe.about)
        }
        if "fan" not in needs:
            return None
        if not needs["fan"] <= on:
            return "still"
        made = [(len(need), call) for call, need in needs.items() if call != "fan" and need - needs["fan"] <= on]
        made = [(size, call) for size, call in made if "heat" in call or "cool" in call]
        return "unchanged" if not made else "warm" if "heat" in max(made)[1] else "cold"

    def _lamp(self, probe: Probe) -> str | None:
        """Return what a board's lamp does: most boards blink while they wait for what does not come."""
        boards = [
            tag for tag, load in self.house.house.loads.items() if load.neutral and tag.startswith(f"{probe.about}/")
        ]
        if not boards:
            return None
        if not self.house.fed(boards[0], probe.state):
            return "dark"
        need = {
            t for t in need_of(self.house.survey, self.house.catalog, probe.state).on if t.startswith(f"{probe.about}/")
        }
        on = self.house.in_call(probe.state).coils_in
        waiting = bool(need & on) and not need <= on
        return "blinking" if waiting and Random(f"{probe.about} {need}").random() < BLINKS else "steady"


def _current_a(branch: Branch, across_v: float | None) -> float:
    z_ohm = getattr(branch, "z_ohm", None)
    return across_v / abs(z_ohm) if across_v is not None and z_ohm else 0.0
