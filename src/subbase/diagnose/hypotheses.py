"""Everything that may be wrong with one house, by construction: parts, conductors, slips, and what a short takes with it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from subbase.catalog import Catalog
from subbase.circuit import Impedance, Source
from subbase.circuit.fuses import melting_time
from subbase.diagnose.components import component_faults
from subbase.diagnose.hypothesis import Form, Hypothesis
from subbase.diagnose.odds import Odds, load_odds
from subbase.diagnose.predictions import Block, Predictions, control_volts, predict
from subbase.diagnose.slips import slip_faults
from subbase.survey import Survey
from subbase.wiring import OFF, House, build_house
from subbase.wiring.outputs import ALIVE_SHARE
from subbase.words import _, current_language

BLOWN_SHARE = 0.7
"""Probability that a fuse which a fault overloads is found open, not new or held in by hand (judgement)."""
BURNT_SHARE = 0.3
"""The same of a transformer without a fuse in its way: some open, some have a fuse inside, some stand it (judgement)."""
BURNING = 3.0
"""Of its rated current: what a transformer is taken not to stand for long (judgement)."""


def hypotheses_of(
    house: House | Survey, catalog: Catalog | None = None, *, odds: Odds | None = None
) -> tuple[Hypothesis, ...]:
    """Return every cause that is held for possible in a house, in a fixed order.

    Parameters
    ----------
    house
        As built, or its survey (without unknowns) together with ``catalog``.
    odds
        Prior odds; those of ``odds.toml`` when left out.

    Raises
    ------
    ValueError
        When a survey comes without a catalogue.
    """
    if isinstance(house, Survey):
        if catalog is None:
            raise ValueError("A survey alone says nothing of its equipment; give the catalogue too.")
        house = build_house(house, catalog)
    return tuple(_with_what_it_takes(house, _plain(house, load_odds() if odds is None else odds)))


def _plain(house: House, odds: Odds) -> tuple[Hypothesis, ...]:
    kind = "nothing wrong"
    well = Hypothesis(f"{kind}", "nothing wrong", _("nothing is wrong in the 24 V circuit"), (), "", odds.of_kind[kind])
    return (well, *component_faults(house, odds), *slip_faults(house, odds))


def cause_ids(house: House) -> tuple[str, ...]:
    """Return the ids of every cause that a house can have, without what they predict."""
    return tuple(h.id for h in _plain(house, load_odds()))


def in_this_language(predictions: Predictions) -> tuple[Hypothesis, ...]:
    """Return the hypotheses of a house with their words in the language that is set; worked out once for each."""
    key = ("hypotheses", current_language())
    if key not in predictions.memory:
        words = {h.id: h.words for h in _plain(predictions.house, load_odds())}
        predictions.memory[key] = tuple(replace(h, words=words.get(h.id, h.words)) for h in predictions.hypotheses)
    found = predictions.memory[key]
    assert isinstance(found, tuple)
    return found


def _with_what_it_takes(house: House, hypotheses: tuple[Hypothesis, ...]) -> Iterator[Hypothesis]:
    """Give every form that overloads a fuse or a supply its likelier form: with that part open."""
    predictions = predict(house, hypotheses, doubles=False)
    gone: list[set[str]] = [set() for _ in predictions.rows.forms]
    blocks = [predictions.singles(state) for state in predictions.states]
    restless = np.any([block.chatter for block in blocks], axis=0)
    protected = _behind_fuses(house)
    for branch in house.netlist.branches:
        if not isinstance(branch, Impedance | Source):
            continue
        is_fuse = isinstance(branch, Impedance) and branch.fuse_a > 0.0
        if not is_fuse and not (isinstance(branch, Source) and branch.rated_va and branch.tag not in protected):
            continue
        most_a = np.max([_amps(house, block, branch) for block in blocks], axis=0)
        for i, amps in enumerate(most_a.tolist()):
            # Relays that pull in and fall out by turns may close a short each time; a fuse does not stand that for long.
            if _overloaded(house, branch, amps) or (is_fuse and restless[i]):
                gone[i].add(branch.tag)
    faint = _faint_controls(predictions)
    at = 0
    for hypothesis in hypotheses:
        forms: list[Form] = []
        for form in hypothesis.forms:
            lost, dim = tuple(sorted(gone[at] - {change.tag for change in form.changes})), faint[at] - form.silent
            at += 1
            if not lost and dim:
                forms.append(replace(form, silent=form.silent | dim, share=form.share / 2.0))
                form = replace(form, share=form.share / 2.0)  # noqa: PLW2901 -- what is left of it
            if not lost:
                forms.append(form)
                continue
            share = BURNT_SHARE if any(tag in house.sources for tag in lost) else BLOWN_SHARE
            forms.append(replace(form, gone=lost, share=form.share * share))
            forms.append(replace(form, share=form.share * (1.0 - share)))
        yield replace(hypothesis, forms=tuple(forms))


def _faint_controls(predictions: Predictions) -> list[frozenset[str]]:
    """Return, for each form, the controls whose supply lies between what they surely lack and what they are promised."""
    house, block = predictions.house, predictions.singles(OFF)
    found: list[set[str]] = [set() for _ in block.rows]
    for name, control in house.survey.controls.items():
        volts = control_volts(house, block, name)
        if volts is None or control.old.battery:
            continue
        for i, value in enumerate(volts.tolist()):
            if ALIVE_SHARE * control.old.least_v <= value < control.old.least_v:
                found[i].add(name)
    return [frozenset(item) for item in found]


def _behind_fuses(house: House) -> frozenset[str]:
    """Return the sources with a fuse at their hot side."""
    fused = {end for b in house.netlist.of(Impedance) if b.fuse_a for end in (b.tail, b.head)}
    jumpered = {
        end
        for b in house.netlist.of(Impedance)
        if b.tag.startswith("jumper ") and {b.tail, b.head} & fused
        for end in (b.tail, b.head)
    }
    return frozenset(source.tag for source in house.netlist.of(Source) if source.head in fused | jumpered)


def _amps(house: House, block: Block, branch: Impedance | Source) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    a, b = house.netlist.index[branch.tail], house.netlist.index[branch.head]
    across = block.v[:, a] - block.v[:, b]
    joined = (block.island[:, a] == block.island[:, b]) & ~block.chatter
    emf = branch.emf_v if isinstance(branch, Source) else 0.0
    with np.errstate(invalid="ignore"):
        amps = np.abs((across + emf) / branch.z_ohm)
    return np.where(joined, amps, 0.0).astype(np.float64)


def _overloaded(house: House, branch: Impedance | Source, amps: float) -> bool:
    if isinstance(branch, Impedance):
        return melting_time(amps / branch.fuse_a).latest_s is not None
    rated_a = branch.rated_va / house.sources[branch.tag].volts
    return amps > BURNING * rated_a


__all__ = ["cause_ids", "hypotheses_of", "in_this_language"]
