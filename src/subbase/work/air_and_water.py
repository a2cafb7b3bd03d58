"""What air and water must tell of a call: warm or cold, how much, and whether heat, flow and rise agree.

Which way the air goes is the circuit's word: the loads that are on say which equipment heats and which cools. How far it
goes is the nameplate's, or common practice where no nameplate was read. With the heat and the flow known, the
sensible heat identity is a cross-check: Q = 1.08 cfm ΔT in Btu/h and °F, which is 0.075 lb/ft³ of standard air times
0.24 Btu/lb°F times 60 min/h; of water Q = 500 gpm ΔT, 8.33 lb/gal times 60 min/h (handbook identities).

Temperatures are °C and differences K inside; ``Units`` says them in the units of the survey.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass
from typing import Literal

from subbase.names import named
from subbase.wiring import House, State
from subbase.words import _, mark
from subbase.work.call_sequences import Judged
from subbase.work.outcomes import MAKES_WARM_OR_COLD

Direction = Literal["warm", "cold", "both", "neither"]
K_PER_F = 5.0 / 9.0
W_PER_BTUH = 0.29307107
M3_S_PER_CFM = 0.3048**3 / 60.0
M3_S_PER_GPM = 3.785411784e-3 / 60.0
AIR_J_PER_M3_K = 1.08 * W_PER_BTUH / (M3_S_PER_CFM * K_PER_F)
"""Standard air at sea level; thinner air at height carries less."""
WATER_J_PER_M3_K = 500.0 * W_PER_BTUH / (M3_S_PER_GPM * K_PER_F)

LEAST_MINUTES = 10.0
"""Before air or water is judged (common practice 10 to 15 min; the California Energy Commission's 2008 Residential
Appendices, RA3.2, let a system run 15 min before the final measurement; read)."""
PRACTICE = mark("common practice, no source; the nameplate overrides it")
RISE_F = {"heating": (30.0, 80.0), "heat pump": (12.0, 40.0), "air handler": (6.0, 60.0)}
"""Group of equipment that heats the air -> usual rise [°F] (common practice, no source)."""
SPLIT_F = (14.0, 22.0)
"""Usual cooling split [°F] (common practice, no source)."""
WATER_F = (10.0, 30.0)
"""Usual fall of water through a house of radiators, 20 °F by design [°F] (common practice, no source)."""
STILL_F = 3.0
"""Less than this is no change at all: two thermometers differ as much [°F] (judgement)."""
MOST_SUPPLY_C = 93.3
"""200 °F: air that hot ought to have opened the limit (judgement)."""
ROOM_C = (5.0, 40.0)
"""Return air outside of this is not room air, or not in the units it is said to be in [°C] (judgement)."""
ROUNDING_K = 1e-9
AGREE_SHARE = 0.25
"""Heat by nameplate and heat by air may differ by this much of the former (judgement)."""


@dataclass(frozen=True, slots=True)
class Units:
    """How temperatures, flows and heat are said."""

    us: bool = True

    def temperature(self, celsius: float) -> str:
        """Return a temperature in words."""
        return f"{celsius * 1.8 + 32.0:.0f} °F" if self.us else f"{celsius:.1f} °C"

    def difference(self, kelvin: float) -> float:
        """Return a difference as a number of the unit."""
        return kelvin * 1.8 if self.us else kelvin

    @property
    def degree(self) -> str:
        """Return the unit of a difference."""
        return "°F" if self.us else "K"

    def span(self, low_k: float, high_k: float) -> str:
        """Return the bounds of a difference in words."""
        return _("{low:.0f} to {high:.0f} {degree}").format(
            low=self.difference(low_k), high=self.difference(high_k), degree=self.degree
        )

    def air_flow(self, m3_s: float) -> str:
        """Return an air flow in words."""
        return f"{m3_s / M3_S_PER_CFM:.0f} cfm" if self.us else f"{m3_s * 3600.0:.0f} m³/h"

    def heat(self, watt: float) -> str:
        """Return a rate of heat in words."""
        return f"{watt / W_PER_BTUH:,.0f} Btu/h" if self.us else f"{watt / 1000.0:.1f} kW"


@dataclass(frozen=True, slots=True)
class Air:
    """What was taken of the air during one call; None where it was not."""

    return_c: float | None = None
    supply_c: float | None = None
    feels: Direction | None = None
    """By hand at a register: warm or cold beside the room, or neither."""
    minutes: float | None = None
    """How long the call had been running."""
    flow_m3_s: float | None = None
    output_w: float | None = None
    """Heat that goes into the air: input times efficiency."""
    rise_k: tuple[float, float] | None = None
    """Least and most rise on the nameplate."""


@dataclass(frozen=True, slots=True)
class Water:
    """What was taken of the water during one call."""

    return_c: float | None = None
    supply_c: float | None = None
    minutes: float | None = None
    flow_m3_s: float | None = None
    output_w: float | None = None


def air_output_w(flow_m3_s: float, difference_k: float) -> float:
    """Return the sensible heat that an air flow carries [W]."""
    return AIR_J_PER_M3_K * flow_m3_s * difference_k


def water_output_w(flow_m3_s: float, difference_k: float) -> float:
    """Return the heat that a water flow carries [W]."""
    return WATER_J_PER_M3_K * flow_m3_s * difference_k


def makers(house: House, coils_in: Set[str]) -> dict[str, Literal["warm", "cold"]]:
    """Return each piece of equipment that heats or cools with these loads on, by the call of its kind that they fit best.

    The best fit is the call that needs the most of what is on: a compressor alone may be heating, a compressor with the
    changeover valve cooling, or the other way round, as the kind says. A call that needs only what moves air is none.
    """
    found: dict[str, Literal["warm", "cold"]] = {}
    for place in house.survey.equipment:
        kind = house.kind(place)
        if kind.group not in MAKES_WARM_OR_COLD:
            continue
        on = frozenset(load.id for load in kind.loads() if f"{place}/{load.id}" in coils_in)
        air = frozenset(kind.air.on if kind.air else ()) | frozenset(
            kind.calls["fan"].on if "fan" in kind.calls else ()
        )
        fits = [
            (len(need.on), "warm" if "heat" in call else "cold")
            for call, need in kind.calls.items()
            if ("heat" in call or "cool" in call) and set(need.on) - air and set(need.on) <= on
        ]
        if fits:
            found[place] = "warm" if max(fits)[1] == "warm" else "cold"
    return found


def direction(house: House, coils_in: Set[str]) -> Direction:
    """Return which way the air goes with these loads on."""
    made = set(makers(house, coils_in).values())
    if len(made) == 2:
        return "both"
    return next(iter(made), "neither")


def usual_rise_k(house: House, coils_in: Set[str]) -> tuple[float, float]:
    """Return the usual rise (warm) or fall (cold) of the air with these loads on [K]."""
    made = makers(house, coils_in)
    if set(made.values()) == {"cold"}:
        return SPLIT_F[0] * K_PER_F, SPLIT_F[1] * K_PER_F
    spans = [RISE_F.get(house.kind(place).group, RISE_F["heating"]) for place, way in made.items() if way == "warm"]
    if not spans:
        return 0.0, STILL_F * K_PER_F
    return max(low for low, __ in spans) * K_PER_F, sum(high for __, high in spans) * K_PER_F


def judge_air(house: House, coils_in: Set[str], state: State, air: Air, units: Units) -> Judged:
    """Return what is said of the air in a call of a house; ``coils_in`` is what the good house brings on in it."""
    wanted = direction(house, coils_in)
    made = makers(house, coils_in)
    if made and all(house.kind(place).group == "hydronic" for place in made):
        return Judged(
            "not judged",
            _("In {state} this house heats by water: take the pipes, not the air.").format(state=state.words()),
        )
    if air.minutes is not None and air.minutes < LEAST_MINUTES:
        text = _("It had run {minutes:.0f} min; let it run 10 to 15 min, then take it again.").format(
            minutes=air.minutes
        )
        return Judged("not judged", text)
    seen = way_seen(air)
    if seen is None:
        return Judged(
            "not judged", _("Take the return and the supply air, or feel at a register whether it is warm or cold.")
        )
    suspect = _doubted(air, units)
    if suspect is not None:
        return suspect
    if wanted not in (seen, "both"):
        return _wrong_way(wanted, seen, state)
    if air.return_c is None or air.supply_c is None or wanted not in ("warm", "cold"):
        return Judged(
            "pass", _("The air is {seen}, as it must be in {state}.").format(seen=named(seen), state=state.words())
        )
    return _amount(house, coils_in, air, air.supply_c - air.return_c, units)


def way_seen(air: Air) -> Direction | None:
    """Return which way the air went, by thermometers where they were read, else by hand; None when neither was taken."""
    if air.return_c is None or air.supply_c is None:
        return air.feels
    change_k = air.supply_c - air.return_c
    if abs(change_k) < STILL_F * K_PER_F:
        return "neither"
    return "warm" if change_k > 0 else "cold"


def _doubted(air: Air, units: Units) -> Judged | None:
    """Return what speaks against the thermometer, or its units, rather than the house; None when nothing does."""
    if air.return_c is None or air.supply_c is None:
        return None
    if not ROOM_C[0] <= air.return_c <= ROOM_C[1]:
        as_other = (air.return_c * 1.8 + 32.0) if units.us else (air.return_c - 32.0) / 1.8
        other = "°C" if units.us else "°F"
        said = (
            _(
                "Return air of {temperature} is not air from a room; read as {other} it would be room air: are these {other}?"
            )
            if ROOM_C[0] <= as_other <= ROOM_C[1]
            else _("Return air of {temperature} is not air from a room.")
        )
        text = said.format(temperature=units.temperature(air.return_c), other=other)
        return Judged("meter or lead suspect", text, source=_("judgement"))
    seen = way_seen(Air(return_c=air.return_c, supply_c=air.supply_c))
    if air.feels in ("warm", "cold") and seen in ("warm", "cold") and air.feels != seen:
        text = _(
            "By hand the air is {feels}, by the thermometers {seen}: the two thermometers may be the wrong way round."
        ).format(feels=named(air.feels), seen=named(seen))
        return Judged("meter or lead suspect", text)
    return None


def _wrong_way(wanted: Direction, seen: Direction, state: State) -> Judged:
    call = state.words()
    if {wanted, seen} == {"warm", "cold"}:
        text = _(
            "The air is {seen} in {call}; it must be {wanted}: the changeover is set or landed the wrong way, or another call is on."
        ).format(seen=named(seen), call=call, wanted=named(wanted))
        return Judged("fail", text, source=_("the circuit"))
    if wanted == "neither":
        text = _(
            "The air is {seen} in {call}, in which nothing heats or cools: something is on that was not called."
        ).format(seen=named(seen), call=call)
        return Judged("fail", text, source=_("the circuit"))
    return Judged(
        "fail",
        _("The air hardly changes in {call}; it must be {wanted}.").format(call=call, wanted=named(wanted)),
        source=_("the circuit"),
    )


def _amount(house: House, coils_in: Set[str], air: Air, signed_k: float, units: Units) -> Judged:
    change_k, warm = abs(signed_k), signed_k > 0
    low_k, high_k = air.rise_k if air.rise_k is not None and warm else usual_rise_k(house, coils_in)
    source = _("nameplate") if air.rise_k is not None and warm else _(PRACTICE)
    low, high = units.difference(low_k), units.difference(high_k)
    said = (_("A rise of {difference:.0f} {degree}") if warm else _("A split of {difference:.0f} {degree}")).format(
        difference=units.difference(change_k), degree=units.degree
    )
    if air.supply_c is not None and air.supply_c > MOST_SUPPLY_C:
        text = _(
            "Supply air of {temperature} ought to have opened the limit: switch it off, it needs a licensed hand."
        ).format(temperature=units.temperature(air.supply_c))
        return Judged("fail", text, low, high, units.degree, source, stop=True)
    if change_k > high_k + ROUNDING_K:
        causes = (
            _("too little air: filter, registers, fan speed")
            if warm
            else _("too little air: filter, registers, coil, fan speed")
        )
        return Judged(
            "fail",
            _("{said} is over {span}: {causes}.").format(said=said, span=units.span(low_k, high_k), causes=causes),
            low,
            high,
            units.degree,
            source,
        )
    if change_k < low_k - ROUNDING_K:
        causes = (
            _("too much air, or not all of the heat is on") if warm else _("weak cooling, or more air than it can cool")
        )
        return Judged(
            "fail",
            _("{said} is under {span}: {causes}.").format(said=said, span=units.span(low_k, high_k), causes=causes),
            low,
            high,
            units.degree,
            source,
        )
    if warm and air.output_w is not None and air.flow_m3_s is not None:
        carried_w = air_output_w(air.flow_m3_s, change_k)
        if abs(carried_w - air.output_w) > AGREE_SHARE * air.output_w:
            text = _(
                "{said} at {air_flow} carries {heat}, but the heat given is {given}: a thermometer, the air flow or the heat is off."
            ).format(
                said=said,
                air_flow=units.air_flow(air.flow_m3_s),
                heat=units.heat(carried_w),
                given=units.heat(air.output_w),
            )
            return Judged(
                "meter or lead suspect", text, low, high, units.degree, _("Q = 1.08 cfm ΔT; 25 % (judgement)")
            )
        return Judged(
            "pass",
            _("{said} is within {span}, and carries the heat given.").format(said=said, span=units.span(low_k, high_k)),
            low,
            high,
            units.degree,
            source,
        )
    text = _("{said} is within {span}.").format(said=said, span=units.span(low_k, high_k))
    if warm and air.output_w is not None:
        text = _("{said} is within {span}; with {heat} that is {air_flow}.").format(
            said=said,
            span=units.span(low_k, high_k),
            heat=units.heat(air.output_w),
            air_flow=units.air_flow(air.output_w / (AIR_J_PER_M3_K * change_k)),
        )
    return Judged(
        "pass",
        text,
        low,
        high,
        units.degree,
        source,
    )


def judge_water(water: Water, units: Units) -> Judged:
    """Return what is said of the water of a heating call."""
    low_k, high_k = WATER_F[0] * K_PER_F, WATER_F[1] * K_PER_F
    low, high = units.difference(low_k), units.difference(high_k)
    if water.minutes is not None and water.minutes < LEAST_MINUTES:
        return Judged(
            "not judged",
            _("It had run {minutes:.0f} min; let it run 10 to 15 min, then take it again.").format(
                minutes=water.minutes
            ),
        )
    if water.return_c is None or water.supply_c is None:
        return Judged("not judged", _("Take the pipe that leaves the boiler and the pipe that comes back."))
    fall_k = water.supply_c - water.return_c
    if fall_k < -STILL_F * K_PER_F:
        text = _(
            "The pipe that comes back is warmer than the one that leaves: the two readings may be the wrong way round."
        )
        return Judged("meter or lead suspect", text, low, high, units.degree, _(PRACTICE))
    said = _("A fall of {difference:.0f} {degree}").format(difference=units.difference(fall_k), degree=units.degree)
    if fall_k > high_k + ROUNDING_K:
        text = _(
            "{said} is over {span}: little water moves; look for a closed valve, air, or a circulator at rest."
        ).format(said=said, span=units.span(low_k, high_k))
        return Judged("fail", text, low, high, units.degree, _(PRACTICE))
    if fall_k < low_k - ROUNDING_K:
        text = _(
            "{said} is under {span}: little heat is given, or much water moves; wait, and look at the radiators."
        ).format(said=said, span=units.span(low_k, high_k))
        return Judged("fail", text, low, high, units.degree, _(PRACTICE))
    if water.flow_m3_s is not None and water.output_w is not None:
        carried_w = water_output_w(water.flow_m3_s, fall_k)
        if abs(carried_w - water.output_w) > AGREE_SHARE * water.output_w:
            text = _("{said} carries {heat}, but the heat given is {given}: a reading is off.").format(
                said=said, heat=units.heat(carried_w), given=units.heat(water.output_w)
            )
            return Judged("meter or lead suspect", text, low, high, units.degree, _("Q = 500 gpm ΔT; 25 % (judgement)"))
    return Judged(
        "pass",
        _("{said} is within {span}.").format(said=said, span=units.span(low_k, high_k)),
        low,
        high,
        units.degree,
        _(PRACTICE),
    )


__all__ = [
    "Air", "Direction", "Units", "Water", "air_output_w", "direction", "judge_air",
    "judge_water", "makers", "usual_rise_k", "water_output_w",
]  # fmt: skip
