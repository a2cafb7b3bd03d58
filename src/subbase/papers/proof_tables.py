"""The proof and the expected readings as tables: each call, each load at its worst, each supply, each pair of terminals."""

from __future__ import annotations

import math
from collections.abc import Sequence

from subbase.names import and_words
from subbase.papers.figures import number, share, signed_share, span
from subbase.papers.tables import Table, pair_words
from subbase.plan import ExpectedReading
from subbase.plan.proven import LoadProof, Proof, StateProof
from subbase.survey import split_terminal
from subbase.wiring.build import HIGH, LOW
from subbase.words import _

STATES_ABREAST = 8
"""Calls side by side in one table of readings, at most; more are shared out evenly."""
NOTHING_V = 1.0
"""Below this a reading is told as nothing."""


def proof_table(proof: Proof) -> Table:
    """Return every single call with the loads that it brings on, and how near the weakest of them is to its limit."""
    rows = tuple(_call_row(state) for state in proof.states if _is_single(state))
    head = (_("Call"), _("Brings on"), _("Weakest of them"), _("Pulls in at V"), _("Needs V"))
    return Table(_("What each call brings on"), head, rows, (1.7, 4.2, 2.0, 0.9, 0.7))


def _is_single(state: StateProof) -> bool:
    return sum(len(calls) for _where, calls in state.state.calls) <= 1


def _call_row(state: StateProof) -> tuple[str, ...]:
    if not state.loads:
        return (state.words, _("nothing"), "", "", "")
    judged = [load for load in state.loads if load.pull_in_v > 0]
    names = and_words(load.words for load in state.loads)
    if not judged:
        return (state.words, names, "", "", "")
    weak = min(judged, key=_to_spare)
    return (state.words, names, weak.words, number(min(weak.low_v, weak.inrush_v), 1), number(weak.pull_in_v, 1))


def _to_spare(load: LoadProof) -> float:
    return min(load.low_v, load.inrush_v) / load.pull_in_v


def load_table(proof: Proof) -> Table:
    """Return each load at its worst over every call and every set of calls that may be made together."""
    found: dict[str, list[tuple[str, LoadProof]]] = {}
    for state in proof.states:
        for load in state.loads:
            found.setdefault(load.tag, []).append((state.words, load))
    rows = tuple(_worst_row(seen) for seen in found.values())
    head = (
        _("Load"), _("Running V"), _("Pulling in V, least"), _("Needs V"), _("Running A, most"), _("Pulling in A, most"),
        _("Least in"),
    )  # fmt: skip
    note = _(
        "Running V: from the lowest to the highest over all calls, line {low} to {high}, with regulation, loads and copper "
        "at their worst. Nearest limit: {limit}, {margin} away. The file plan.json holds every state."
    ).format(
        low=signed_share(LOW.primary - 1),
        high=signed_share(HIGH.primary - 1),
        limit=proof.margin_words,
        margin=share(proof.margin),
    )
    return Table(_("Each load at its worst"), head, rows, (2.7, 1.3, 1.0, 0.7, 0.9, 0.9, 2.0), note)


def _worst_row(seen: Sequence[tuple[str, LoadProof]]) -> tuple[str, ...]:
    loads = [load for _call, load in seen]
    call, least = min(seen, key=lambda item: min(item[1].low_v, item[1].inrush_v))
    return (
        least.words,
        span(min(load.low_v for load in loads), max(load.high_v for load in loads)),
        number(least.inrush_v, 1),
        number(least.pull_in_v, 1),
        number(max(load.sealed_a for load in loads), 2),
        number(max(load.inrush_a for load in loads), 2),
        call,
    )


def supply_table(proof: Proof) -> Table:
    """Return the most that is drawn from each transformer, and the supply of each control's electronics at its extremes."""
    rows = []
    for tag in dict.fromkeys(s.tag for state in proof.states for s in state.supplies):
        drawn = [(s, state.words) for state in proof.states for s in state.supplies if s.tag == tag]
        most, call = max(drawn, key=lambda item: item[0].draw_va)
        of = _("{drawn} of {rated} VA").format(drawn=number(most.draw_va), rated=f"{most.rated_va:g}")
        rows.append((most.words, _("most drawn"), of, call))
    for name in dict.fromkeys(c.control for state in proof.states for c in state.controls):
        fed = [(c, state.words) for state in proof.states for c in state.controls if c.control == name]
        least, call = min(fed, key=lambda item: item[0].low_v)
        volts = _("{span} V; stands {stands} V").format(
            span=span(least.low_v, max(c.high_v for c, _call in fed)), stands=span(least.least_v, least.most_v)
        )
        rows.append((_("electronics of {control}").format(control=name), _("fed with"), volts, call))
    head = (_("What"), _("How"), _("Value"), _("Worst in"))
    return Table(_("Supplies"), head, tuple(rows), (2.6, 1.0, 2.6, 2.0))


def reading_tables(readings: Sequence[ExpectedReading]) -> tuple[Table, ...]:
    """Return what a meter must read: a row for each pair of terminals, a column for each call; one table a place."""
    states = tuple(dict.fromkeys(r.state for r in readings))
    known = {(r.between, r.state): r for r in readings}
    said = {r.state: r.words or r.state for r in readings}
    pairs = tuple(dict.fromkeys(r.between for r in readings))
    abreast = math.ceil(len(states) / math.ceil(len(states) / STATES_ABREAST)) if states else 1
    tables = []
    for place in dict.fromkeys(split_terminal(pair[0])[0] for pair in pairs):
        here = [pair for pair in pairs if split_terminal(pair[0])[0] == place]
        for first in range(0, len(states), abreast):
            some = states[first : first + abreast]
            rows = tuple(
                (pair_words(pair).removeprefix(f"{place} "), *(_reading(known.get((pair, state))) for state in some))
                for pair in here
            )
            title = (_("At {place}, continued") if first else _("At {place}")).format(place=place)
            tables.append(
                Table(title, (_("Between"), *(said[state] for state in some)), rows, (1.6, *[1.0] * len(some)))
            )
    return tuple(tables)


def _reading(reading: ExpectedReading | None) -> str:
    if reading is None:
        return "–"
    if reading.high_v <= NOTHING_V:
        return "0\n" + _("up to {high}").format(high=number(reading.high_v, 1))
    return f"{number(reading.volts, 1)}\n{span(reading.low_v, reading.high_v)}"
