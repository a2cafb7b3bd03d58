"""How a control must be set for the equipment it drives: every setting with its value, its reason and its source.

The wiring decides some of it (stages, changeover, fan), the kind of heat some (cycle rate, times), and the house the rest
(lockouts, the change to another fuel). What the house decides is told only when the house is known; otherwise the
setting says what to ask for, and what is safe until then. Any control takes these, whatever it calls them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from subbase.catalog import Call, Catalog, Kind
from subbase.comfort.balance import WARMEST_C, LoadLine, break_even_cop, economic_balance_c, thermal_balance_c
from subbase.comfort.equipment import HeatPumpRating, on_off_s
from subbase.comfort.setting_records import (
    COOLING_CYCLES_PER_H,
    CYCLES_PER_H,
    Facts,
    Heat,
    Setting,
    Slot,
    Tuning,
)
from subbase.comfort.setting_units import AUXILIARY_AT_MOST_F, fahrenheit, limit_words, told, until_known
from subbase.survey import Survey
from subbase.wiring import Settings, settings_for
from subbase.wiring.outputs import stage
from subbase.wiring.states import serves
from subbase.words import _, mark

JUDGEMENT = mark("judgement")
PRACTICE = mark("common practice, no source")
CFR = "10 CFR 460.202"
LOAD_SPREAD = 0.15
"""How far a heat loss from a nameplate, a bill or a rule may be off, either way [judgement]."""
WARMEST_F = WARMEST_C * 1.8 + 32.0


@dataclass(frozen=True, slots=True)
class _Seen:
    """One control's equipment as the rules below look at it."""

    calls: tuple[Call, ...]
    wiring: Settings
    kinds: tuple[tuple[str, Kind], ...]
    """(role, kind) of everything that works for it."""
    facts: Facts
    units: str = "us"

    def stages(self, name: str) -> int:
        return stage(self.calls, name)

    @property
    def cools(self) -> bool:
        return self.stages("cool") > 0

    @property
    def heats(self) -> bool:
        return self.stages("heat") > 0

    @property
    def has_compressor(self) -> bool:
        return self.cools or self.wiring.compressor_heats

    @property
    def auxiliary(self) -> int:
        return self.stages("auxiliary heat")

    @property
    def second_fuel(self) -> bool:
        return self.wiring.compressor_heats and self.stages("second fuel heat") > 0

    @property
    def heat(self) -> Heat:
        if not self.heats:
            return Heat.NONE
        if self.wiring.compressor_heats:
            return Heat.HEAT_PUMP
        heaters = [kind for role, kind in self.kinds if role == "main" and kind.heats]
        words = " ".join(f"{kind.kind} {kind.title}".lower() for kind in heaters)
        groups = {kind.group for kind in heaters}
        if "steam" in words:
            return Heat.STEAM
        if "hydronic" in groups:
            return Heat.WATER
        return Heat.ELECTRIC if any(kind.heats_by_electricity for kind in heaters) else Heat.WARM_AIR


def tuning(
    survey: Survey,
    catalog: Catalog,
    control: str,
    calls: Iterable[Call],
    facts: Facts | None = None,
    units: str | None = None,
) -> Tuning:
    """Return how one control is set.

    ``survey`` is the house as it is left, with every kind known; ``calls`` are those that work there; ``units`` are the
    survey's where none are given.
    """
    kinds = tuple((item.role, catalog[str(item.kind)]) for item in survey.equipment.values() if serves(item, control))
    seen = _Seen(tuple(calls), settings_for(survey, catalog, control), kinds, facts or Facts(), units or survey.units)
    settings = (*_stages(seen), *_outputs(seen), *_rates(seen), *_lockouts(seen), *_air_quality(seen), *_limits(seen))
    schedule, why, source = _first_schedule(seen)
    return Tuning(control, seen.heat, settings, schedule, why, source)


def _stages(seen: _Seen) -> Iterator[Setting]:
    found = (
        ("heat_stages", _("Stages of heat"), seen.stages("heat")),
        ("cool_stages", _("Stages of cooling"), seen.stages("cool")),
        ("auxiliary_stages", _("Stages of auxiliary heat"), seen.auxiliary),
        ("second_fuel_stages", _("Stages of the second fuel"), seen.stages("second fuel heat")),
    )
    source = _("the equipment's terminals and the landings of the plan")
    for key, name, count in found:
        if key.startswith(("heat", "cool")) or count:
            why = _("So many are wired through and work; a stage set but not wired would be waited for in vain.")
            yield Setting(key, name, str(count) if count else _("none"), why, source, count)
    if seen.wiring.compressor_heats:
        why = _("The same compressor heats and cools: a heating call must run it, and the changeover says which way.")
        yield Setting("heat_source", _("What heats first"), _("the compressor (heat pump)"), why, source)


def _outputs(seen: _Seen) -> Iterator[Setting]:
    catalogue = _("the equipment's kind in the catalogue; check it at the register")
    if seen.wiring.changeover is not None:
        cooling = seen.wiring.changeover == "cooling"
        value = _("energised in cooling (O)") if cooling else _("energised in heating (B)")
        why = _("Set the wrong way round, the house is cooled when it asks for heat. Feel the air in both calls.")
        yield Setting("changeover", _("Changeover valve"), value, why, catalogue)
    if seen.heat in (Heat.WATER, Heat.STEAM):
        why = _("Heat comes by pipes; a fan would only blow air that nobody has warmed.")
        yield Setting("fan_in_heating", _("Fan in heating"), _("off"), why, catalogue)
    elif seen.wiring.fan_with_heat:
        why = _(
            "This equipment does not start its own fan for this heat. Heat without air trips limits and burns strips."
        )
        value = _("run by the control, with every heating call")
        yield Setting("fan_in_heating", _("Fan in heating"), value, why, catalogue)
    elif seen.heat is Heat.HEAT_PUMP:
        why = _("The compressor needs air and starts no fan; strips and burners here start it themselves.")
        value = _("run by the control with the compressor; other heat starts it")
        yield Setting("fan_in_heating", _("Fan in heating"), value, why, catalogue)
    elif seen.heats:
        why = _(
            "What needs air starts its fan itself when it is warm; the control would start it too early, with cold air."
        )
        yield Setting("fan_in_heating", _("Fan in heating"), _("left to the equipment"), why, catalogue)
    if seen.cools:
        why = _("Cooling without air ices the coil.")
        yield Setting(
            "fan_in_cooling", _("Fan in cooling"), _("run by the control, with every cooling call"), why, catalogue
        )


def _rates(seen: _Seen) -> Iterator[Setting]:
    curve = _("cycling curve N = 4 N_max X (1 - X), NEMA DC 3 [from memory]; N_max: {source}")
    if seen.heats:
        most, source = CYCLES_PER_H[seen.heat]
        yield _rate("heat_cycles", _("Cycles an hour in heating"), most, curve.format(source=_(source)))
        yield _differential(seen)
    if seen.cools:
        known = curve.format(source=_("typical value in the EnergyPlus documentation"))
        yield _rate("cool_cycles", _("Cycles an hour in cooling"), COOLING_CYCLES_PER_H, known)
    if seen.has_compressor:
        why = _("Pressures must even out before a compressor starts again. A second timer in the unit does no harm.")
        yield Setting(
            "compressor_off", _("Least off time of the compressor"), _("5 minutes"), why, _(PRACTICE), 5.0, "min"
        )
    for name, count in (("heat", seen.stages("heat")), ("cool", seen.stages("cool"))):
        if count > 1:
            label = _("Wait before stage 2 of heat") if name == "heat" else _("Wait before stage 2 of cooling")
            why = _("Stage 1 must have had its time; a stage called too early makes short, loud, dear cycles.")
            yield Setting(
                f"{name}_staging", label, _("15 minutes of stage 1 without gaining"), why, _(JUDGEMENT), 15.0, "min"
            )


def _rate(key: str, name: str, most: float, source: str) -> Setting:
    on_s, off_s = on_off_s(0.5, most)
    why = _(
        "That many at half load, fewer at any other. Check: when it runs half the time, "
        "about {on:.0f} minutes on and {off:.0f} minutes off."
    ).format(on=on_s / 60.0, off=off_s / 60.0)
    return Setting(key, name, _("{most:g} at most").format(most=most), why, source, most, "1/h")


def _differential(seen: _Seen) -> Setting:
    degrees = 0.5 if seen.heat is Heat.ELECTRIC else 1.0
    why = _(
        "For a control that takes a differential in place of a cycle rate. Count the cycles at half load: too many, widen it."
    )
    name = _("Differential in heating")
    if seen.units == "us":
        value = _("{degrees:g} °F to start with").format(degrees=degrees)
        return Setting("differential", name, value, why, _(JUDGEMENT), degrees, "°F")
    kelvin = 0.3 if seen.heat is Heat.ELECTRIC else 0.5
    value = _("{degrees:g} °C to start with").format(degrees=kelvin)
    return Setting("differential", name, value, why, _(JUDGEMENT), kelvin, "°C")


def _lockouts(seen: _Seen) -> Iterator[Setting]:
    if not seen.wiring.compressor_heats:
        return
    if seen.second_fuel:
        yield _second_fuel(seen)
    else:
        why = _(
            "Strips never give more heat than the electricity they use; a compressor that may run always gives more."
        )
        ask = _("the lowest outdoor temperature at which the maker lets the outdoor unit heat")
        yield Setting("compressor_lockout", _("Compressor kept off below"), _("no lockout, unless the maker names one"), why, _("energy balance"), ask=ask)  # fmt: skip
    if seen.auxiliary:
        yield _auxiliary(seen)
        yield _auxiliary_wait(seen.facts)
    if seen.stages("emergency heat"):
        why = _("It replaces a broken compressor. Nothing but a person should choose it.")
        yield Setting("emergency", _("Emergency heat"), _("by hand only"), why, _(PRACTICE))


def _auxiliary_wait(facts: Facts) -> Setting:
    name = _("Wait before auxiliary heat")
    if facts.load is not None and facts.rating is not None:
        point_f = fahrenheit(thermal_balance_c(facts.rating, facts.load))
        if math.isfinite(point_f) and point_f > AUXILIARY_AT_MOST_F:
            why = _(
                "This heat pump falls short of the house on many days; a longer wait would leave it cold each time."
            )
            value = _("15 minutes of the compressor without gaining")
            return Setting("auxiliary_wait", name, value, why, _(JUDGEMENT), 15.0, "min")
    why = _("A deep setback makes auxiliary heat do the recovery; time lets the compressor do it.")
    value = _("30 minutes of the compressor without gaining")
    return Setting("auxiliary_wait", name, value, why, _(JUDGEMENT), 30.0, "min")


def _auxiliary(seen: _Seen) -> Setting:
    facts, units = seen.facts, seen.units
    name = _("Auxiliary heat kept off above")
    rule = _("{cfr} (c): no supplementary heat, except in defrost, while the compressor can meet the load").format(
        cfr=CFR
    )
    if facts.load is None or facts.rating is None:
        value, number, unit = until_known(units)
        why = _("Auxiliary heat is needed only below the point where the heat pump falls short of the house.")
        return Setting("auxiliary_lockout", name, value, why, f"{rule}; {_('35 °F: a published programme')}", number, unit, _ask_balance())  # fmt: skip
    low, point, high = _balance_f(facts.rating, facts.load)
    if math.isinf(point):
        if point > 0:
            value = _("no lockout: the heat pump is too small for this house at any outdoor temperature")
            why = _("By its rating it never meets the heat loss given. Check both numbers before you believe this.")
        else:
            value = _("off; the heat pump carries the house at every outdoor temperature")
            why = _("By its rating it always meets the heat loss given. Keep auxiliary heat for defrost and emergency.")
        return Setting("auxiliary_lockout", name, value, why, rule, always=point)
    value, number, unit = limit_words(min(high, WARMEST_F), units)
    why = _(
        "The heat pump falls short below {point} (from {low} to {high} if the heat loss is off by {spread:.0%}, no heat "
        "needed above {no_heat}); the warm end keeps the house warm in any case."
    ).format(
        point=told(point, units),
        low=told(low, units),
        high=told(high, units),
        spread=LOAD_SPREAD,
        no_heat=told(fahrenheit(facts.load.no_heat_c), units),
    )
    return Setting("auxiliary_lockout", name, value, why, rule, number, unit)


def _second_fuel(seen: _Seen) -> Setting:
    facts, units = seen.facts, seen.units
    key, name = "second_fuel_changeover", _("Change to the second fuel below")
    source = _("balance of capacity (AHRI 210/240) and cost of heat (identity)")
    prices = facts.electricity_per_kwh, facts.fuel_per_therm, facts.fuel_efficiency
    electricity, fuel, efficiency = prices
    if facts.rating is None or (facts.load is None and None in prices):
        value, number, unit = until_known(units)
        why = _("The burner takes over where the heat pump falls short of the house, or where its heat gets dearer.")
        ask = _("{balance}; prices per kWh and per therm, and the burner's efficiency").format(balance=_ask_balance())
        return Setting(key, name, value, why, _(JUDGEMENT), number, unit, ask)
    points_f: list[float] = []
    reasons = [_("Never both at once: the coil sits in the burner's warm air.")]
    if facts.load is not None:
        points_f.append(_balance_f(facts.rating, facts.load)[1])
        reasons.append(
            _("The heat pump falls short of the house below {point}.").format(point=told(points_f[-1], units))
        )
    if electricity is not None and fuel is not None and efficiency is not None:
        cop = break_even_cop(electricity, fuel, efficiency)
        points_f.append(fahrenheit(economic_balance_c(facts.rating, cop)))
        reasons.append(
            _("Heat from the burner is cheaper where the heat pump's COP is under {cop:.2f}: below {point}.").format(
                cop=cop, point=told(points_f[-1], units)
            )
        )
    ask = "" if len(points_f) == 2 else _ask_balance() if facts.load is None else _("prices per kWh and per therm, and the burner's efficiency")  # fmt: skip
    warmest_f = max(points_f)
    if math.isinf(warmest_f):
        value = _("the burner always") if warmest_f > 0 else _("the heat pump always")
        return Setting(key, name, value, " ".join(reasons), source, ask=ask, always=warmest_f)
    value, number, unit = limit_words(warmest_f, units)
    reasons.append(_("The warmer of what is known is set."))
    return Setting(key, name, value, " ".join(reasons), source, number, unit, ask)


def _air_quality(seen: _Seen) -> Iterator[Setting]:
    if "humidify" in seen.calls:
        why = _("More than this sweats on cold glass. Lower it until the windows stay dry in the coldest week.")
        yield Setting("humidify", _("Humidify below"), _("35 % relative humidity"), why, _(JUDGEMENT), 35.0, "%")
    if "dehumidify" in seen.calls:
        why = _("Mould wants more than about 60 %; a margin is kept.")
        yield Setting("dehumidify", _("Dehumidify above"), _("55 % relative humidity"), why, _(JUDGEMENT), 55.0, "%")
    if "ventilate" in seen.calls:
        why = _("How long it must run depends on its flow and on the house.")
        ask = _("the damper's air flow, the floor area and the number of bedrooms, for the local ventilation rule")
        yield Setting("ventilate", _("Fresh air"), _("not known"), why, _("local code"), ask=ask)


def _limits(seen: _Seen) -> Iterator[Setting]:
    source = f"{CFR} (b)(2)"
    is_us = seen.units == "us"
    unit = "°F" if is_us else "°C"
    if seen.heats:
        why = _("The schedule must be able to go so far down; lower, pipes in outer walls are at risk.")
        yield Setting(
            "heat_lowest",
            _("Lowest heating setpoint"),
            _("55 °F") if is_us else _("13 °C"),
            why,
            source,
            55.0 if is_us else 13.0,
            unit,
        )
    if seen.cools:
        why = _("The schedule must be able to go so far up.")
        yield Setting(
            "cool_highest",
            _("Highest cooling setpoint"),
            _("85 °F") if is_us else _("29 °C"),
            why,
            source,
            85.0 if is_us else 29.0,
            unit,
        )
    if seen.heats and seen.cools:
        why = _("So that heat and cooling never work against each other where the control changes by itself.")
        value, number = (_("5 °F"), 5.0) if is_us else (_("3 °C"), 3.0)
        yield Setting("heat_cool_gap", _("Least gap between heat and cooling"), value, why, _(JUDGEMENT), number, unit)
    why = _("A change that lasts for ever is how a schedule dies in its first week.")
    yield Setting("hold", _("A change made by hand lasts"), _("until the next time in the schedule"), why, _(JUDGEMENT))


def _first_schedule(seen: _Seen) -> tuple[tuple[Slot, ...], str, str]:
    """Return the schedule to leave the house with until its people have spoken."""
    source = _("{cfr} (b)(3): at most 70 °F in heating and at least 78 °F in cooling at first").format(cfr=CFR)
    heat_back = (
        0.0 if seen.auxiliary else 2.0 if seen.heat is Heat.HEAT_PUMP else 3.0 if seen.heat is Heat.STEAM else 8.0
    )
    cool_up = 4.0
    if seen.auxiliary:
        why = _("Heating is held level: recovery by auxiliary heat may eat what a setback saves.")
    elif seen.heat is Heat.HEAT_PUMP:
        why = (
            _("A small setback: a heat pump recovers slowly, and the burner would do it for more money.")
            if seen.second_fuel
            else _("A small setback: a heat pump recovers slowly, and here nothing helps it.")
        )
    elif seen.heat is Heat.STEAM:
        why = _("A small setback: steam is slow to come, and overshoots after a long run.")
    else:
        why = _("Setback for the night and the working day; change the hours to those of the people who live here.")

    def slot(at: str, *, back: bool) -> Slot:
        heat = 70.0 - (heat_back if back else 0.0) if seen.heats else None
        return Slot(at, heat, 78.0 + (cool_up if back else 0.0) if seen.cools else None)

    day = (slot("06:00", back=False), slot("08:00", back=True), slot("17:00", back=False), slot("22:00", back=True))
    changes = (now for before, now in pairwise(day) if (now.heat_f, now.cool_f) != (before.heat_f, before.cool_f))
    steps = [day[0], *changes]
    return tuple(steps), f"{why} ({_(JUDGEMENT)})", source


def _balance_f(rating: HeatPumpRating, load: LoadLine) -> tuple[float, float, float]:
    """Return the thermal balance point with the load at its lowest, as given, and at its highest [°F]."""
    factors = (1.0 - LOAD_SPREAD, 1.0, 1.0 + LOAD_SPREAD)
    low, point, high = (
        fahrenheit(thermal_balance_c(rating, LoadLine(load.loss_w_k * factor, load.no_heat_c))) for factor in factors
    )
    return low, point, high


def _ask_balance() -> str:
    return _("the house's heat loss at the design temperature, and the outdoor unit's capacity at 17, 35 and 47 °F")
