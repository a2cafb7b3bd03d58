"""Choices as data: what ``plan.choose`` chose for a house, without its proofs, small enough to be kept and sent about."""

from __future__ import annotations

import json
from collections.abc import Mapping as Map
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter

from subbase.catalog import Catalog
from subbase.circuit import conductor_ohm
from subbase.fleet.alike import choose_alike
from subbase.fleet.structure import choice_text, key_of, plain, text_of, wiring_text
from subbase.plan.choose import HousePlan
from subbase.plan.proven import Failure, Proof
from subbase.plan.result import ControlPlan, JumperChange, Landing, Part, Route
from subbase.plan.screen import screen
from subbase.plan.unknowns import MOST_POSSIBILITIES, count_possibilities, open_facts, possibilities
from subbase.survey import Survey
from subbase.wiring import Settings


@dataclass(frozen=True, slots=True)
class Possible:
    """The houses that one structure may be."""

    keys: tuple[str, ...]
    """Of their choices, in the order of the possibilities."""
    texts: tuple[tuple[str, str, str], ...]
    """(key of the choice, key of the wiring, the house as text), each once."""


def possible(text: str, catalog: Catalog) -> Possible:
    """Return the houses that a structure may be; none when it is stopped, or when they are too many to be tried."""
    survey = Survey.model_validate_json(text)
    if screen(survey):
        return Possible((), ())
    facts = open_facts(survey, catalog)
    if count_possibilities(facts) > MOST_POSSIBILITIES:
        return Possible((), ())
    keys: list[str] = []
    texts: dict[str, tuple[str, str]] = {}
    for item in possibilities(survey, catalog, facts):
        chosen = choice_text(item.survey)
        key = key_of(chosen)
        keys.append(key)
        if key not in texts:
            texts[key] = (key_of(wiring_text(item.survey)), chosen)
    return Possible(tuple(keys), tuple((key, *pair) for key, pair in texts.items()))


def house_from(text: str) -> Survey:
    """Return the house of a choice's text."""
    return Survey.model_validate_json(text)


def chosen_for(texts: Sequence[str], catalog: Catalog) -> list[HousePlan]:
    """Return the choice for each house, in order; they share one wiring."""
    houses = [house_from(text) for text in texts]
    # Neighbours in resistance mostly have the same choice, so each round finds as many as it can.
    order = sorted(range(len(texts)), key=lambda at: (_ohms(houses[at]), texts[at]))
    found = dict(zip(order, choose_alike([houses[at] for at in order], catalog), strict=True))
    return [found[at] for at in range(len(texts))]


def _ohms(survey: Survey) -> tuple[float, ...]:
    cables = survey.cables.values()
    return tuple(conductor_ohm(length_m=float(c.length_m), gauge_awg=int(c.gauge_awg)) for c in cables)  # type: ignore[arg-type]


def choice_data(plan: HousePlan) -> dict[str, Any]:
    """Return a choice as plain data, without proofs and refused routes but those that say why there is none."""
    return {
        "controls": [
            {
                "control": item.control,
                "settings": _SETTINGS.dump_python(item.settings, mode="json"),
                "wanted": list(item.wanted),
                "chosen": _route_data(item.chosen),
            }
            for item in plan.controls
        ],
        "refused": [_route_data(route) for route in plan.refused],
        "left": None if plan.left is None else plain(plan.left),
        "proof": None
        if plan.proof is None
        else {
            "failures": [_FAILURE.dump_python(failure, mode="json") for failure in plan.proof.failures],
            "margin": plan.proof.margin,
            "margin_words": plan.proof.margin_words,
        },
    }


def choice_from(data: Map[str, Any]) -> HousePlan:
    """Return the choice in plain data; its proofs hold no states."""
    proof = data["proof"]
    controls = []
    for item in data["controls"]:
        route = _route_from(item["chosen"])
        settings = _SETTINGS.validate_python(item["settings"])
        controls.append(ControlPlan(item["control"], settings, route, (route,), tuple(item["wanted"])))
    return HousePlan(
        tuple(controls),
        tuple(map(_route_from, data["refused"])),
        None if data["left"] is None else Survey.model_validate_json(text_of(data["left"])),
        None
        if proof is None
        else Proof(
            (), tuple(Failure(**failure) for failure in proof["failures"]), proof["margin"], proof["margin_words"]
        ),
    )


_SETTINGS = TypeAdapter(Settings)
_FAILURE = TypeAdapter(Failure)
_LANDINGS = TypeAdapter(tuple[Landing, ...])
_JUMPERS = TypeAdapter(tuple[JumperChange, ...])
_PARTS = TypeAdapter(tuple[Part, ...])


def _route_data(route: Route) -> dict[str, Any]:
    return {
        "name": route.name,
        "title": route.title,
        "offered": route.offered,
        "reasons": list(route.reasons),
        "lost": list(route.lost),
        "parts": _PARTS.dump_python(route.parts, mode="json"),
        "minutes": route.minutes,
        "moved": route.moved,
        "landings": _LANDINGS.dump_python(route.landings, mode="json"),
        "jumpers": _JUMPERS.dump_python(route.jumpers, mode="json"),
        "left": None if route.left is None else plain(route.left),
        "weaker": route.weaker,
    }


def _route_from(data: Map[str, Any]) -> Route:
    return Route(
        **{
            **data,
            "reasons": tuple(data["reasons"]),
            "lost": tuple(data["lost"]),
            "parts": _PARTS.validate_python(data["parts"]),
            "landings": _LANDINGS.validate_python(data["landings"]),
            "jumpers": _JUMPERS.validate_python(data["jumpers"]),
            "left": None if data["left"] is None else Survey.model_validate_json(text_of(data["left"])),
        }
    )


def choices_bytes(plans: Sequence[HousePlan]) -> bytes:
    """Return choices as JSON, in order; what many of them share is written once."""
    shared: dict[str, int] = {}
    rows: list[tuple[int, float | None]] = []
    for plan in plans:
        data = choice_data(plan)
        margin = plan.proof.margin if plan.proof is not None else None
        if data["proof"] is not None:
            data["proof"]["margin"] = 0.0
        rows.append((shared.setdefault(text_of(data), len(shared)), margin))
    return json.dumps({"shared": list(shared), "rows": rows}, ensure_ascii=False).encode()
