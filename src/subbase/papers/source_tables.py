"""Where the numbers of a plan come from: values of the equipment, rules and constants, each with its source."""

from __future__ import annotations

from subbase.catalog import FusePart, LoadPart, Part, ResistorPart, TransformerPart
from subbase.papers.figures import share, signed_share
from subbase.papers.tables import Table
from subbase.plan import Plan
from subbase.plan.proof import CLASS_2_MOST_V, CLASS_2_MOST_VA
from subbase.survey import Unknown
from subbase.wiring.build import HIGH, LOW
from subbase.words import _


def source_table(plan: Plan) -> Table:
    """Return where the numbers of the circuit come from: catalogue values and nameplates of this house."""
    survey = plan.left or plan.found or plan.survey
    parts: dict[tuple[str, str, str], list[str]] = {}
    for place, item in survey.equipment.items():
        if isinstance(item.kind, Unknown) or item.kind not in plan.catalog:
            continue
        for part in plan.catalog[item.kind].parts:
            shown = part.model_copy(update=item.nameplate.get(part.id, {}))
            values = part_values(shown)
            if values and part.id not in item.without:
                named = part.id in item.nameplate
                source = _("nameplate or change named in this plan") if named else _(part.source)
                parts.setdefault((place, values, source), []).append(_(part.what) or part.id.replace("-", " "))
    for place, transformer in survey.transformers.items():
        if not isinstance(transformer.va, Unknown) and not isinstance(transformer.volts, Unknown):
            values = _transformer(transformer.va, transformer.volts, transformer.regulation)
            parts[place, values, _("survey")] = [_("transformer")]
    rows = tuple((place, "; ".join(names), values, source) for (place, values, source), names in parts.items())
    head = (_("Place"), _("Part"), _("Value"), _("Source"))
    return Table(_("Values of the equipment"), head, rows, (1.1, 1.9, 1.9, 3.3))


def part_values(part: Part) -> str:
    """Return the numbers of a part that the circuit uses; empty when it has none."""
    match part:
        case TransformerPart():
            return _transformer(part.va, part.volts, part.regulation)
        case FusePart():
            return f"{part.rating_a:g} A"
        case LoadPart() if part.va_inrush:
            return _("{va} VA, {inrush} VA pulling in; pulls in at {share} of {volts} V").format(
                va=f"{part.va:g}", inrush=f"{part.va_inrush:g}", share=share(part.pull_in), volts=f"{part.volts:g}"
            )
        case LoadPart():
            return _("{va} VA; pulls in at {share} of {volts} V").format(
                va=f"{part.va:g}", share=share(part.pull_in), volts=f"{part.volts:g}"
            )
        case ResistorPart():
            return _("{ohm} ohm").format(ohm=f"{part.ohm:g}")
        case _other:
            return ""


def _transformer(va: float, volts: float, regulation: float) -> str:
    return _("{va} VA, {volts} V, regulation {regulation}").format(
        va=f"{va:g}", volts=f"{volts:g}", regulation=f"{regulation:.1%}"
    )


def rules_table() -> Table:
    """Return the rules behind the proof and the readings."""
    rows = (
        (
            _("Class 2 supply"),
            _("at most {va} VA and {volts} V").format(va=f"{CLASS_2_MOST_VA:g}", volts=f"{CLASS_2_MOST_V:g}"),
            _("NFPA 70, chapter 9, table 11(A), inherently limited source (from memory; the edition in force decides)"),
        ),
        (
            _("Line voltage"),
            _("{low} to {high}").format(low=signed_share(LOW.primary - 1), high=signed_share(HIGH.primary - 1)),
            _("asked for of this plan"),
        ),
        (
            _("Regulation, loads, copper"),
            _("±10 %, ±5 %, 0 to 50 °C, all at their worst together"),
            _("judgement"),
        ),
        (_("Copper"), _("1/58 ohm·mm²/m at 20 °C, 0.00393 per K"), _("IEC 60028 (from memory)")),
        (_("Gauge"), "d = 0.005 in × 92^((36 − n)/39)", _("ASTM B258 (from memory)")),
        (_("Meter and leads"), _("3 % of reading and 0.5 V added to every range"), _("judgement")),
    )
    return Table(_("Rules and constants"), (_("What"), _("Value"), _("Source")), rows, (1.5, 2.4, 3.6))
