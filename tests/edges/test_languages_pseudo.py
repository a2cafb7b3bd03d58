"""Nothing is shown to people that no catalogue can turn: floor by floor, in a language that puts messages in brackets."""

from __future__ import annotations

import ast
import datetime
import functools
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
import yaml

from subbase import names
from subbase.catalog import CALLS, load_catalog
from subbase.catalog.model import Kind
from subbase.cli.check_text import report_text, sheet_yaml
from subbase.cli.checks_text import checks_text
from subbase.cli.plan_text import plan_text
from subbase.cli.site_text import site_text
from subbase.cli.survey_text import check_text, show_text
from subbase.cli.work_text import step_lines, work_text
from subbase.errors import InputError
from subbase.papers.packet import packet_data
from subbase.papers.write import PAPER_NAMES
from subbase.plan import Plan, make_plan
from subbase.plan.check import check_survey
from subbase.siting.verdict import judge_site
from subbase.survey import load_survey, read_survey
from subbase.survey.rooms_reading import load_site
from subbase.words import language
from subbase.work.call_sequences import call_sequences
from subbase.work.checks import checks_for
from subbase.work.outcomes import Severity
from subbase.work.progress import Result, digest, progress
from subbase.work.slips import SlipKind
from subbase.work.step_plan import work_plan
from subbase.work.steps import Who
from subbase.work.taken_reader import load_taken
from subbase.work.trace import enter, next_step, start
from subbase.work.verdicts import judge
from tests.pseudo_language import CODE, OPEN, outside_brackets, pseudo, shown_on, texts_in, unlooked, words_of
from tests.web_jobs import visiting

EXAMPLES = Path(__file__).parents[2] / "examples"
HOUSES = sorted(EXAMPLES.glob("*.yaml"))
ROOMS = sorted((EXAMPLES / "rooms").glob("*.yaml"))
SOURCE = Path(__file__).parents[2] / "src" / "subbase"
WORKED = ("01-no-common-spare-blue", "12-heat-pump-with-strips", "15-zone-panel-three-controls")
"""Houses whose work is written out: one small, one with a compressor, one with several controls."""


@pytest.fixture(autouse=True)
def _brackets(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with pseudo(monkeypatch):
        yield


@functools.cache
def _house_words(file: Path) -> frozenset[str]:
    """Return the words that a survey file has of its own: its name, places, cables, conductors, kinds, and where things hang."""
    data = yaml.safe_load(file.read_text("utf-8"))
    owned = [data["name"], *_names(data)]
    return words_of(*owned) | words_of(*PLANNED_DEVICES)


def _names(data: object, key: str = "") -> Iterator[str]:
    """Yield the names that people gave: keys below a section of named things, and values that name a place or a kind."""
    if isinstance(data, dict):
        for name, value in data.items():
            if key in NAMED:
                yield str(name)
            yield from _names(value, str(name))
    elif isinstance(data, list):
        for value in data:
            yield from _names(value, key)
    elif key in ("kind", "at", "feeds", "from", "to", "either", "what"):
        yield str(data)


NAMED = ("controls", "equipment", "transformers", "cables", "conductors", "rooms", "candidates")
PLANNED_DEVICES = ("sharing adapter", "sharing piece at wall", "relay", "control supply", "new cable")
"""Names that a plan gives to what it adds; they stand in terminals, so they stay."""


def _plan(file: Path) -> Plan:
    return make_plan(load_survey(file))


def _planned(name: str) -> tuple[Plan, frozenset[str]]:
    file = EXAMPLES / f"{name}.yaml"
    return _plan(file), _house_words(file)


def _assert_looked_up(text: str, data: frozenset[str]) -> None:
    assert OPEN in text
    assert unlooked(text, data | UNITS) == []


UNITS = words_of("V ohm VA AWG ft in cm dBm GHz min Btu cfm kW OL Rh Rc")


@pytest.mark.parametrize("file", HOUSES, ids=lambda file: file.stem)
def test_plan_is_looked_up(file: Path) -> None:
    """A plan on the command line, planned or stopped or with a question, holds no sentence outside the catalogue."""
    _assert_looked_up(plan_text(_plan(file)), _house_words(file))


@pytest.mark.parametrize("file", HOUSES, ids=lambda file: file.stem)
def test_survey_is_looked_up(file: Path) -> None:
    """What is told of a survey as found holds no sentence outside the catalogue."""
    survey, catalog = load_survey(file), load_catalog()
    told = f"{check_text(survey, check_survey(survey, catalog))}\n{show_text(survey, catalog)}"
    _assert_looked_up(told, _house_words(file))


@pytest.mark.parametrize("name", WORKED)
def test_checks_and_work_are_looked_up(name: str) -> None:
    """Checks, work steps, the walk and the sheet of readings hold no sentence outside the catalogue."""
    plan, data = _planned(name)
    assert plan.left is not None
    checks = checks_for(plan)
    steps = work_plan(plan, checks=checks)
    now = progress(steps, ())
    walked = "\n".join(line for step in steps.steps for line in step_lines(steps, step, now.of(step.id)))
    for text in (checks_text(plan.survey.name, checks), work_text(steps, now), walked):
        _assert_looked_up(text, data)
    sequences = call_sequences(plan.left, plan.catalog)
    sheet = sheet_yaml(plan, checks, sequences)
    said = [line for line in sheet.splitlines() if line.lstrip().startswith("#")]
    _assert_looked_up("\n".join(said), data)


def test_judged_readings_are_looked_up() -> None:
    """Readings that pass, fail, or are in doubt are judged in the reader's language."""
    plan, data = _planned("01-no-common-spare-blue")
    assert plan.left is not None
    checks, sequences = checks_for(plan), call_sequences(plan.left, plan.catalog)
    for file in sorted((EXAMPLES / "readings").glob("01*.yaml")):
        taken = load_taken(file, plan.left, plan.catalog, sequences)
        _assert_looked_up(
            report_text(plan.survey.name, judge(plan, taken, checks, sequences)),
            data | words_of(file.read_text("utf-8")),
        )


def test_a_walk_that_goes_wrong_is_looked_up() -> None:
    """Steps that are refused, not so, or read out of bounds say so in the reader's language."""
    plan, data = _planned("01-no-common-spare-blue")
    steps = work_plan(plan, outdoor_c=20.0)
    results = [Result(step.id, "not so", reason="") for step in steps.steps[:2]]
    results += [Result(step.id, "read", 9999.0) for step in steps.steps if step.expected is not None]
    now = progress(steps, results)
    _assert_looked_up(work_text(steps, now), data)
    assert all(OPEN in reason for __, reason in now.refused)


@pytest.mark.parametrize("name", [WORKED[0], WORKED[1], "10-stop-line-voltage", "08-changeover-not-known"])
def test_packet_is_looked_up(name: str) -> None:
    """Every text and drawing of the packet, of a plan, a stop and a question, comes from the catalogue."""
    plan, data = _planned(name)
    found = packet_data(plan, date=datetime.date(2026, 3, 5))
    _assert_looked_up("\n".join(texts_in(found)), data | words_of("us-letter"))


PAGES = (
    "", "/plan", "/survey", "/survey/rooms", "/work", "/work/steps", "/check", "/check/fault", "/tune", "/hand-over",
    "/history", "/look",
)  # fmt: skip


def test_pages_are_looked_up(tmp_path: Path) -> None:
    """Every stage of the app answers a browser that asks for another language in it, with nothing left in English."""
    with visiting(tmp_path, WORKED[0]) as visitor:
        visitor.client.headers["accept-language"] = CODE
        data = _house_words(EXAMPLES / f"{WORKED[0]}.yaml") | words_of("subbase", WORKED[0], *PAPER_NAMES)
        for path in PAGES:
            answer = visitor.get(path.removeprefix("/"))
            assert answer.status_code == 200, path
            assert f'lang="{CODE}"' in answer.text, path
            _assert_looked_up(shown_on(answer.text), data)


@pytest.mark.parametrize("file", ROOMS, ids=lambda file: file.stem)
def test_siting_is_looked_up(file: Path) -> None:
    """Where the control goes is said in the reader's language."""
    _assert_looked_up(site_text(judge_site(load_site(file, load_catalog()))), _house_words(file))


@pytest.mark.parametrize("diode", [False, True])
def test_search_for_conductors_is_looked_up(diode: bool) -> None:
    """Each step of a search, and its end, is said in the reader's language."""
    trace = start(2 if diode else 5, diode=diode)
    said: list[str] = []
    while (step := next_step(trace)).words and hasattr(step, "touch"):
        said += step.words
        trace = enter(trace, [step.touch] if diode else [step.touch[:2]])
    said += step.words
    _assert_looked_up("\n".join(said), frozenset())


BAD = (
    "survey: 1\nname: x\ncontrols: {}\n",
    "survey: 7\nname: ''\nnonsense: 1\n",
    "- a\n",
    "survey: 1\nname: x\ncontrols: {hall: {old: {terminals: [R, R, C.], power: steam}}}\ncables: {wall: {from: hall, to: attic, length: far, gauge: 99, conductors: {red: R}}}\n",
    "survey: 1\nname: x\nequipment: {furnace: {kind: gas-furnac, zones: {9: hall}}}\ncontrols: {hall: {old: {terminals: [W, R]}}}\nreadings: [{between: [hall.R, hall.R], volts: no}]\njumpers: [[hall.R, hall.X], [hall.R]]\n",
    "a: &b 1\n",
    "a: [\n",
)


@pytest.mark.parametrize("text", BAD)
def test_faults_are_looked_up(text: str) -> None:
    """What is wrong with a survey is said in the reader's language; what YAML's own reader says stays as it is."""
    with pytest.raises(InputError) as refused:
        read_survey(text.encode(), "x.yaml")
    for fault in refused.value.faults:
        assert fault.message.startswith((OPEN, "'")), fault.message
        assert unlooked(fault.message, words_of(text)) == [], fault.message


def test_record_belongs_to_its_plan_in_every_language() -> None:
    """The mark by which a record knows its steps is the same in any language, so that a crew may share one."""
    plan, __ = _planned("01-no-common-spare-blue")
    here = digest(work_plan(plan))
    with language("en"):
        there = digest(work_plan(_planned("01-no-common-spare-blue")[0]))
    assert here == there


def _literals(kind: object) -> tuple[str, ...]:
    return tuple(get_args(kind))


def _marked() -> frozenset[str]:
    """Return every word that ``names`` marks."""
    tree = ast.parse((SOURCE / "names.py").read_text("utf-8"))
    return frozenset(
        str(node.args[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and getattr(node.func, "id", "") == "mark"
        and isinstance(node.args[0], ast.Constant)
    )


@pytest.mark.parametrize(
    ("of", "values"),
    [
        ("calls", CALLS),
        ("groups", _literals(Kind.model_fields["group"].annotation)),
        ("who", _literals(Who)),
        ("slips", _literals(SlipKind)),
        ("outcomes", _literals(Severity)),
    ],
)
def test_every_identifier_has_a_name(of: str, values: tuple[str, ...]) -> None:
    """Whatever a person may be shown of an enumeration is a message."""
    assert set(values) <= _marked(), of


def test_brackets_are_told_from_what_is_outside() -> None:
    """The test itself sees a sentence that was not looked up, also beside one that was."""
    text = f"{names.named('red')} was left on the floor"
    assert unlooked(text) == ["was left on the floor"]
    assert outside_brackets("⟦a ⟦b⟧ c⟧").strip() == ""
