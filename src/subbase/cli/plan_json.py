"""A plan as one JSON object, format 1: stable names, SI units, volts rounded to a hundredth."""

from __future__ import annotations

from typing import Any

from subbase.plan import Plan, Route
from subbase.plan.proof import Proof
from subbase.plan.result import as_known
from subbase.survey import Survey
from subbase.survey.file_form import file_form


def plan_data(plan: Plan) -> dict[str, Any]:
    """Return the plan as plain data."""
    return {
        "format": 1,
        "survey": plan.survey.name,
        "verdict": plan.verdict,
        "stops": [{"seen": stop.seen, "instead": stop.instead} for stop in plan.stops],
        "questions": [
            {
                "field": question.field,
                "question": question.text,
                "how": question.how,
                "answers": [{"value": a.value, "leads_to": a.leads_to} for a in question.answers],
            }
            for question in plan.questions
        ],
        "indifferent": list(plan.indifferent),
        "contradictions": [{"text": c.text, "would_agree_if": list(c.would_agree)} for c in plan.contradictions],
        "controls": [
            {
                "control": item.control,
                "wanted_calls": list(item.wanted),
                "settings": {
                    "compressor_heats": item.settings.compressor_heats,
                    "changeover_energised_in": item.settings.changeover,
                    "control_runs_fan_in_heating": item.settings.fan_with_heat,
                },
                "chosen": item.chosen.name,
                "routes": [_route(route, plan.survey) for route in item.routes],
            }
            for item in plan.controls
        ],
        "refused": [_route(route, plan.survey) for route in plan.refused],
        "found": _survey(plan.found),
        "left": _survey(plan.left),
        "proof_found": _proof(plan.proof_found),
        "proof": _proof(plan.proof),
        "readings": [
            {
                "state": r.state,
                "between": list(r.between),
                "volts": round(r.volts, 2),
                "low_v": round(r.low_v, 2),
                "high_v": round(r.high_v, 2),
            }
            for r in plan.readings
        ],
        "cautions": [{"text": c.text, "source": c.source} for c in plan.cautions],
        "notes": list(plan.notes),
        "trusted": list(plan.trusted),
    }


def _survey(survey: Survey | None) -> dict[str, Any] | None:
    return None if survey is None else file_form(survey)


def _route(route: Route, survey: Survey) -> dict[str, Any]:
    return {
        "route": route.name,
        "title": route.title,
        "offered": route.offered,
        "reasons": list(route.reasons),
        "lost_calls": list(route.lost),
        "parts": [{"what": part.what, "count": part.count} for part in route.parts],
        "minutes": route.minutes,
        "landings_changed": route.moved,
        "margin": None if route.proof is None else round(route.proof.margin, 4),
        "margin_at": None if route.proof is None else route.proof.margin_words,
        "landings": [
            {
                "cable": x.cable,
                "conductor": x.conductor,
                "colours": list(x.colours),
                "carries": x.carries,
                "wall_found": x.wall_found,
                "wall_left": x.wall_left,
                "far_found": x.far_found,
                "far_left": x.far_left,
            }
            for x in (as_known(survey, landing) for landing in route.landings)
        ],
        "jumpers": [{"between": list(x.jumper.between), "action": x.action, "why": x.why} for x in route.jumpers],
    }


def _proof(proof: Proof | None) -> dict[str, Any] | None:
    if proof is None:
        return None
    several = len({name for state in proof.states for name, __ in state.state.calls}) > 1
    return {
        "holds": proof.holds,
        "bounds": "corners",
        "margin": round(proof.margin, 4),
        "margin_at": proof.margin_words,
        "failures": [{"rule": f.rule, "text": f.text, "state": f.state} for f in proof.failures],
        "states": [
            {
                "state": state.state.name(name_controls=several),
                "given_up": state.waived,
                "loads": [
                    {
                        "load": load.tag,
                        "words": load.words,
                        "sealed_v": round(load.sealed_v, 2),
                        "low_v": round(load.low_v, 2),
                        "high_v": round(load.high_v, 2),
                        "inrush_v": round(load.inrush_v, 2),
                        "sealed_a": round(load.sealed_a, 4),
                        "inrush_a": round(load.inrush_a, 4),
                        "pull_in_v": round(load.pull_in_v, 2),
                    }
                    for load in state.loads
                ],
                "supplies": [
                    {"supply": s.tag, "draw_va": round(s.draw_va, 2), "rated_va": s.rated_va} for s in state.supplies
                ],
                "controls": [
                    {
                        "control": c.control,
                        "awake_v": round(c.awake_v, 2),
                        "low_v": round(c.low_v, 2),
                        "high_v": round(c.high_v, 2),
                        "least_v": c.least_v,
                        "most_v": c.most_v,
                    }
                    for c in state.controls
                ],
            }
            for state in proof.states
        ],
    }
