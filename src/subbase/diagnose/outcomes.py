"""What each test on offer would show under the causes that still count: a table of outcomes, test by test.

Volts, ohms and amperes are sorted into bins; what is seen has its answers. Tables are for choosing the next test only; a
reading itself is weighed by its exact likelihood under every row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.circuit.meters import ohm_words
from subbase.diagnose.costs import Offer
from subbase.diagnose.dead import row_ohms, scale
from subbase.diagnose.likelihood import (
    LOW_IMPEDANCE_OHM,
    MODEL_SHARE,
    MODEL_V,
    NO_CONTACT,
    OHM_CLASS,
    OHM_METAL,
    OHM_SPREAD,
    REACH,
    degree_spread,
    ghost_shares,
    ol_share,
    reach_v,
    volt_shares,
)
from subbase.diagnose.predictions import Block, Predictions, amps_through, single_amps
from subbase.diagnose.probes import ANSWER_WORDS, ANSWERS
from subbase.diagnose.sights import answer_probabilities
from subbase.names import or_words
from subbase.wiring import State
from subbase.words import _

Ints = NDArray[np.int64]
Reals = NDArray[np.float64]

VOLT_EDGES = np.array([0.0, 1.0, 3.0, 6.0, 9.0, 12.0, 15.0, 18.0, 20.5, 22.5, 24.0, 25.5, 27.0, 29.0, 33.0, 45.0])
OHM_EDGES = np.array([0.0, 0.15, 0.5, 1.0, 1.5, 2.0, 2.6, 3.2, 4.5, 8.0])
"""On ``dead.scale``; the last bin is OL."""
AMP_EDGES = np.array([0.0, 0.03, 0.08, 0.15, 0.25, 0.4, 0.6, 0.9, 1.4, 2.2, 4.0])
METER_SHARE, METER_V = 0.01, 0.15
"""Of a usual meter, one standard deviation."""
DOUBT = 0.05
BINS = len(VOLT_EDGES)


@dataclass(frozen=True, slots=True, eq=False)
class Crowd:
    """The rows that still count, settled in calls as tests ask for them."""

    predictions: Predictions
    rows: Ints
    """(n,) single rows first."""
    blocks: dict[State, Block]
    line: tuple[float, float]
    """(mean, standard deviation) of the line over nominal."""

    def block(self, state: State) -> Block:
        """Return the crowd at rest in a call."""
        if state not in self.blocks:
            single = self.rows < self.predictions.rows.single_count
            alone = self.predictions.singles(state)
            parts = [alone.only(self.rows[single])]
            if not single.all():
                pairs = self.rows[~single]
                kept = self.predictions.kept.get(state)
                parts.append(self.predictions.settled(state, pairs) if kept is None else kept.only(pairs))
            self.blocks[state] = _stacked(parts)
        return self.blocks[state]


def _stacked(parts: Sequence[Block]) -> Block:
    if len(parts) == 1:
        return parts[0]
    island = np.vstack([part.island for part in parts])
    same = all(part.leaky_island is part.island for part in parts)
    leaky = island if same else np.vstack([part.leaky_island for part in parts])
    return Block(
        np.concatenate([part.rows for part in parts]), np.vstack([part.v for part in parts]), island, leaky,
        np.vstack([part.coils_in for part in parts]), np.concatenate([part.chatter for part in parts]),
        np.concatenate([part.marginal for part in parts]),
    )  # fmt: skip


def outcome_table(crowd: Crowd, offers: Sequence[Offer]) -> Reals:
    """Return (n_offer, n_row, n_bin) probability of each outcome; bins that a test does not have are 0."""
    table = np.zeros((len(offers), len(crowd.rows), BINS), dtype=np.float64)
    by_state: dict[State, list[int]] = {}
    for i, offer in enumerate(offers):
        if offer.probe.kind == "volts":
            by_state.setdefault(offer.probe.state, []).append(i)
            continue
        shares = _other_shares(crowd, offer)
        table[i, :, : shares.shape[1]] = (1.0 - DOUBT) * shares + DOUBT / shares.shape[1]
    for state, places in by_state.items():
        _fill_volts(crowd, state, [offers[i] for i in places], np.array(places), table)
    return table


def _fill_volts(crowd: Crowd, state: State, offers: Sequence[Offer], places: Ints, table: Reals) -> None:
    predictions, block = crowd.predictions, crowd.block(state)
    a = np.array([predictions.column(offer.probe.between[0]) for offer in offers])
    b = np.array([predictions.column(offer.probe.between[1]) for offer in offers])
    joined = (block.leaky_island[:, a] == block.leaky_island[:, b]) & ~block.chatter[:, None]
    with np.errstate(invalid="ignore"):
        volts = np.where(joined, np.abs(block.v[:, a] - block.v[:, b]), 0.0).astype(np.float64)
    well = predictions.singles(state)
    with np.errstate(invalid="ignore"):
        of_form = np.where(
            (well.leaky_island[:, a] == well.leaky_island[:, b]) & ~well.chatter[:, None],
            np.abs(well.v[:, a] - well.v[:, b]), 0.0,
        ).astype(np.float64)  # fmt: skip
    mean, line_sd = crowd.line
    sd = np.hypot(MODEL_V + METER_V, (MODEL_SHARE + METER_SHARE) * volts)
    sd = np.hypot(sd, line_sd * volts)
    sd = np.hypot(sd, degree_spread(predictions, block, volts, of_form))
    shares = volt_shares(volts * mean, sd, VOLT_EDGES)
    reach = reach_v(predictions, offers[0].probe)
    for low in (False, True):
        kind = np.array([(offer.probe.meter.input_ohm < LOW_IMPEDANCE_OHM) == low for offer in offers])
        ghost = ghost_shares(VOLT_EDGES, reach / REACH, low_impedance=low)
        shares[~joined & kind[None, :]] = ghost
    shares[block.chatter] = np.diff(np.minimum(VOLT_EDGES / reach, 1.0), append=1.0)
    wild = (1.0 - NO_CONTACT) * np.diff(np.minimum(VOLT_EDGES / reach, 1.0), append=1.0)
    wild[0] += NO_CONTACT
    table[places] = ((1.0 - DOUBT) * shares + DOUBT * wild).transpose(1, 0, 2)


def _other_shares(crowd: Crowd, offer: Offer) -> Reals:
    predictions, probe = crowd.predictions, offer.probe
    if probe.kind == "ohms":
        ohm = row_ohms(predictions, crowd.rows, probe.between)
        finite = volt_shares(scale(ohm), np.where(ohm < 5.0, OHM_METAL, OHM_SPREAD), OHM_EDGES)
        is_open = np.isinf(ohm)
        none = ol_share(ohm)[:, None]
        shares = (1.0 - none) * finite
        shares[:, -1:] += none
        shares[is_open] = OHM_CLASS / (len(OHM_EDGES) - 1)
        shares[is_open, -1] = 1.0 - OHM_CLASS
        return shares
    block = crowd.block(probe.state)
    if probe.kind == "amps":
        amps = amps_through(predictions, block, probe.state, probe.through)
        sd = np.hypot(0.025, 0.07 * amps)
        of_form = single_amps(predictions, probe.state, probe.through)
        sd = np.hypot(sd, degree_spread(predictions, block, amps, of_form))
        return volt_shares(amps * crowd.line[0], sd, AMP_EDGES)
    return answer_probabilities(predictions, block, probe)


def bin_words(offer: Offer, first: int, last: int) -> str:
    """Return a run of outcomes as people say it."""
    probe = offer.probe
    if probe.kind == "seen":
        return or_words(_(ANSWER_WORDS[answer]) for answer in ANSWERS[probe.sight or "acts"][first : last + 1])
    if probe.kind == "ohms":
        return _ohm_words(first, last)
    edges, unit = (VOLT_EDGES, "V") if probe.kind == "volts" else (AMP_EDGES, "A")
    low = float(edges[first])
    if last + 1 == len(edges):
        return _("over {low} {unit}").format(low=f"{low:.3g}", unit=unit)
    high = float(edges[last + 1])
    if low == 0.0:
        return _("under {high} {unit}").format(high=f"{high:.3g}", unit=unit)
    return _("{low} to {high} {unit}").format(low=f"{low:.3g}", high=f"{high:.3g}", unit=unit)


def _ohm_words(first: int, last: int) -> str:
    open_bin = len(OHM_EDGES) - 1
    if first == open_bin:
        return _("OL")
    low = _ohm_figure(float(OHM_EDGES[first]))
    if last == open_bin:
        return _("{low} to OL").format(low=low)
    high = _ohm_figure(float(OHM_EDGES[last + 1]))
    return _("{low} to {high}").format(low=low, high=high) if first else _("under {high}").format(high=high)


def _ohm_figure(on_scale: float) -> str:
    return ohm_words(10.0**on_scale - 1.0, ".3g")


__all__ = ["BINS", "Crowd", "bin_words", "outcome_table"]
