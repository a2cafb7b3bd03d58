"""A home of a fleet has the verdict, wiring and cautions that ``subbase plan`` gives it alone."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from subbase.catalog import load_catalog
from subbase.fleet.alike import choose_alike
from subbase.fleet.mapping import read_mapping
from subbase.fleet.records import Record, RecordReader, Value, declared_values
from subbase.fleet.structure import bare
from subbase.fleet.synthetic import MAPPING, fleet_columns
from subbase.fleet.thin_survey import survey_of
from subbase.plan import Plan, make_plan
from subbase.plan.choose import choose
from subbase.plan.make import signature
from subbase.survey import Survey
from tests.fleet_lists import FACTS, mapping, rows, run_list, write_list
from tests.houses import survey_of as example

SAMPLED = 1000
SHORT_ROUTES = {"common conductor", "spare conductor", "shared conductor", "separate transformer", "isolation relay"}
"""Routes that buy nothing by the length."""
ROUTES = {"planned": "planned", "question": "asked", "stopped": "stopped"}


@cache
def planned_alone(facts: tuple[tuple[str, object], ...]) -> tuple[Survey, Plan] | None:
    """Return survey and plan of a record by ``make_plan``, nothing shared with any other home."""
    made = survey_of(dict(facts), declared_values(mapping()), mapping(), load_catalog())  # type: ignore[arg-type]
    return (made, make_plan(made)) if isinstance(made, Survey) else None


def test_a_thousand_homes_have_the_verdict_that_each_has_alone(tmp_path: Path) -> None:
    """Verdict, titles, lost calls, margin, questions, cautions and remarks are those of ``subbase plan`` on that home."""
    run_list(write_list(tmp_path, SAMPLED), tmp_path / "out", chunk_rows=300)
    homes = pq.read_table(tmp_path / "out" / "homes.parquet").to_pylist()
    outcomes = pq.read_table(tmp_path / "out" / "outcomes.parquet").to_pylist()
    reader = RecordReader(mapping())
    assert len(homes) == SAMPLED
    compared = 0
    for home, cells in zip(homes, rows(SAMPLED), strict=True):
        record = reader.read(dict(zip(FACTS, cells, strict=True)))
        if not isinstance(record, Record) or home["verdict"] == "refused":
            continue
        alone = planned_alone(record.facts)
        if alone is None:
            assert home["verdict"] == "asked"
            continue
        survey, plan = alone
        compared += 1
        assert home["verdict"] == ROUTES[plan.verdict]
        assert home["title"] == "; ".join(item.chosen.title for item in plan.controls if plan.verdict == "planned")
        assert home["first_question"] == (plan.questions[0].field if plan.questions else "")
        assert (home["margin"] is None) == (plan.proof is None)
        if plan.proof is not None:
            assert home["margin"] == pytest.approx(plan.proof.margin, rel=1e-9)
        told = {*outcomes[home["outcome"]]["hazards"], *home["house_hazards"]}
        assert {caution.text for caution in plan.cautions} <= told
        assert sorted(home["trusted"]) == sorted(plan.trusted)
        assert survey.name not in home["structure"]
    assert compared > SAMPLED / 2


@pytest.mark.parametrize(
    "name", ["05-two-motor-valves", "07-heat-only-pair", "14-oil-with-separate-cooling", "02-four-conductors-all-used"]
)
def test_houses_chosen_for_together_are_chosen_for_as_alone(name: str) -> None:
    """From short cables to ones that are too long, the choice and its margin are those of ``choose`` on that house."""
    _compared_over_lengths(example(name), SHORT_ROUTES)


def test_a_new_cable_is_cut_to_the_length_of_each_house() -> None:
    """Houses in which a new cable is pulled are chosen for together as well, each with the cable that it needs."""
    facts: dict[str, Value] = {
        "wiring": "low voltage", "heating": "gas furnace, one stage", "cooling": "none", "letters": ("R", "W", "G"),
        "spares": 0.0, "length": 9.0,
    }  # fmt: skip
    made = read_mapping(MAPPING.encode(), "mapping.toml", as_toml=True)
    survey = survey_of(facts, declared_values(made), made, load_catalog())
    assert isinstance(survey, Survey)
    _compared_over_lengths(survey, {"new cable"})


def _compared_over_lengths(survey: Survey, routes: set[str]) -> None:
    """Hold houses chosen for together against each alone, over lengths of the cables of the controls."""
    catalog = load_catalog()
    own = [name for name, cable in survey.cables.items() if {cable.from_, cable.to} & set(survey.controls)]
    lengths = (2.0, 6.1, 9.3, 14.0, 22.5, 80.0, 240.0)
    houses = [
        survey.model_copy(
            update={
                "cables": {
                    name: cable.model_copy(update={"length_m": length_m}) if name in own else cable
                    for name, cable in survey.cables.items()
                }
            }
        )
        for length_m in lengths
    ]
    together = choose_alike(houses, catalog)
    for house, plan in zip(houses, together, strict=True):
        alone = choose(house, catalog)
        assert signature(plan) == signature(alone)
        assert {item.chosen.name for item in plan.controls} <= routes
        assert [item.chosen.title for item in plan.controls] == [item.chosen.title for item in alone.controls]
        if alone.proof is not None:
            assert plan.proof is not None
            assert plan.proof.margin == pytest.approx(alone.proof.margin, rel=1e-9)
            assert plan.proof.holds == alone.proof.holds
    lefts = [id(plan.left) for plan in together if plan.left is not None]
    assert len(set(lefts)) < len(lefts), "nothing was shared, so nothing was tested"


@pytest.mark.parametrize(
    "name", ["01-no-common-spare-blue", "09-unknown-that-does-not-matter", "11-stop-millivolt", "05-two-motor-valves"]
)
def test_what_a_structure_leaves_out_changes_no_plan(name: str) -> None:
    """Without names, colours, places and years the plan is the same but for cautions of age."""
    survey = example(name)
    whole, stripped = make_plan(survey), make_plan(bare(survey), brief=True)
    assert stripped.verdict == whole.verdict
    assert [item.chosen.title for item in stripped.controls] == [item.chosen.title for item in whole.controls]
    assert [item.chosen.minutes for item in stripped.controls] == [item.chosen.minutes for item in whole.controls]
    landings = [(x.conductor, x.carries, x.far_left) for item in whole.controls for x in item.chosen.landings]
    assert landings == [
        (x.conductor, x.carries, x.far_left) for item in stripped.controls for x in item.chosen.landings
    ]
    assert (stripped.proof and stripped.proof.margin) == (whole.proof and whole.proof.margin)
    assert [question.field for question in stripped.questions] == [question.field for question in whole.questions]


def test_every_sort_of_made_up_home_is_a_survey_that_can_be_read() -> None:
    """What the generator writes is read as a record, and as a house whose every name and terminal exists."""
    from subbase.survey.cross import cross_faults
    from subbase.survey.yaml_tree import read_tree

    made = read_mapping(MAPPING.encode(), "mapping.toml", as_toml=True)
    reader, declared, catalog = RecordReader(made), declared_values(made), load_catalog()
    cells = fleet_columns(1500, seed=5, dirt=0.0)
    seen: set[object] = set()
    houses = 0
    for row in zip(*cells.values(), strict=True):
        record = reader.read(dict(zip(cells, row, strict=True)))
        assert isinstance(record, Record), record
        if record.facts in seen:
            continue
        seen.add(record.facts)
        survey = survey_of(dict(record.facts), declared, made, catalog)
        if isinstance(survey, Survey):
            houses += 1
            faults = list(cross_faults(survey, catalog, read_tree(b"survey: 1\n", "")))
            assert not [fault for fault in faults if "known" not in fault.where], faults
    assert houses > 300
