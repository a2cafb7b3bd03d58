"""A plan as files for other programs: tables, circuits for a simulator, the landing code as text."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator

from subbase.circuit import settle
from subbase.circuit.spice import spice_deck
from subbase.papers.label_print import label_rows
from subbase.papers.labels import labels_of
from subbase.papers.landing_code import landing_code
from subbase.papers.write import csv_bytes, paper_makers
from subbase.plan import Plan
from subbase.wiring import build_house, legal_states
from subbase.wiring.states import operated_switches

DRAWINGS = ("wiring-found.svg", "wiring-left.svg", "ladder-left.svg")
TABLES = ("landings.csv", "readings.csv")


def data_files(plan: Plan, *, date: datetime.date) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, bytes): tables, drawings, a circuit for every call as left, the landing code."""
    makers = paper_makers(plan, date=date)
    yield from ((name, makers[name]()) for name in (*TABLES, *DRAWINGS) if name in makers)
    if plan.left is None:
        return
    yield "labels.csv", csv_bytes(label_rows(labels_of(plan)))
    yield "landing-code.txt", "\n\n".join(landing_code(plan, date=date)).encode()
    yield from spice_decks(plan)


def spice_decks(plan: Plan) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, deck) of the house as left, at rest in every single call: coils stand as they settle there."""
    assert plan.left is not None
    house = build_house(plan.left, plan.catalog)
    several = len(plan.left.controls) > 1
    for state in legal_states(plan.left, plan.catalog):
        if sum(len(calls) for _control, calls in state.calls) > 1:
            continue
        operated = operated_switches(house, state)
        settled = settle(house.netlist, operated=operated)
        name = state.name(name_controls=several)
        deck = spice_deck(
            house.netlist, operated=operated, coils_in=settled.coils_in, title=f"{plan.survey.name}, as left: {name}"
        )
        yield f"circuit-{re.sub(r'[^0-9a-z]+', '-', name.lower()).strip('-')}.cir", deck.encode()
