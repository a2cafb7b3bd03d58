"""Limits of supplies and loads against their standards and published examples."""

from __future__ import annotations

import pytest

from subbase.catalog import LoadPart, TransformerPart, load_catalog
from subbase.plan.proof import CLASS_2_MOST_V, CLASS_2_MOST_VA, prove
from subbase.plan.readings import predicted_bounds
from subbase.survey import Reading, Survey, read_survey

NEC = "NFPA 70 (National Electrical Code) chapter 9 table 11(A), inherently limited sources over 20 to 30 V: 100 VA, 100/V amperes."


def zone_valves(count: int, *, va: float, valve_va: float) -> Survey:
    """Return a house with ``count`` equal zone valves on one transformer, all worked by one control."""
    valves = "\n".join(
        f"  valve {n}: {{kind: zone-valve-motor, at: boiler, nameplate: {{motor: {{va: {valve_va}}}}}}}"
        for n in range(count)
    )
    links = "\n".join(f"  - [valve {n}.M1, valve 0.M1]\n  - [valve {n}.M2, supply.common]" for n in range(1, count))
    text = f"""
survey: 1
name: valves
transformers: {{supply: {{va: {va}, at: boiler}}}}
equipment:
  boiler: {{kind: boiler-start-pair}}
{valves}
controls:
  wall: {{old: {{terminals: [R, W], output_a: 20}}}}
cables:
  c: {{from: wall, to: boiler, length: 10, gauge: 14, conductors: {{red: {{from: R, to: supply.hot}}, white: {{from: W, to: valve 0.M1}}}}}}
jumpers:
  - [valve 0.M2, supply.common]
{links}
"""
    return read_survey(text.encode())


@pytest.mark.outside(
    source="A published zone-valve sizing example: ten valves of 0.42 A at 24 V are 100.8 VA, over the 100 VA of Class 2.",
    how="read second-hand",
)
def test_ten_valves_of_ten_va_overload_a_class_2_transformer() -> None:
    """Ten valves of 0.42 A ask for 100.8 VA, which a 100 VA Class 2 transformer must not give; nine are within it."""
    ten = prove(zone_valves(10, va=100, valve_va=10.08), load_catalog())
    assert any(failure.rule == "overload" for failure in ten.failures)
    nine = prove(zone_valves(9, va=100, valve_va=10.08), load_catalog())
    assert not any(failure.rule == "overload" for failure in nine.failures)


@pytest.mark.outside(source=NEC, how="from memory; notes read")
@pytest.mark.parametrize(("va", "holds"), [(100, True), (101, False)])
def test_a_supply_over_100_va_is_not_class_2(va: float, holds: bool) -> None:
    """A transformer of more than 100 VA refuses the proof with the number; one of 100 VA does not."""
    rules = {failure.rule for failure in prove(zone_valves(1, va=va, valve_va=5), load_catalog()).failures}
    assert ("class 2" not in rules) == holds
    assert (CLASS_2_MOST_VA, CLASS_2_MOST_V) == (100.0, 30.0)


@pytest.mark.outside(
    source="TM 5-683 (public-domain manual): AC contactors operate from 85 to 110 % of rated coil voltage.",
    how="read second-hand",
)
def test_contactors_are_asked_to_pull_in_at_no_less_than_85_percent() -> None:
    """Every contactor of the catalogue counts as surely pulled in only from 85 % of its rated voltage."""
    contactors = [
        part
        for kind in load_catalog().values()
        for part in kind.loads()
        if "contactor" in part.id and isinstance(part, LoadPart)
    ]
    assert contactors
    assert all(part.pull_in >= 0.85 for part in contactors)
    assert contactors[0].volts * 0.85 == pytest.approx(20.4)


@pytest.mark.outside(
    source="IEC 60947-4-1: AC contactors drop out between 20 and 75 % of rated coil voltage.", how="from memory"
)
def test_contactors_drop_out_within_the_standard_range() -> None:
    """Every contactor's drop-out lies between 20 and 75 % of rated voltage."""
    fractions = [p.drop_out for kind in load_catalog().values() for p in kind.loads() if "contactor" in p.id]
    assert fractions
    assert all(0.20 <= fraction <= 0.75 for fraction in fractions)


@pytest.mark.outside(source=NEC, how="from memory; notes read")
def test_every_transformer_of_the_catalogue_is_within_class_2() -> None:
    """No built-in transformer is rated over 100 VA or stands over 30 V on no load."""
    parts = [part for kind in load_catalog().values() for part in kind.parts if isinstance(part, TransformerPart)]
    assert parts
    assert all(part.va <= 100 and part.volts * (1 + part.regulation) <= 30 for part in parts)


@pytest.mark.outside(
    source="Trade practice: a healthy supply reads 24 to 28 V under load (common practice, no source).",
    how="common practice",
)
def test_a_40_va_supply_reads_24_to_28_volts_under_its_usual_loads() -> None:
    """The supply of a house with a 40 VA transformer reads 24 to 28 V at nominal line voltage."""
    survey = zone_valves(3, va=40, valve_va=6)
    bounds = predicted_bounds(
        survey, load_catalog(), Reading(between=("supply.hot", "supply.common"), volts=26.0, call="heat 1")
    )
    assert bounds is not None
    proof = prove(survey, load_catalog())
    heat = next(state for state in proof.states if state.words == "heat 1")
    volts = heat.nominal.solution.between("supply.hot", "supply.common")
    assert volts is not None
    assert 24.0 <= abs(volts) <= 28.0
    assert bounds[0] <= abs(volts) <= bounds[1]
