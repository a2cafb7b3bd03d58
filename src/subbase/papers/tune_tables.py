"""A study of a house's heat as tables and sentences, the same for terminal, page and packet."""

from __future__ import annotations

import math
from collections.abc import Iterator

from subbase.comfort.answers import Units
from subbase.comfort.learn import Bounded, CannotTell, Learnt
from subbase.comfort.outcomes import ALLOWED_MORE_H
from subbase.comfort.setback import Recovery
from subbase.comfort.setting_records import Tuning
from subbase.comfort.study import BEST, EARLY, FLAT, Range, Study
from subbase.comfort.weekly import Unit, Week, week_table
from subbase.papers.tables import Rows, Table
from subbase.papers.tune_charts import RECOVERY_WORDS, SCHEDULE_WORDS
from subbase.words import _

BTU_H_PER_W = 3.412142
SMALL = 1e-9


def unit_of(units: Units) -> Unit:
    """Return the unit of temperatures on papers."""
    return "°F" if units == "us" else "°C"


def outcome_table(found: Study) -> Table:
    """Return the schedules side by side: one row for each thing that counts, one column for each schedule."""
    names = list(found.outcomes)
    rows = [(words, *cells) for words, cells in _rows(found, names) if any(cell not in ("0", "-") for cell in cells)]
    return Table(
        _("A year under each schedule"),
        ("", *(_(SCHEDULE_WORDS[name]) for name in names)),
        tuple(rows),
        (1.6, *(1.0 for _name in names)),
        _(
            "Each year was run minute by minute by the control in the loop, for the house in the middle. Savings: one in ten "
            "of the houses that fit the answers saves less than the first figure, one in ten more than the last. Outside "
            "comfort: somebody home, and more than 1.8 °F (1 K) from what they want. The bill is that of heating and cooling only."
        )
        + " "
        + _(
            "The cheapest found is the cheapest of those that leave people outside comfort for at most {hours:.0f} hours a year "
            "more than holding the temperature does."
        ).format(hours=ALLOWED_MORE_H),
    )


def _rows(found: Study, names: list[str]) -> Iterator[tuple[str, list[str]]]:
    outcomes = [found.outcomes[name] for name in names]

    def row(words: str, cells: Iterator[str] | list[str]) -> tuple[str, list[str]]:
        return words, list(cells)

    yield row(_("Cost a year"), [f"{o.bill.cost:,.0f}" for o in outcomes])
    yield row(_("Saves a year"), [_range(found.saving.get(name)) for name in names])
    yield row(_("Electricity, kWh"), [f"{o.bill.electric_kwh:,.0f}" for o in outcomes])
    yield row(_("of it strips, kWh"), [f"{o.bill.strip_kwh:,.0f}" for o in outcomes])
    yield row(_("of it cooling, kWh"), [f"{o.bill.cooling_kwh:,.0f}" for o in outcomes])
    yield row(_("Fuel, therms"), [f"{o.bill.therms:,.0f}" for o in outcomes])
    yield row(_("Carbon dioxide, kg"), [f"{o.bill.co2_kg:,.0f}" for o in outcomes])
    yield row(_("Hours too cold"), [f"{o.cold_h:,.0f}" for o in outcomes])
    yield row(_("Hours too warm"), [f"{o.hot_h:,.0f}" for o in outcomes])
    yield row(_("Hours of strips"), [f"{o.strip_h:,.0f}" for o in outcomes])
    yield row(_("Heating starts an hour, mean"), [_tenth(o.heat_starts_per_h) for o in outcomes])
    yield row(_("Heating starts in the worst hour"), [f"{o.most_heat_starts}" for o in outcomes])
    yield row(_("Cooling starts an hour, mean"), [_tenth(o.cool_starts_per_h) for o in outcomes])


def schedule_table(found: Study, units: Units) -> Table:
    """Return the cheapest week found, as any control can take it."""
    week = best_week(found)
    rows = week_table(week, unit_of(units))
    return Table(
        _("The cheapest week found"),
        (_("days"), _("from"), _("heat to"), _("cool to")),
        rows,
        (1.4, 0.8, 0.8, 0.8),
        _(
            "For a control that changes at the time written here; one that starts early by itself is set to the times of people."
        ),
    )


def best_week(found: Study) -> Week:
    """Return the cheapest week found, without setpoints that nothing serves."""
    equipment = found.served.equipment
    return found.best.pattern.week(heats=bool(equipment.heating), cools=bool(equipment.cooling))


def house_rows(found: Study, units: Units) -> Rows:
    """Return the house as it was reckoned with, as (what, value)."""
    house, kit = found.house, found.served
    scale, unit = (BTU_H_PER_W / 1.8, _("Btu/h a °F")) if units == "us" else (1.0, "W/K")
    heat, heat_unit = (BTU_H_PER_W, "Btu/h") if units == "us" else (1e-3, "kW")
    known = _("by its log") if house.by_log else _("by its age, size and glass")
    rows = [
        (_("Weather"), _("made up from two monthly means") if found.made_up else found.place),
        (
            _("Heat lost"),
            _("{middle} {unit} ({low} to {high}), {known}").format(
                middle=_three(house.loss_w_k.middle * scale), low=_three(house.loss_w_k.low * scale),
                high=_three(house.loss_w_k.high * scale), unit=unit, known=known,
            ),
        ),
        (
            _("Stays warm"),
            _("time constant of {middle:.0f} h ({low:.0f} to {high:.0f})").format(
                middle=house.slow_h.middle, low=house.slow_h.low, high=house.slow_h.high
            ),
        ),
        (_("Needs in its coldest hours"), f"{_three(kit.heat_peak_w * heat)} {heat_unit}"),
    ]  # fmt: skip
    if found.controls > 1:
        words = _("{count} controls share it; these figures are of the whole house, held to one schedule")
        rows.append((_("Controls"), words.format(count=found.controls)))
    equipment = kit.equipment
    for serves, feeling, celsius, words in (
        (equipment.heating, found.winter, found.answers.heat_to, _("{temperature}: about {part:.0f} in 100 people who sit in winter clothes are not content")),
        (equipment.cooling, found.summer, found.answers.cool_to, _("{temperature}: about {part:.0f} in 100 people who sit in light clothes are not content")),
    ):  # fmt: skip
        if serves:
            shown = f"{celsius * 1.8 + 32:.0f} °F" if units == "us" else f"{celsius:.1f} °C"
            rows.append((_("Comfort (ISO 7730)"), words.format(temperature=shown, part=100.0 * feeling.not_content)))
    return (*rows, *((_("Reckoned with"), words) for words in kit.told))


def setback_words(found: Study, units: Units) -> tuple[str, ...]:
    """Return what a setback does here, in sentences."""
    study = found.setback
    if study is None:
        return ()
    scale, unit = (1.8, "°F") if units == "us" else (1.0, "K")

    def depth(kelvin: float) -> str:
        return f"{kelvin * scale:.0f} {unit}"

    plain = study.curve(Recovery.AT_THE_HOUR)
    best_k, eaten_k = study.best_k(Recovery.AT_THE_HOUR), study.eaten_k(Recovery.AT_THE_HOUR)
    words = []
    if plain.cost.min() >= plain.cost[0] * (1.0 - 0.002):
        words.append(_("A night's setback that comes back at the hour saves nothing here."))
    elif eaten_k is not None:
        words.append(
            _(
                "Coming back at the hour, a night's setback saves most at {best}; from {eaten} on, recovery eats all of it."
            ).format(best=depth(best_k), eaten=depth(eaten_k))
        )
    elif best_k < study.depths_k[-1] - 0.25:
        words.append(
            _(
                "Coming back at the hour, a night's setback saves {saving:,.0f} a year at {best}; deeper saves no more."
            ).format(saving=float(plain.saving.max()), best=depth(best_k))
        )
    else:
        words.append(
            _(
                "Coming back at the hour, every degree of a night's setback saves, {saving:,.0f} a year at {best}."
            ).format(saving=float(plain.saving.max()), best=depth(best_k))
        )
    way, advised_k = study.advice
    if advised_k > 0.0:
        curve = study.curve(way)
        at = int(abs(study.depths_k - advised_k).argmin())
        words.append(
            _(
                "Advised: {depth} at night, {way}. It saves {saving:,.0f} a year against holding the temperature."
            ).format(depth=depth(advised_k), way=_(RECOVERY_WORDS[way]), saving=float(plain.cost[0] - curve.cost[at]))
        )
    else:
        words.append(_("Advised: no setback at night. What it saves would be paid in strips or in cold mornings."))
    return tuple(words)


def learnt_rows(found: Learnt | CannotTell, units: Units) -> tuple[Rows, tuple[str, ...]]:
    """Return what the log told as (what, value), and what it could not tell."""
    if isinstance(found, CannotTell):
        return (), found.reasons
    kelvin, unit = (1.8, "°F") if units == "us" else (1.0, "K")
    loss, loss_unit = (BTU_H_PER_W / 1.8, _("Btu/h a °F")) if units == "us" else (1.0, "W/K")
    store, store_unit = (1.0 / 1055.056 / 1.8, _("Btu a °F")) if units == "us" else (1.0 / 3.6e6, "kWh/K")
    rows = [
        (_("Full output lifts the house"), _bounds(found.lift_k, kelvin, unit)),
        (_("Sun and people lift it"), _bounds(found.gain_lift_k, kelvin, unit)),
        (_("Time constant, whole house"), _bounds(found.slow_h, 1.0, "h")),
        (_("Time constant, air"), _bounds(found.fast_h, 1.0, "h")),
    ]
    rests_c = found.runs_all_the_time_c(20.0)
    shown = f"{rests_c * 1.8 + 32:.0f} °F" if units == "us" else f"{rests_c:.0f} °C"
    inside = "68 °F" if units == "us" else "20 °C"
    rows.append(
        (_("Never rests below"), _("{outdoors} outdoors, to hold {inside}").format(outdoors=shown, inside=inside))
    )
    if found.loss_w_k is not None and found.capacity_j_k is not None and found.gain_w is not None:
        rows += [
            (_("Heat lost"), _bounds(found.loss_w_k, loss, loss_unit)),
            (_("Heat stored"), _bounds(found.capacity_j_k, store, store_unit)),
            (
                _("Gains"),
                _bounds(found.gain_w, BTU_H_PER_W if units == "us" else 1.0, "Btu/h" if units == "us" else "W"),
            ),
        ]
    told = list(found.doubts)
    if found.loss_w_k is None:
        told.append(
            _(
                "Temperatures and run times tell ratios only. With the equipment's heat output from its nameplate they tell watts."
            )
        )
    return tuple(rows), tuple(told)


def owner_words(tuning: Tuning, found: Study | None, units: Units) -> tuple[str, ...]:
    """Return what the owner should know of the settings, in words without trade."""
    words = [
        _("Your control follows a week that was set for when you are home, asleep and away. A change by hand lasts until the next time in that week."),
    ]  # fmt: skip
    if tuning.of("auxiliary_lockout") is not None:
        words.append(
            _(
                "Your heat pump has electric strips to help it. They cost two to three times as much for the same warmth, so they "
                "are held off while it is mild outside. Turning the temperature up by many degrees at once calls them: go up "
                "one or two degrees at a time."
            )
        )
    if tuning.of("second_fuel_changeover") is not None:
        words.append(
            _(
                "In mild weather the heat pump warms the house, in the cold the burner does. The change is by itself; both never run at once."
            )
        )
    if found is not None:
        words += _owner_year(found)
    words.append(
        _(
            "If you are cold or warm at some time of day, move that time or that temperature in the week; it is yours to change."
        )
    )
    if tuning.of("heat_lowest") is not None:
        cold = _("55 °F") if units == "us" else _("13 °C")
        words.append(
            _(
                "When you go away in winter do not set the heating under {cold}: pipes in outer walls could freeze."
            ).format(cold=cold)
        )
    return tuple(words)


def _owner_year(found: Study) -> Iterator[str]:
    best, saving = found.outcomes[BEST], found.saving[BEST]
    if saving.high > 0.01 * best.bill.cost:
        yield _(
            "Reckoned for houses like yours, this week saves {low:,.0f} to {high:,.0f} a year against holding one temperature "
            "day and night. The weather and your habits will move that."
        ).format(low=max(saving.low, 0.0), high=saving.high)
    if EARLY in found.outcomes and found.outcomes[EARLY].bill.cost < found.outcomes[FLAT].bill.cost:
        yield _("If your control can start early by itself, let it: it is warm when you rise, and it need not hurry.")
    if found.answers.peak is not None:
        yield _(
            "Electricity is dear at some hours. The house is warmed or cooled a little before them, so that less runs in them."
        )


def _range(found: Range | None) -> str:
    if found is None:
        return "-"
    return _("{middle} ({low} to {high})").format(
        middle=f"{found.middle:,.0f}", low=f"{found.low:,.0f}", high=f"{found.high:,.0f}"
    )


def _bounds(found: Bounded, scale: float, unit: str) -> str:
    return _("{value} {unit} (95 in 100: {low} to {high})").format(
        value=_three(found.value * scale), unit=unit, low=_three(found.low * scale), high=_three(found.high * scale)
    )


def _tenth(value: float) -> str:
    return f"{value:.1f}" if value > SMALL else "0"


def _three(value: float) -> str:
    """Return three digits, without an exponent."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    digits = max(2 - math.floor(math.log10(abs(value))), 0)
    rounded = round(value, 2 - math.floor(math.log10(abs(value))))
    return f"{rounded:,.{digits}f}"


__all__ = [
    "best_week", "house_rows", "learnt_rows", "outcome_table",
    "owner_words", "schedule_table", "setback_words", "unit_of",
]  # fmt: skip
