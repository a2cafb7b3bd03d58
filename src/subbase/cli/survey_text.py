"""A survey as text: what lands where, what each call does today, what is open."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.catalog import Catalog
from subbase.cli.plan_text import table, wrapped
from subbase.names import conductor_words, landing_words, list_words, named, or_words
from subbase.plan.check import SurveyCheck
from subbase.plan.look_again import proof_as_found
from subbase.plan.unknowns import open_facts
from subbase.survey import Survey, Unknown
from subbase.units import feet_from_metres
from subbase.words import _


def check_text(survey: Survey, report: SurveyCheck) -> str:
    """Return what is open and what contradicts, as text."""
    lines = [_("{survey}: the survey can be read.").format(survey=survey.name)]
    if report.open_facts:
        lines.append(_("Open ({count}):").format(count=len(report.open_facts)))
        for fact in report.open_facts:
            lines += wrapped(f"{fact.text} {fact.how}", "    ", "  - ")
    if report.disagreements:
        lines.append(_("Readings that contradict it:"))
        for text in report.disagreements:
            lines += wrapped(text, "    ", "  - ")
    if report.look_again:
        lines.append(_("Look again:"))
        for text in report.look_again:
            lines += wrapped(text, "    ", "  - ")
    return "\n".join(lines)


def show_text(survey: Survey, catalog: Catalog) -> str:
    """Return the house as found, as text."""
    return "\n".join(_show(survey, catalog))


def _show(survey: Survey, catalog: Catalog) -> Iterator[str]:
    yield survey.name
    yield "=" * len(survey.name)
    for name, control in survey.controls.items():
        yield _("{name}: control with {terminals}, fed by {power}").format(
            name=name, terminals=" ".join(control.old.terminals), power=named(control.old.power)
        )
    for name, item in survey.equipment.items():
        kind = (
            _("one of {kinds}").format(kinds=list_words(map(str, item.kind.either)))
            if isinstance(item.kind, Unknown)
            else _(catalog[item.kind].title)
        )
        said = _("{name}: {kind}, at {place}") if item.at else "{name}: {kind}"
        line = said.format(name=name, kind=kind, place=named(item.at))
        yield (
            line
            if item.role == "main"
            else _("{line}; its part in heating: {role}").format(line=line, role=_(item.role))
        )
    for name, transformer in survey.transformers.items():
        yield _("{name}: transformer, {va} VA").format(name=name, va=_value(transformer.va))
    for name, cable in survey.cables.items():
        length = (
            _value(cable.length_m) if isinstance(cable.length_m, Unknown) else _length(cable.length_m, survey.units)
        )
        yield ""
        yield _("Cable {name}: {near} to {far}, {length}, {gauge} AWG").format(
            name=name, near=cable.from_, far=cable.to, length=length, gauge=_value(cable.gauge_awg)
        )
        rows = [(conductor_words(n), _value(c.from_), _value(c.to)) for n, c in cable.conductors.items()]
        yield from table(
            (_("Conductor"), _("At {place}").format(place=cable.from_), _("At {place}").format(place=cable.to)), rows
        )
    for jumper in survey.jumpers:
        yield _("Jumper {first} to {second}").format(first=jumper.between[0], second=jumper.between[1])
    yield ""
    if open_facts(survey, catalog):
        yield _("What each call does today cannot be said before the open questions are answered (subbase plan).")
        return
    proof = proof_as_found(survey, catalog)
    yield _("What each call does today:")
    for state in (state for state in proof.states if not state.waived):
        on = ", ".join(load.words for load in state.loads if load.tag in state.nominal.coils_in) or named("nothing")
        yield from wrapped(f"{state.words}: {on}", "      ", "  ")
    told: dict[str, list[str]] = {}
    for failure in proof.failures:
        told.setdefault(failure.cause, []).append(failure.state)
    for text, states in told.items():
        where = ", ".join(dict.fromkeys(state for state in states if state))
        yield from wrapped(f"{text} ({where})" if where else text, "      ", "  ! ")


def _value(value: object) -> str:
    if isinstance(value, Unknown):
        return (
            _("either {values}").format(values=or_words(map(str, value.either))) if value.either else named("unknown")
        )
    return f"{value:g}" if isinstance(value, float) else landing_words(str(value))


def _length(length_m: float, units: str) -> str:
    return f"{feet_from_metres(length_m):.0f} ft" if units == "us" else f"{length_m:.1f} m"
