"""The proof: every legal state solved by the full circuit, and held against what must be on and what may be carried.

Three solutions stand for all tolerances: nominal, and the two corners of ``wiring.build`` (bounds by corners, not a
guarantee: see docs/decisions). Whatever fails is a ``Failure`` with the number that failed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace

from subbase.catalog import Call, Catalog
from subbase.circuit import Settled, Source, settle
from subbase.circuit.netlist import Impedance
from subbase.errors import Chatter
from subbase.plan.proven import ControlProof, Failure, LoadProof, Proof, StateProof, SupplyProof
from subbase.survey import Survey
from subbase.wiring.build import HIGH, LOW, House, build_house
from subbase.wiring.states import Need, State, judged_loads, legal_states, need_of, operated_switches
from subbase.words import _, mark

CLASS_2_MOST_VA = 100.0
"""Inherently limited Class 2 supply: NFPA 70 chapter 9 table 11(A), nameplate VA (row from memory)."""
CLASS_2_MOST_V = 30.0
"""Upper end of the same row of NFPA 70 chapter 9 table 11(A) (from memory)."""

_STAYS_OFF = (
    mark("{part} stays off"),
    mark("{part} stays off with the line 10 % low"),
    mark("{part} stays off with the line 10 % high"),
)
_COMES_ON = (
    mark("{part} comes on, which this call must not do"),
    mark("{part} comes on with the line 10 % low, which this call must not do"),
    mark("{part} comes on with the line 10 % high, which this call must not do"),
)
"""What is said of a load at the nominal, the low and the high corner."""


@dataclass(frozen=True, slots=True)
class Proved:
    """One call of ``prove``: what was asked, and what came of it."""

    survey: Survey
    about: str | None
    patient: bool
    proof: Proof


_watcher: ContextVar[Callable[[Proved], None] | None] = ContextVar("proof_watcher", default=None)


@contextmanager
def watched_proofs(watcher: Callable[[Proved], None]) -> Iterator[None]:
    """Tell ``watcher`` of every proof that is made inside a block."""
    token = _watcher.set(watcher)
    try:
        yield
    finally:
        _watcher.reset(token)


@dataclass(frozen=True, slots=True)
class _Bench:
    """The same house at the three corners."""

    nominal: House
    low: House
    high: House


def prove(
    survey: Survey,
    catalog: Catalog,
    *,
    lost: frozenset[Call] = frozenset(),
    about: str | None = None,
    patient: bool = True,
) -> Proof:
    """Return the proof of a house without unknowns.

    Parameters
    ----------
    lost
        Calls given up: in states that hold one, loads may stay off, but nothing wrong may come on.
    about
        A control: only the state at rest, those in which it alone asks, and those in which all ask, are proved.
    patient
        When False, stop at the first state that fails.
    """
    bench = _Bench(
        build_house(survey, catalog),
        build_house(survey, catalog, corner=LOW),
        build_house(survey, catalog, corner=HIGH, awake=False),
    )
    failures = list(_supply_failures(bench.nominal))
    proofs: list[StateProof] = []
    margins: list[tuple[float, str]] = []
    for state in legal_states(survey, catalog):
        if about is not None and not _is_about(state, about, survey):
            continue
        if failures and not patient:
            break
        try:
            waived = any(calls & lost for __, calls in state.calls)
            proof, found = _prove_state(bench, state, margins, waived=waived)
        except Chatter as error:
            words = ", ".join(bench.nominal.part_words(tag) for tag in error.coils)
            failures.append(
                Failure("chatter", _("{words} pulls in and falls out by turns").format(words=words), state.words())
            )
            continue
        proofs.append(proof)
        failures.extend(found)
    margin, margin_words = min(margins, default=(0.0, ""))
    made = Proof(tuple(proofs), tuple(failures), margin, margin_words)
    watcher = _watcher.get()
    if watcher is not None:
        watcher(Proved(survey, about, patient, made))
    return made


def _is_about(state: State, control: str, survey: Survey) -> bool:
    asking = [name for name, __ in state.calls]
    return asking in ([], [control]) or len(asking) == len(survey.controls)


def _supply_failures(house: House) -> Iterator[Failure]:
    """Hold every transformer against the Class 2 limits."""
    for name, transformer in house.survey.transformers.items():
        if transformer.class_2 is False:
            yield Failure(
                "class 2",
                _("{name} is not marked Class 2, so its wiring is not the kind this work is for").format(name=name),
            )
    for tag, part in house.sources.items():
        words = house.part_words(tag)
        no_load_v = part.volts * (1.0 + part.regulation)
        if part.va > CLASS_2_MOST_VA:
            yield Failure(
                "class 2",
                _("{words} is rated {va:g} VA; Class 2 ends at {class_2_most_va:g} VA").format(
                    words=words, va=part.va, class_2_most_va=CLASS_2_MOST_VA
                ),
            )
        if no_load_v > CLASS_2_MOST_V:
            yield Failure(
                "class 2",
                _("{words} gives {no_load_v:.1f} V on no load; Class 2 ends at {class_2_most_v:g} V").format(
                    words=words, no_load_v=no_load_v, class_2_most_v=CLASS_2_MOST_V
                ),
            )


def _prove_state(
    bench: _Bench, state: State, margins: list[tuple[float, str]], *, waived: bool
) -> tuple[StateProof, list[Failure]]:
    several = len(bench.nominal.survey.controls) > 1
    words = state.words(name_controls=several)
    operated = operated_switches(bench.nominal, state)
    nominal, low, high = (settle(house.netlist, operated=operated) for house in (bench.nominal, bench.low, bench.high))
    need = need_of(bench.nominal.survey, bench.nominal.catalog, state)
    if waived:
        need = Need(frozenset(), need.on | need.may)
    failures = [replace(found, state=words) for found in _load_failures(bench.nominal, need, nominal, low, high)]
    shown = sorted((need.on | (nominal.coils_in & judged_loads(bench.nominal))) & bench.nominal.loads.keys())
    loads = tuple(_load_proof(bench.nominal, tag, nominal, low, high) for tag in shown)
    supplies = tuple(_supply_proof(bench.nominal, tag, nominal) for tag in bench.nominal.sources)
    controls = tuple(_control_proofs(bench.nominal, nominal, low, high))
    margins.extend(
        (
            min(load.inrush_v, load.low_v) / load.pull_in_v - 1.0,
            _("{load} at {words}").format(load=load.words, words=words),
        )
        for load in loads
        if load.tag in need.on
    )
    for supply in supplies:
        margins.append(
            (1.0 - supply.draw_va / supply.rated_va, _("{supply} at {words}").format(supply=supply.words, words=words))
        )
        if supply.draw_va > supply.rated_va:
            text = _("{supply} would carry {draw_va:.0f} VA of {rated_va:g} VA").format(
                supply=supply.words, draw_va=supply.draw_va, rated_va=supply.rated_va
            )
            failures.append(Failure("overload", text, words))
    for control in controls:
        margins.append(
            (
                control.low_v / control.least_v - 1.0,
                _("supply of {control} at {words}").format(control=control.control, words=words),
            )
        )
        failures.extend(Failure(rule, text, words) for rule, text in _control_failures(control))
    failures.extend(Failure(rule, text, words) for rule, text in _current_failures(bench.nominal, high, margins, words))
    failures.extend(Failure(rule, text, words) for rule, text in _output_failures(bench.nominal, nominal))
    if any(control.old.leak_ma for control in bench.nominal.survey.controls.values()):
        failures.extend(Failure(rule, text, words) for rule, text in _release_failures(bench.high, high))
    return StateProof(state, words, loads, supplies, controls, nominal, waived), failures


def _load_failures(house: House, need: Need, nominal: Settled, low: Settled, high: Settled) -> Iterator[Failure]:
    judged = judged_loads(house)
    said: set[str] = set()
    for off, wrong, settled in zip(_STAYS_OFF, _COMES_ON, (nominal, low, high), strict=True):
        on = settled.coils_in & judged
        for tag in sorted(need.on - on - said):
            said.add(tag)
            volts = abs(settled.solution.across(tag))
            load = house.loads[tag]
            rule = "starved" if volts > 0.2 * load.pull_in * load.volts else "missing load"
            limit_v = load.pull_in * load.volts
            head = _(off).format(part=house.part_words(tag))
            text = _("{what}: {volts:.1f} V, it needs {limit_v:.1f} V").format(what=head, volts=volts, limit_v=limit_v)
            yield Failure(rule, text, head=head)
        for tag in sorted(on - need.on - need.may - said):
            said.add(tag)
            yield Failure("wrong load", _(wrong).format(part=house.part_words(tag)))
        for place, item in house.survey.equipment.items():
            for never in house.catalog[str(item.kind)].never:
                tag, other = f"{place}/{never.on}", f"{place}/{never.without}"
                if tag in settled.coils_in and other not in settled.coils_in and tag not in said:
                    said.add(tag)
                    head = _("{part} is on without {other}").format(
                        part=house.part_words(tag), other=house.part_words(other)
                    )
                    yield Failure("never", _("{what}: {why}").format(what=head, why=_(never.why)), head=head)


def _load_proof(house: House, tag: str, nominal: Settled, low: Settled, high: Settled) -> LoadProof:
    inrush = {
        t: (v, a) for step in low.steps for t, v, a in zip(step.pulled_in, step.pull_in_v, step.pull_in_a, strict=True)
    }
    low_v = abs(low.solution.across(tag))
    inrush_v, inrush_a = inrush.get(tag, (low_v, abs(low.solution.current_a(tag))))
    load = house.loads[tag]
    return LoadProof(
        tag=tag,
        words=house.part_words(tag),
        sealed_v=abs(nominal.solution.across(tag)),
        low_v=low_v,
        high_v=abs(high.solution.across(tag)),
        inrush_v=inrush_v,
        sealed_a=abs(nominal.solution.current_a(tag)),
        inrush_a=inrush_a,
        pull_in_v=load.pull_in * load.volts,
    )


def _supply_proof(house: House, tag: str, nominal: Settled) -> SupplyProof:
    # Heating of the winding goes with current, so draw is taken at rated volts.
    part = house.sources[tag]
    return SupplyProof(tag, house.part_words(tag), abs(nominal.solution.current_a(tag)) * part.volts, part.va)


def _control_proofs(house: House, nominal: Settled, low: Settled, high: Settled) -> Iterator[ControlProof]:
    for name, control in house.survey.controls.items():
        power = control.old.power_terminal()
        if control.old.power != "common" or power is None:
            continue
        a, b = f"{name}.{power}", f"{name}.C"
        awake_v, low_v, high_v = (abs(settled.solution.between(a, b) or 0j) for settled in (nominal, low, high))
        yield ControlProof(name, awake_v, low_v, high_v, control.old.least_v, control.old.most_v)


def _control_failures(control: ControlProof) -> Iterator[tuple[str, str]]:
    if control.low_v < control.least_v:
        text = _("{control} would be fed {low_v:.1f} V at worst; it needs {least_v:.1f} V").format(
            control=control.control, low_v=control.low_v, least_v=control.least_v
        )
        yield "control unpowered" if control.awake_v < 1.0 else "control starved", text
    if control.high_v > control.most_v:
        text = _("{control} would be fed {high_v:.1f} V at worst; it stands {most_v:.1f} V").format(
            control=control.control, high_v=control.high_v, most_v=control.most_v
        )
        yield "control overvolted", text


def _current_failures(
    house: House, settled: Settled, margins: list[tuple[float, str]], words: str
) -> Iterator[tuple[str, str]]:
    for branch in house.netlist.of(Impedance):
        if branch.fuse_a:
            current_a = abs(settled.solution.current_a(branch.tag))
            margins.append(
                (
                    1.0 - current_a / branch.fuse_a,
                    _("{part} at {words}").format(part=house.part_words(branch.tag), words=words),
                )
            )
            if current_a > branch.fuse_a:
                yield (
                    "fuse",
                    _("{part} would carry {current_a:.2f} A of {fuse_a:g} A").format(
                        part=house.part_words(branch.tag), current_a=current_a, fuse_a=branch.fuse_a
                    ),
                )


def _output_failures(house: House, nominal: Settled) -> Iterator[tuple[str, str]]:
    """Hold what every output carries against its rating, both at nominal line voltage, as ratings are."""
    for name, control in house.survey.controls.items():
        for output in control.old.terminals:
            tag = f"{name}/{output}"
            if tag in house.netlist.by_tag:
                current_a = abs(nominal.solution.current_a(tag))
                if current_a > control.old.output_a:
                    yield (
                        "output",
                        _("{output} of {name} would carry {current_a:.2f} A of {output_a:g} A").format(
                            output=output, name=name, current_a=current_a, output_a=control.old.output_a
                        ),
                    )


def _release_failures(house: House, settled: Settled) -> Iterator[tuple[str, str]]:
    """Check that every load lets go when the call ends, though outputs leak."""
    ended = settle(house.netlist, coils_in=settled.coils_in)
    for tag in sorted(ended.coils_in & judged_loads(house)):
        volts = abs(ended.solution.across(tag))
        yield (
            "does not let go",
            _("{part} stays on after the call: leakage holds {volts:.1f} V across it").format(
                part=house.part_words(tag), volts=volts
            ),
        )


def tied_supplies(house: House) -> frozenset[frozenset[str]]:
    """Return the pairs of transformers that share any wire in the state at rest."""
    solution = settle(house.netlist).solution
    sources = list(house.netlist.of(Source))
    return frozenset(
        frozenset({a.tag, b.tag})
        for i, a in enumerate(sources)
        for b in sources[i + 1 :]
        if solution.island_of[a.tail] == solution.island_of[b.tail]
    )
