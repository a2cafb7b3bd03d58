"""``subbase tune``: text and data say the same, and bad input is refused in words."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from subbase.cli.tune_command import tune
from subbase.comfort.answers import QUESTIONS
from tests.comfort_cases import CHICAGO
from tests.comfort_logs import made_log, random_truth
from tests.houses import EXAMPLES, NAMES, plan_of

CODES = {"planned": 0, "stopped": 3, "question": 4}
STRIPS = str(EXAMPLES / "12-heat-pump-with-strips.yaml")
BOTH = str(EXAMPLES / "13-dual-fuel.yaml")
HOUSE = ("--heat-loss", "36000", "--design", "5", "--capacity", "22000,31000,36000")


@pytest.mark.parametrize("name", NAMES)
def test_every_example_leaves_with_its_plan_s_code(name: str) -> None:
    """Settings are told for a planned house; the others get the plan's own words and code."""
    plan = plan_of(name)
    found = CliRunner().invoke(tune, [str(EXAMPLES / f"{name}.yaml"), "--json"])
    assert found.exit_code == CODES[plan.verdict], found.output
    data = json.loads(found.stdout)
    if plan.verdict == "planned":
        assert [item["control"] for item in data["controls"]] == [item.control for item in plan.controls]
    else:
        assert data["verdict"] == plan.verdict


def test_text_and_data_say_the_same() -> None:
    """Every name, value, reason and source of the data stands in the text."""
    text = " ".join(CliRunner().invoke(tune, [STRIPS, *HOUSE]).stdout.split())
    data = json.loads(CliRunner().invoke(tune, [STRIPS, *HOUSE, "--json"]).stdout)
    for setting in data["controls"][0]["settings"]:
        told = f"{setting['name']}: {setting['value']}. {setting['why']} [{setting['source']}]"
        assert " ".join(told.split()) in text
    for slot in data["controls"][0]["first_schedule"]["every_day"]:
        assert f"{slot['from']} {slot['heat_f']:g} °F {slot['cool_f']:g} °F" in text


def test_what_is_known_of_the_house_takes_the_question_away() -> None:
    """Without the house the lockout is asked for; with it, it is a number near the balance point."""

    def lockout(*options: str) -> dict[str, object]:
        data = json.loads(CliRunner().invoke(tune, [STRIPS, *options, "--json"]).stdout)
        found: dict[str, object] = next(s for s in data["controls"][0]["settings"] if s["key"] == "auxiliary_lockout")
        return found

    assert lockout()["ask"]
    known = lockout(*HOUSE)
    assert not known["ask"]
    # 36,000/55 (60 - T) = 22,000 + 500 (T - 17) is at 22.3 °F; with 15 % more load at 25.05 °F, rounded up.
    assert known["number"] == 26.0


def test_prices_move_the_change_to_the_second_fuel() -> None:
    """A dear kWh moves it up, to where the COP breaks even."""

    def change(price: str) -> float:
        options = ["--power", "2800,3250,2930", "--electricity", price, "--fuel", "1.50", "--efficiency", "0.95"]
        data = json.loads(CliRunner().invoke(tune, [BOTH, *HOUSE, *options, "--json"]).stdout)
        setting = next(s for s in data["controls"][0]["settings"] if s["key"] == "second_fuel_changeover")
        assert not setting["ask"]
        return float(setting["number"])

    assert change("0.08") < change("0.15")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--heat-loss", "36000"], "belong together"),
        (["--design", "70"], "59"),
        (["--capacity", "22000,31000"], "three numbers above zero"),
        (["--capacity", "22000,nan,31000"], "three numbers above zero"),
        (["--power", "1,2,3"], "--power needs --capacity"),
        (["--electricity", "0.2"], "belong together"),
        (["--electricity", "0.2", "--fuel", "1", "--efficiency", "0.9"], "--capacity and --power"),
        (["--efficiency", "95"], "95"),
        (["--heat-loss", "nan", "--design", "5"], "--heat-loss is nan"),
        (["--heat-loss", "inf", "--design", "5"], "--heat-loss is inf"),
        (["--heat-loss", "30000", "--design", "nan"], "--design is nan"),
        (["--know", "area"], "KEY=VALUE"),
        (["--know", "storeys=2"], "floor area must be known"),
        (["--know", "area=50"], "outside 108 to 32292 ft²"),
        (["--know", "area=1900", "--know", "colour=red"], "no such question"),
        (["--know", "area=1900", "--know", "asleep=late"], "22:30-06:30"),
        (["--know", "area=1900", "--know", "insulation=thick"], "none of"),
        (["--know", "area=1900", "--know", "heat_to=60"], "cooler than at home"),
        (["--know", "area=1900", "--know", "capacity=22000,31000,36000"], "give both"),
        (["--know", "area=1900", "--weather", "no-such.epw"], "cannot be read"),
        (["--weather", "no-such.epw"], "add --know area"),
        (["--log", "no-such.csv"], "no-such.csv"),
        (["--units", "metric"], "metric"),
    ],
)
def test_bad_options_are_refused_in_words(options: list[str], words: str) -> None:
    """Exit code 2 and a sentence; never a traceback."""
    found = CliRunner().invoke(tune, [STRIPS, *options])
    assert found.exit_code == 2
    assert words in found.output
    assert "Traceback" not in found.output


def test_out_holds_text_data_and_a_calendar_for_each_control(tmp_path: Path) -> None:
    """What is printed is what is written, and each control's first schedule is an iCalendar file."""
    house = str(EXAMPLES / "15-zone-panel-three-controls.yaml")
    out = tmp_path / "new" / "out"
    found = CliRunner().invoke(tune, [house, "--json", "--out", str(out), "--date", "2026-03-02"])
    assert found.exit_code == 0, found.output
    assert json.loads((out / "tune.json").read_text("utf-8")) == json.loads(found.stdout)
    controls = plan_of("15-zone-panel-three-controls").controls
    calendars = sorted(out.glob("*.ics"))
    assert [path.name for path in calendars] == [f"schedule-{n}-{c.control}.ics" for n, c in enumerate(controls, 1)]
    text = calendars[0].read_bytes().decode()
    assert text.startswith("BEGIN:VCALENDAR\r\n")
    assert "DTSTART:20260302T060000" in text
    assert "SUMMARY:Heat to 70 °F\\, cool to 78 °F" in text


def test_a_place_that_cannot_be_written_is_refused(tmp_path: Path) -> None:
    """Exit code 2 and a sentence, when the folder is a file."""
    (tmp_path / "out").write_text("in the way")
    found = CliRunner().invoke(tune, [STRIPS, "--out", str(tmp_path / "out")])
    assert found.exit_code == 2
    assert "cannot be written" in found.output


def test_the_questions_are_listed_with_units_and_stand_ins() -> None:
    """Every key stands there, and no survey is needed to see them."""
    found = CliRunner().invoke(tune, ["--questions"])
    assert found.exit_code == 0
    for question in QUESTIONS:
        assert f"  {question.key} " in found.output
    assert "Heated floor area, all storeys, ft²" in found.output


def test_a_floor_area_is_enough_for_a_year(tmp_path: Path) -> None:
    """Schedules side by side, a week, a setback study and charts; the same in text, data and files."""
    out = tmp_path / "out"
    found = CliRunner().invoke(
        tune, [STRIPS, "--know", "area=1900", "--json", "--out", str(out), "--date", "2026-03-02"]
    )
    assert found.exit_code == 0, found.output
    year = json.loads(found.stdout)["controls"][0]["year"]
    flat, best = year["schedules"]["flat"], year["schedules"]["cheapest found"]
    assert best["cost"] < flat["cost"]
    assert best["too_cold_h"] + best["too_warm_h"] <= flat["too_cold_h"] + flat["too_warm_h"] + 21.0
    assert year["weather_made_up"] is True
    assert set(year["setback"]["curves"]) == {"at the hour", "early", "early, compressor only"}
    assert next(step["from"] for step in year["week"] if step["day"] == 0) == "00:00"
    files = {path.name for path in out.iterdir()}
    assert {"schedule-1-hall.ics", "schedule-1-hall.csv", "year-1-hall.svg", "cold-day-1-hall.svg"} <= files
    assert (out / "settings.pdf").read_bytes().startswith(b"%PDF-")
    assert {"setback-1-hall.svg", "balance-1-hall.svg", "tune.txt", "tune.json"} <= files
    assert (out / "schedule-1-hall.csv").read_text("utf-8").startswith("day,from,heat_f,cool_f")
    text = (out / "tune.txt").read_text("utf-8")
    assert "A YEAR UNDER EACH SCHEDULE" in text
    assert f"{best['cost']:,.0f}" in text


def test_weather_and_log_of_a_house_are_taken(tmp_path: Path) -> None:
    """A real year by name, and a log whose house is told in watts and used."""
    rng = np.random.default_rng(1)
    log = made_log(random_truth(rng), rng)
    one = log.stretches[0]
    start = datetime.datetime(2026, 1, 5, tzinfo=datetime.UTC)
    rows = [
        f"{(start + datetime.timedelta(seconds=log.step_s * k)).isoformat()},{i:.3f},{o:.3f},{r:.4f}"
        for k, (i, o, r) in enumerate(zip(one.indoor_c, one.outdoor_c, one.on, strict=True))
    ]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["time,indoor_c,outdoor_c,on", *rows]))
    options = [
        "--units",
        "si",
        "--know",
        "area=180",
        "--know",
        "heat_output=14",
        "--weather",
        str(CHICAGO),
        "--log",
        str(path),
    ]
    house = str(EXAMPLES / "01-no-common-spare-blue.yaml")
    found = CliRunner().invoke(tune, [house, *options, "--json"])
    assert found.exit_code == 0, found.output
    control = json.loads(found.stdout)["controls"][0]
    assert control["log"]["tells"] is True
    assert control["log"]["loss_w_k"]["low"] < control["log"]["loss_w_k"]["value"] < control["log"]["loss_w_k"]["high"]
    assert control["year"]["house"]["by_log"] is True
    assert "Chicago" in control["year"]["weather"]
    ratio = control["year"]["house"]["loss_w_k"]["middle"] / control["log"]["loss_w_k"]["value"]
    assert 0.7 < ratio < 1.4
    text = CliRunner().invoke(tune, [house, "--units", "si", "--log", str(path)]).output
    assert "WHAT THE LOG TELLS" in text
    assert "tell ratios only" in text


def test_a_house_in_celsius_is_set_in_celsius() -> None:
    """No setting and no setpoint of a house surveyed in Celsius is told in Fahrenheit, also where --units says so."""
    metric = STRIPS.replace("12-heat-pump-with-strips", "05-two-motor-valves")
    known = ["--heat-loss", "36000", "--design", "5", "--capacity", "22000,31000,36000"]
    for arguments in ([metric], [STRIPS, "--units", "si", *known]):
        text = CliRunner().invoke(tune, arguments).output
        told = text.partition("FIRST SCHEDULE")
        assert "°F" not in told[0].replace("at 17, 35 and 47 °F", "")
        assert "21 °C" in told[2].partition("WHY")[0]
        data = json.loads(CliRunner().invoke(tune, [*arguments, "--json"]).stdout)
        assert all(one["unit"] != "°F" for control in data["controls"] for one in control["settings"])


def test_a_small_heat_pump_gets_its_strips_sooner() -> None:
    """Where the heat pump falls short above 35 °F, half an hour of waiting would leave the house cold every day."""

    def wait_min(capacity: str) -> float:
        arguments = [STRIPS, "--heat-loss", "36000", "--design", "5", "--capacity", capacity, "--json"]
        settings = json.loads(CliRunner().invoke(tune, arguments).stdout)["controls"][0]["settings"]
        return float(next(one["number"] for one in settings if one["key"] == "auxiliary_wait"))

    assert wait_min("22000,31000,36000") == 30.0
    assert wait_min("9000,12000,16000") == 15.0
