"""A survey as text: what lands where, what each call does today, what is open."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.catalog import Catalog
from subbase.cli.plan_text import table, wrapped
from subbase.plan.check import SurveyCheck
from subbase.plan.make import proof_as_found
from subbase.plan.unknowns import open_facts
from subbase.survey import Survey, Unknown
from subbase.units import feet_from_metres


def check_text(survey: Survey, report: SurveyCheck) -> str:
    """Return what is open and what contradicts, as text."""
    lines = [f"{survey.name}: the survey can be read."]
    if report.open_facts:
        lines.append(f"Open ({len(report.open_facts)}):")
        for fact in report.open_facts:
            lines += wrapped(f"{fact.text} {fact.how}", "    ", "  - ")
    if report.disagreements:
        lines.append("Readings that contradict it:")
        for text in report.disagreements:
            lines += wrapped(text, "    ", "  - ")
    return "\n".join(lines)


def show_text(survey: Survey, catalog: Catalog) -> str:
    """Return the house as found, as text."""
    return "\n".join(_show(survey, catalog))


def _show(survey: Survey, catalog: Catalog) -> Iterator[str]:
    yield survey.name
    yield "=" * len(survey.name)
    for name, control in survey.controls.items():
        yield f"{name}: control with {' '.join(control.old.terminals)}, fed by {control.old.power}"
    for name, item in survey.equipment.items():
        kind = (
            "one of " + ", ".join(map(str, item.kind.either))
            if isinstance(item.kind, Unknown)
            else catalog[item.kind].title
        )
        yield f"{name}: {kind}" + (f", at {item.at}" if item.at else "")
    for name, transformer in survey.transformers.items():
        yield f"{name}: transformer, {_value(transformer.va)} VA"
    for name, cable in survey.cables.items():
        length = (
            _value(cable.length_m) if isinstance(cable.length_m, Unknown) else _length(cable.length_m, survey.units)
        )
        yield ""
        yield f"Cable {name}: {cable.from_} to {cable.to}, {length}, {_value(cable.gauge_awg)} AWG"
        rows = [(n, _value(c.from_), _value(c.to)) for n, c in cable.conductors.items()]
        yield from table(("Conductor", f"At {cable.from_}", f"At {cable.to}"), rows)
    for jumper in survey.jumpers:
        yield f"Jumper {jumper.between[0]} to {jumper.between[1]}"
    yield ""
    if open_facts(survey, catalog):
        yield "What each call does today cannot be said before the open questions are answered (subbase plan)."
        return
    proof = proof_as_found(survey, catalog)
    yield "What each call does today:"
    for state in (state for state in proof.states if not state.waived):
        on = ", ".join(load.words for load in state.loads if load.tag in state.nominal.coils_in) or "nothing"
        yield from wrapped(f"{state.words}: {on}", "      ", "  ")
    told: dict[str, list[str]] = {}
    for failure in proof.failures:
        told.setdefault(failure.text.partition(":")[0], []).append(failure.state)
    for text, states in told.items():
        where = ", ".join(dict.fromkeys(state for state in states if state))
        yield from wrapped(f"{text} ({where})" if where else text, "      ", "  ! ")


def _value(value: object) -> str:
    if isinstance(value, Unknown):
        return f"either {' or '.join(map(str, value.either))}" if value.either else "unknown"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _length(length_m: float, units: str) -> str:
    return f"{feet_from_metres(length_m):.0f} ft" if units == "us" else f"{length_m:.1f} m"
