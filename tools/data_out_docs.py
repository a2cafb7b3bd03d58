"""The pages on data out, made from the code: schemas, tables of columns, and an example of every file.

``pages()`` gives them to ``python -m tools.docs``; alone, ``python -m tools.data_out_docs`` writes them and ``--check``
only says whether they are up to date.
"""

from __future__ import annotations

import datetime
import json
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from subbase.cli.main import main as command
from subbase.comfort.equipment_settings import tuning
from subbase.comfort.weekly import calendar, same_every_day
from subbase.papers.data_check import CheckedShape, ToTakeShape, WithDoublesShape
from subbase.papers.data_diagnosis import DiagnosisShape
from subbase.papers.data_files import data_files
from subbase.papers.data_plan import PlanShape
from subbase.papers.data_rows import LANDING_COLUMNS, READING_COLUMNS
from subbase.papers.data_shape import CheckSurveyShape, DataShape, FaultsShape, LabelsShape, Shape
from subbase.papers.data_site import SiteShape
from subbase.papers.data_tune import TuneShape
from subbase.papers.data_work import TraceShape, WorkShape
from subbase.papers.label_print import LABEL_COLUMNS
from subbase.plan import Plan, make_plan
from subbase.survey import load_survey

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "docs" / "data-out"
HOUSE = ROOT / "examples" / "07-heat-only-pair.yaml"
DATE = datetime.date(2026, 3, 5)
MADE = "<!-- Made by `make docs` from the code; edit the code, not this page. -->\n\n"
CSV_FILES: dict[str, tuple[str, Mapping[str, str]]] = {
    "landings.csv": ("Every conductor of the house with both ends, as found and as left.", LANDING_COLUMNS),
    "readings.csv": ("What a meter must read between two terminals in each call, as left.", READING_COLUMNS),
    "labels.csv": ("A row for each end of each conductor, for a label printer's own program.", LABEL_COLUMNS),
}
DIALECT = "https://json-schema.org/draft/2020-12/schema"
SHAPES: dict[str, tuple[type[Shape], str]] = {
    "plan": (PlanShape, "`subbase plan FILE --json`, and `plan.json` beside the papers"),
    "checks": (WithDoublesShape, "`subbase checks FILE --json`"),
    "work": (WorkShape, "`subbase work FILE --json`"),
    "check-sheet": (ToTakeShape, "`subbase check FILE --json`: what to take"),
    "check": (CheckedShape, "`subbase check FILE --readings R.yaml --json`: what was taken, judged"),
    "trace": (TraceShape, "`subbase trace ... --json`"),
    "diagnose": (DiagnosisShape, "`subbase diagnose FILE --evidence E.yaml --json`"),
    "site": (SiteShape, "`subbase site FILE --json`, and `site.json` beside the drawings"),
    "tune": (TuneShape, "`subbase tune FILE --json`, and `tune.json` with `--out`"),
    "check-survey": (CheckSurveyShape, "`subbase check-survey FILE --json`"),
    "labels": (LabelsShape, "`subbase labels FILE --json`"),
    "data": (DataShape, "`subbase data FILE --json`"),
    "faults": (FaultsShape, "any command with `--json` whose input cannot be read"),
}
"""Name of a schema -> the shape, and what prints it."""


def pages() -> dict[Path, str]:
    """Return every made file of ``docs/data-out`` by its path."""
    found = {FOLDER / "README.md": MADE + readme()}
    found |= {FOLDER / "schemas" / f"{name}.schema.json": _json(schema) for name, schema in schemas().items()}
    found |= {FOLDER / "examples" / name: text for name, text in examples().items()}
    return found


def schemas() -> dict[str, dict[str, Any]]:
    """Return name -> JSON Schema."""
    return {
        name: {"$schema": DIALECT, "title": name} | shape.model_json_schema(mode="serialization")
        for name, (shape, _where) in SHAPES.items()
    }


@cache
def _plan() -> Plan:
    return make_plan(load_survey(HOUSE))


@cache
def examples() -> dict[str, str]:
    """Return file name -> an example of it, made by the program itself."""
    found = {name: data.decode().replace("\r\n", "\n") for name, data in data_files(_plan(), date=DATE)}
    for name, words in (("plan", ["plan"]), ("checks", ["checks"]), ("check-survey", ["check-survey"])):
        found[f"{name}.json"] = CliRunner().invoke(command, [*words, str(HOUSE), "--json"]).stdout
    found["survey.json"] = CliRunner().invoke(command, ["show", str(HOUSE), "--json"]).stdout
    found["schedule.ics"] = schedule().replace("\r\n", "\n")
    return dict(sorted(found.items()))


def schedule() -> str:
    """Return the first schedule of the example's control as iCalendar text, with its own line ends."""
    plan = _plan()
    item = plan.controls[0]
    assert plan.left is not None
    slots = tuning(plan.left, plan.catalog, item.control, item.wanted).first_schedule

    def celsius(value: float | None) -> float | None:
        return None if value is None else (value - 32.0) / 1.8

    week = same_every_day((slot.at, celsius(slot.heat_f), celsius(slot.cool_f)) for slot in slots)
    made = datetime.datetime.combine(DATE, datetime.time(), datetime.UTC)
    return calendar(week, f"{plan.survey.name}: {item.control}", DATE, made, "°F")


def readme() -> str:
    """Return the page that tells every file."""
    return "\n".join([*_head(), *_json_part(), *_csv_part(), *_other_part()]) + "\n"


def _head() -> Iterator[str]:
    yield from (
        "# Data out",
        "",
        "Everything that subbase works out can be taken elsewhere, in open formats. `subbase data FILE --out DIR` writes a plan",
        "as files; every command also prints JSON with `--json`. Names and values for programs are English whatever the",
        "reader's language; sentences are in the language that was asked for. Text is UTF-8. The same input, version and date",
        "give the same bytes.",
        "",
        f"The [examples](examples) are those of the invented house `examples/{HOUSE.name}`; a test makes them anew and holds",
        "them, and those of every other example house, against the schemas.",
        "",
        "| File | What | Told in | Example |",
        "|---|---|---|---|",
        "| `plan.json`, `survey.json` | the plan with its proof; the survey | [JSON](#json) | [plan.json](examples/plan.json) |",
        "| `landings.csv`, `readings.csv`, `labels.csv` | tables | [CSV](#csv) | [landings.csv](examples/landings.csv) |",
        "| `circuit-CALL.cir` | the circuit as left, one file a call | [SPICE](#spice) | [circuit-heat-1.cir](examples/circuit-heat-1.cir) |",
        "| `wiring-found.svg`, `wiring-left.svg`, `ladder-left.svg` | drawings | [SVG](#svg) | [wiring-left.svg](examples/wiring-left.svg) |",
        "| `schedule-N-CONTROL.ics` (from `subbase tune --out`) | the schedule | [iCalendar](#icalendar) | [schedule.ics](examples/schedule.ics) |",
        "| `landing-code.txt` | the code on the packet's cover | [its own page](landing-code.md) | [landing-code.txt](examples/landing-code.txt) |",
        "",
    )


def _json_part() -> Iterator[str]:
    yield from (
        "## JSON",
        "",
        "One object, with `format` 1: a later format gets another number, and within a format no field goes away or changes its",
        "meaning. Volts are rounded to a hundredth, amperes to a ten-thousandth. Schemas are JSON Schema, draft 2020-12.",
        "",
        "| Schema | Of |",
        "|---|---|",
    )
    yield from (f"| [{name}](schemas/{name}.schema.json) | {where} |" for name, (_shape, where) in SHAPES.items())
    yield "| `subbase schema survey` | a survey, as `subbase show FILE --json` prints it and every command reads it |"
    yield "| `subbase schema kind` | an equipment kind of your own (TOML, same fields) |"
    yield ""


def _csv_part() -> Iterator[str]:
    yield from (
        "## CSV",
        "",
        "RFC 4180: a head, commas, double quotes where they are needed, lines that end in CR LF. A cell that a spreadsheet would",
        "take for a formula (it begins with `=`, `+`, `-`, `@`, a tab or a carriage return) has an apostrophe before it.",
    )
    for name, (about, columns) in CSV_FILES.items():
        yield from ("", f"### {name}", "", about, "", "| Column | Holds |", "|---|---|")
        yield from (f"| `{column}` | {words} |" for column, words in columns.items())
    yield ""


def _other_part() -> Iterator[str]:
    yield from (
        "## SPICE",
        "",
        "A deck for `ngspice -b FILE`, one for each single call of the house as left. Comments name every node and branch as on the",
        "diagrams. `R`, `L` and `C` elements are copper, loads and meters' ends; `V` elements are transformers behind their",
        "regulation, and the joint of each circuit to ground, which carries nothing. Switches stand as the call sets them, coils as",
        "they come to rest in it. The analysis is `.ac` at 60 Hz: phasors in volts rms. It prints every node's voltage against the",
        "reference of its own circuit.",
        "",
        "## SVG",
        "",
        "SVG 1.1, one root with `viewBox`, `width` and `height` in points, `role=\"img\"`, a `title` and a `desc` that says the drawing",
        "in words. Elements are `path`, `rect`, `circle` and `text`, all with presentation attributes: no style sheet, no script,",
        "no reference to anything outside. Text is text; the face is Atkinson Hyperlegible where it is there. Colours of insulation",
        "are also written beside each conductor.",
        "",
        "## iCalendar",
        "",
        "RFC 5545, one `VEVENT` for each setpoint of the week with a weekly `RRULE`. Times are floating: a setpoint belongs to the",
        "clock on the wall. `SUMMARY` says the setpoints, `DESCRIPTION` the house and the control; `UID` stays the same as long as",
        "the setpoint does. Lines end in CR LF and are folded at 75 octets.",
    )  # fmt: skip


def _json(content: dict[str, Any]) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"


def main(arguments: list[str]) -> int:
    """Write the files, or with ``--check`` return 1 when any is stale."""
    made = pages()
    stale = [path for path, text in made.items() if not path.exists() or path.read_text(encoding="utf-8") != text]
    if "--check" in arguments:
        print("\n".join(f"{path.relative_to(ROOT)} is stale." for path in stale) or "Up to date.")
        return 1 if stale else 0
    for path in stale:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(made[path], encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
