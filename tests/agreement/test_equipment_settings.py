"""Equipment settings follow the wiring of every example, and the house where it is known."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.comfort.balance import LoadLine, economic_balance_c, load_line, thermal_balance_c
from subbase.comfort.equipment import HeatPumpRating, typical_heat_pump
from subbase.comfort.equipment_settings import LOAD_SPREAD, tuning
from subbase.comfort.setting_records import Facts, Heat, Tuning
from tests.houses import NAMES, plan_of

PLANNED = tuple(name for name in NAMES if plan_of(name).verdict == "planned")
PUMP = typical_heat_pump(10_000.0)
LOAD = load_line(10_000.0, -15.0, 17.0)


def tunings(name: str, facts: Facts | None = None) -> tuple[Tuning, ...]:
    """Return the settings of every replaced control of an example."""
    plan = plan_of(name)
    assert plan.left is not None
    return tuple(
        tuning(plan.left, plan.catalog, item.control, set(item.wanted) - set(item.chosen.lost), facts)
        for item in plan.controls
    )


@pytest.mark.parametrize("name", PLANNED)
def test_every_setting_has_a_value_a_reason_and_a_source(name: str) -> None:
    """No setting is bare, and no key comes twice."""
    for found in tunings(name):
        assert all(s.name and s.value and s.why and s.source for s in found.settings)
        keys = [s.key for s in found.settings]
        assert len(keys) == len(set(keys))


@pytest.mark.parametrize("name", PLANNED)
def test_settings_agree_with_the_wiring_that_the_plan_proved(name: str) -> None:
    """Changeover, fan and stages are those that the circuit was solved with."""
    for item, found in zip(plan_of(name).controls, tunings(name), strict=True):
        changeover = found.of("changeover")
        assert (changeover is None) == (item.settings.changeover is None)
        if changeover is not None:
            assert str(item.settings.changeover) in changeover.value
        fan = found.of("fan_in_heating")
        if item.settings.fan_with_heat:
            assert fan is not None
            assert "by the control" in fan.value
        heat = found.of("heat_stages")
        assert heat is not None
        assert heat.number == sum(call.startswith("heat ") for call in item.wanted if call not in item.chosen.lost)


@pytest.mark.parametrize(
    ("name", "heat", "cycles"),
    [
        ("01-no-common-spare-blue", Heat.WARM_AIR, 5.0),
        ("04-three-heat-motor-valves", Heat.WATER, 3.0),
        ("12-heat-pump-with-strips", Heat.HEAT_PUMP, 2.5),
        ("17-strips-need-the-fan", Heat.ELECTRIC, 9.0),
    ],
)
def test_the_cycle_rate_goes_with_the_kind_of_heat(name: str, heat: Heat, cycles: float) -> None:
    """Warm air, water, a compressor and strips each have their own."""
    found = tunings(name)[0]
    rate = found.of("heat_cycles")
    assert found.heat is heat
    assert rate is not None
    assert rate.number == cycles


def test_steam_is_told_from_water() -> None:
    """The same house with a steam boiler gets one cycle an hour and a small setback."""
    plan = plan_of("07-heat-only-pair")
    assert plan.left is not None
    name, item = next((n, i) for n, i in plan.left.equipment.items() if str(i.kind).startswith("boiler"))
    steam = item.model_copy(update={"kind": "boiler-steam"})
    house = plan.left.model_copy(update={"equipment": {**plan.left.equipment, name: steam}})
    found = tuning(house, plan.catalog, plan.controls[0].control, plan.controls[0].wanted)
    rate = found.of("heat_cycles")
    assert rate is not None
    assert (found.heat, rate.number) == (Heat.STEAM, 1.0)
    assert [slot.heat_f for slot in found.first_schedule] == [70.0, 67.0, 70.0, 67.0]


@pytest.mark.parametrize("name", PLANNED)
def test_the_first_schedule_keeps_the_published_limits(name: str) -> None:
    """At most 70 °F in heating, at least 78 °F in cooling, nothing for equipment that is not there."""
    for found in tunings(name):
        heats, cools = found.heat is not Heat.NONE, found.of("cool_highest") is not None
        for slot in found.first_schedule:
            assert (slot.heat_f is not None) == heats
            assert (slot.cool_f is not None) == cools
            assert slot.heat_f is None or 55.0 <= slot.heat_f <= 70.0
            assert slot.cool_f is None or 78.0 <= slot.cool_f <= 85.0


def test_strips_are_held_back_at_a_safe_start_and_the_rest_is_asked() -> None:
    """Without the house, 35 °F and a question; heating is held level."""
    found = tunings("12-heat-pump-with-strips")[0]
    lockout = found.of("auxiliary_lockout")
    assert lockout is not None
    assert lockout.number == 35.0
    assert lockout.ask in found.questions
    assert {slot.heat_f for slot in found.first_schedule} == {70.0}


@given(st.floats(80.0, 900.0), st.floats(0.5, 2.0))
def test_auxiliary_heat_is_free_wherever_the_compressor_may_fall_short(loss_w_k: float, size: float) -> None:
    """The lockout is never under the balance point, nor far over that of the highest load."""
    pump = typical_heat_pump(10_000.0 * size)
    found = tunings("12-heat-pump-with-strips", Facts(load=LoadLine(loss_w_k, 17.0), rating=pump))[0]
    lockout = found.of("auxiliary_lockout")
    assert lockout is not None
    assert not lockout.ask
    point_f = thermal_balance_c(pump, LoadLine(loss_w_k, 17.0)) * 1.8 + 32
    if lockout.number is None:
        assert math.isinf(point_f)
    else:
        high_f = thermal_balance_c(pump, LoadLine(loss_w_k * (1 + LOAD_SPREAD), 17.0)) * 1.8 + 32
        assert point_f <= lockout.number + 1e-6
        assert math.isinf(high_f) or lockout.number < high_f + 1.0


def test_the_burner_takes_over_at_the_warmer_of_the_two_balance_points() -> None:
    """Dear electricity moves the change up to the economic point; cheap electricity leaves the thermal one."""
    dear = Facts(LOAD, PUMP, electricity_per_kwh=0.20, fuel_per_therm=1.60, fuel_efficiency=0.9)
    for facts in (dear, replace(dear, electricity_per_kwh=0.08)):
        found = tunings("13-dual-fuel", facts)[0].of("second_fuel_changeover")
        assert found is not None
        cop = facts.electricity_per_kwh / 3412.14 * 100_000 * 0.9 / 1.60  # type: ignore[operator]
        warmest = max(thermal_balance_c(PUMP, LOAD), economic_balance_c(PUMP, cop))
        assert found.number == math.ceil(warmest * 1.8 + 32)
        assert not found.ask


def test_extremes_of_price_are_told_in_words() -> None:
    """A burner that is always cheaper, and a house whose prices alone are not known."""
    always = Facts(LOAD, PUMP, electricity_per_kwh=0.9, fuel_per_therm=0.5, fuel_efficiency=0.95)
    found = tunings("13-dual-fuel", always)[0].of("second_fuel_changeover")
    assert found is not None
    assert (found.value, found.number) == ("the burner always", None)
    part = tunings("13-dual-fuel", Facts(LOAD, PUMP))[0].of("second_fuel_changeover")
    assert part is not None
    assert "prices" in part.ask
    assert part.number == math.ceil(thermal_balance_c(PUMP, LOAD) * 1.8 + 32)


def test_a_heat_pump_too_small_at_any_temperature_is_told_so() -> None:
    """No number is invented when the two facts cannot both be right."""
    tiny = HeatPumpRating(100.0, 120.0, 150.0, 50.0, 50.0, 50.0, 150.0, 50.0)
    found = tunings("12-heat-pump-with-strips", Facts(LoadLine(300.0, 19.0), tiny))[0].of("auxiliary_lockout")
    assert found is not None
    assert found.number is None
    assert "too small" in found.value
