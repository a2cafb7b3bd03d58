"""Homes that share a wiring structure and differ in cable lengths and gauges alone, chosen for together.

The planner is run once, on one of the homes, and every circuit that it settles and every proof that it makes is kept.
Then the batched engine solves those same circuits for all the other homes at once: each conductor becomes a row of
switches, one for each resistance that some home has there, so that a home is a switch state. What the planner decided by a
number (a coil pulls in, a load is starved, a fuse holds, a margin is enough, a route is weaker than today) is decided
again for every home. Where all of it comes out the same, the planner could not have chosen otherwise, and the home has
the same choice with a margin of its own. A home in which any of it differs, or stands within a billionth of its limit, is
left to be planned alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from subbase.catalog import Catalog
from subbase.circuit import Coil, Impedance, Netlist, Solution, Switch, conductor_ohm
from subbase.circuit.batch import Bools, Compiled, Complexes, compile_netlist, solve_states
from subbase.circuit.settle import Settling, watched_settling
from subbase.circuit.solve import impedance_ohm
from subbase.fleet.margins import margins_and_verdicts
from subbase.fleet.needed import Needed, Recorded, needed_parts
from subbase.plan.choose import MARGIN_GIVEN, HousePlan, choose
from subbase.plan.landings import ENOUGH_MARGIN
from subbase.plan.nets import control_cables
from subbase.plan.proof import watched_proofs
from subbase.plan.result import ControlPlan
from subbase.plan.routes import cable_part
from subbase.survey import Survey, Unknown

Floats = NDArray[np.float64]
NEAR = 1e-9
"""A number this close to its limit (as a share of it) is not trusted to fall on the same side for another home."""
LEAST_TOGETHER = 3
"""For fewer homes than this, to plan each alone is quicker (measured)."""
MOST_TOGETHER = 256
NEW_CABLE = "new cable"
"""The route, and the cable of it, that is cut to the length of the house."""


@dataclass(frozen=True, slots=True, eq=False)
class Lanes:
    """One recorded settling, solved for every home: voltages of each state on the way, the one at rest last."""

    settling: Settling
    volts: tuple[Complexes, ...]
    """For each state on the path, (n_home, n_node) [V rms]."""

    def across(self, tag: str, *, step: int = -1) -> Complexes:
        """Return the voltage from tail to head of a branch in every home [V rms]."""
        branch = self.settling.netlist.by_tag[tag]
        return self.between(branch.tail, branch.head, step=step)

    def between(self, a: str, b: str, *, step: int = -1) -> Complexes:
        """Return the voltage of ``a`` above ``b`` in every home [V rms]; 0 where no path joins them."""
        solution, volts = self.settling.path[step], self.volts[step]
        index = solution.netlist.index
        i, j = index.get(a, -1), index.get(b, -1)
        if i < 0 or j < 0 or solution.reference[i] != solution.reference[j]:
            return np.zeros(len(volts), dtype=np.complex128)
        return volts[:, i] - volts[:, j]

    def current_a(self, tag: str) -> Floats:
        """Return the size of the current in a branch that no home has otherwise [A rms]."""
        solution = self.settling.path[-1]
        branch = solution.netlist.by_tag[tag]
        z_ohm = impedance_ohm(branch, solution.operated, solution.coils_in)
        across_v = self.across(tag)
        if z_ohm is None:
            return np.zeros(len(across_v))
        emf_v = getattr(branch, "emf_v", 0j)
        return np.abs((across_v + emf_v) / z_ohm)


def choose_alike(surveys: Sequence[Survey], catalog: Catalog) -> list[HousePlan]:
    """Return what ``choose`` says of each house; they may differ in lengths and gauges only, and have no unknowns.

    Of a house chosen for together with others, the margin of the whole proof is its own; the routes hold the proofs of the
    first house.
    """
    found: dict[int, HousePlan] = {}
    left = list(range(len(surveys)))
    while left:
        for index, plan in _round([surveys[index] for index in left[:MOST_TOGETHER]], catalog).items():
            found[left[index]] = plan
        left = [index for index in left if index not in found]
    return [found[index] for index in range(len(surveys))]


def _round(surveys: Sequence[Survey], catalog: Catalog) -> dict[int, HousePlan]:
    """Plan the first house, and say which of the others have its choice; more than the first, or it alone."""
    recorded = Recorded([], [])
    with watched_settling(recorded.settlings.append), watched_proofs(recorded.proved):
        first = choose(surveys[0], catalog, brief=True)
    found = {0: first}
    if len(surveys) < LEAST_TOGETHER or first.proof is None or not _may_share(surveys[0], first, recorded.settlings):
        return found
    scales = [_scales(surveys[0], survey) for survey in surveys]
    able = [at for at, scale in enumerate(scales) if not np.isnan(scale.get(NEW_CABLE, 1.0))]
    margin = np.full(len(surveys), np.nan)
    known = _same(recorded, first, [scales[at] for at in able], catalog) if len(able) > 1 else None
    if known is not None:
        margin[able] = known
    for at in range(1, len(surveys)):
        if not np.isnan(margin[at]):
            controls = tuple(_with_own_cable(item, surveys[at]) for item in first.controls)
            found[at] = replace(first, controls=controls, proof=replace(first.proof, margin=float(margin[at])))
    return found


def _with_own_cable(plan: ControlPlan, survey: Survey) -> ControlPlan:
    """Return the plan of a control with the new cable, if there is one, cut to the length of this house."""
    route = plan.chosen
    if route.name != NEW_CABLE or route.left is None:
        return plan
    named = f"{NEW_CABLE} to {plan.control}"
    cut = route.left.cables[named if named in route.left.cables else NEW_CABLE]
    own = next(name for name, __ in control_cables(survey, plan.control))
    theirs, ours = (cable_part(len(cut.conductors), float(c.length_m)) for c in (cut, survey.cables[own]))  # type: ignore[arg-type]
    chosen = replace(route, parts=tuple(ours if part == theirs else part for part in route.parts))
    return replace(plan, chosen=chosen, routes=(chosen, *plan.routes[1:]))


def _may_share(survey: Survey, plan: HousePlan, settlings: Sequence[Settling]) -> bool:
    """Return whether nothing but the kept numbers can tell these houses apart."""
    if plan.left is None or plan.proof is None or any(item.settled is None for item in settlings):
        return False
    # Conductors of two cables of one control are told apart by their lengths.
    replaced = [name for name, control in survey.controls.items() if control.new is not None]
    return all(len(list(control_cables(survey, name))) == 1 for name in replaced)


def _scales(first: Survey, survey: Survey) -> dict[str, float]:
    """Return cable -> its resistance over that of the first house's; a new cable takes after the one it replaces."""
    found: dict[str, float] = {}
    for name, cable in survey.cables.items():
        pattern = first.cables[name]
        if isinstance(cable.length_m, Unknown) or isinstance(pattern.length_m, Unknown):
            raise ValueError(f"Cable {name} has an unknown length; houses are chosen for without unknowns.")
        if isinstance(cable.gauge_awg, Unknown) or isinstance(pattern.gauge_awg, Unknown):
            raise ValueError(f"Cable {name} has an unknown gauge; houses are chosen for without unknowns.")
        if (cable.length_m, cable.gauge_awg) == (pattern.length_m, pattern.gauge_awg):
            found[name] = 1.0
            continue
        ohm = conductor_ohm(length_m=cable.length_m, gauge_awg=cable.gauge_awg)
        found[name] = ohm / conductor_ohm(length_m=pattern.length_m, gauge_awg=pattern.gauge_awg)
    for control in survey.controls:
        own = next((name for name, __ in control_cables(survey, control)), None)
        if own is not None:
            ratio = float(survey.cables[own].length_m) / float(first.cables[own].length_m)  # type: ignore[arg-type]
            found[f"{NEW_CABLE} to {control}"] = ratio
            # With several controls it may be any one's; where they differ nothing can be said.
            found[NEW_CABLE] = ratio if found.get(NEW_CABLE, ratio) == ratio else np.nan
    return found


def _same(recorded: Recorded, first: HousePlan, scales: Sequence[dict[str, float]], catalog: Catalog) -> Floats | None:
    """Return the margin of the whole proof in each home; not a number where the planner may decide otherwise.

    None where the recorded first home is not met again, so that nothing can be said.
    """
    needed, today = needed_parts(recorded, first)
    alive = np.arange(len(scales))
    margins: list[Floats] = []
    # The proof of the whole comes last and tells houses apart best; who differs is looked at no further.
    for item in reversed(needed):
        same, margin = _decided(item, recorded, [scales[at] for at in alive.tolist()], catalog)
        if same is None or not same[1:].any():
            return None
        alive, margins = alive[same], [known[same] for known in margins]
        if margin is not None and item.made is not None and item.made.proof.holds:
            margins.append(margin[same])
    if not margins:
        return None
    # With margin enough no route is weaker than today, however today is; else today must be known as well.
    enough = np.minimum.reduce(margins) > ENOUGH_MARGIN * (1.0 + NEAR)
    if not enough.all():
        known_today: Bools = np.ones(len(alive), dtype=np.bool_)
        for item in today:
            same, before = _decided(item, recorded, [scales[at] for at in alive.tolist()], catalog)
            if same is None or before is None:
                return None
            known_today &= same
            for margin in margins:
                known_today &= _same_side(margin, np.minimum(ENOUGH_MARGIN, before - MARGIN_GIVEN))
        keep = (enough & enough[0]) | known_today
        alive, margins = alive[keep], [known[keep] for known in margins]
    found = np.full(len(scales), np.nan)
    found[alive] = margins[0]
    return found


def _decided(
    item: Needed, recorded: Recorded, scales: Sequence[dict[str, float]], catalog: Catalog
) -> tuple[Bools | None, Floats | None]:
    """Return (in which homes all is decided as in the first, the proof's margin); None where the first is not met again."""
    lanes = solved_lanes([recorded.settlings[at] for at in item.settlings], scales)
    same: Bools = np.ones(len(scales), dtype=np.bool_)
    for lane in lanes:
        same &= _same_path(lane)
    if item.made is None:
        return same, None
    margin, verdicts = margins_and_verdicts(item.made, lanes, catalog)
    if not np.isclose(margin[0], item.made.proof.margin, rtol=1e-9, atol=1e-12):
        return None, None
    for value, limit in verdicts:
        same &= _same_side(value, limit)
    return same, margin


def _same_side(value: Floats, limit: Floats | float) -> Bools:
    """Return in which homes a number is as surely on the same side of its limit as in the first home."""
    distance = value - limit
    size = np.maximum(np.abs(limit), 1e-3)
    sure = np.abs(distance) > NEAR * size
    same: Bools = sure & ((distance > 0) == (distance[0] > 0))
    return same


def _same_path(lanes: Lanes) -> Bools:
    """Return in which homes every coil wants at every step what it wants in the first home."""
    netlist = lanes.settling.netlist
    same: Bools = np.ones(len(lanes.volts[0]), dtype=np.bool_)
    for step, solution in enumerate(lanes.settling.path):
        for coil in netlist.of(Coil):
            limit_v = coil.drop_out_v if coil.tag in solution.coils_in else coil.pull_in_v
            same &= _same_side(np.abs(lanes.across(coil.tag, step=step)), limit_v)
    return same


def solved_lanes(settlings: Sequence[Settling], scales: Sequence[dict[str, float]]) -> list[Lanes]:
    """Return every recorded settling solved for every home, circuits that occur again compiled once."""
    by_circuit: dict[Netlist, list[int]] = {}
    for index, item in enumerate(settlings):
        by_circuit.setdefault(item.netlist, []).append(index)
    found: dict[int, Lanes] = {}
    for netlist, indices in by_circuit.items():
        compiled, homes = _many_homes(netlist, scales)
        paths: list[Solution] = [solution for index in indices for solution in settlings[index].path]
        volts = _solved(compiled, homes, paths)
        at = 0
        for index in indices:
            count = len(settlings[index].path)
            found[index] = Lanes(settlings[index], tuple(volts[at : at + count]))
            at += count
    return [found[index] for index in range(len(settlings))]


def _many_homes(netlist: Netlist, scales: Sequence[dict[str, float]]) -> tuple[Compiled, list[frozenset[str]]]:
    """Return one circuit that holds every home's conductors as switches, and each home's switches."""
    branches: list[Impedance | Switch | object] = []
    homes: list[set[str]] = [set() for _ in scales]
    for branch in netlist.branches:
        factors = [item.get(branch.tag.partition("/")[0], 1.0) for item in scales]
        if not isinstance(branch, Impedance) or all(factor == 1.0 for factor in factors):
            branches.append(branch)
            continue
        tags = {factor: f"{branch.tag} as {number}" for number, factor in enumerate(dict.fromkeys(factors))}
        branches.extend(
            Switch(tag, branch.tail, branch.head, r_closed_ohm=branch.z_ohm.real * factor)
            for factor, tag in tags.items()
        )
        for home, factor in zip(homes, factors, strict=True):
            home.add(tags[factor])
    return compile_netlist(Netlist(tuple(branches))), [frozenset(home) for home in homes]  # type: ignore[arg-type]


def _solved(compiled: Compiled, homes: Sequence[frozenset[str]], paths: Sequence[Solution]) -> list[Complexes]:
    """Return, for each recorded state, the voltages in every home."""
    column = {tag: i for i, tag in enumerate(compiled.switches)}
    own = np.zeros((len(homes), len(compiled.switches)), dtype=np.bool_)
    for row, tags in enumerate(homes):
        own[row, [column[tag] for tag in tags]] = True
    coil_column = {tag: i for i, tag in enumerate(compiled.coils)}
    operated = np.zeros((len(paths), 1, len(compiled.switches)), dtype=np.bool_)
    coils_in = np.zeros((len(paths), len(homes), len(compiled.coils)), dtype=np.bool_)
    for row, solution in enumerate(paths):
        operated[row, 0, [column[tag] for tag in solution.operated if tag in column]] = True
        coils_in[row, :, [coil_column[tag] for tag in solution.coils_in]] = True
    flags = operated | own[None]
    volts = solve_states(
        compiled, flags.reshape(-1, len(compiled.switches)), coils_in.reshape(-1, len(compiled.coils)), threads=1
    )
    return list(volts.reshape(len(paths), len(homes), -1))
