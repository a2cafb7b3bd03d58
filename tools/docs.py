"""Write the pages that are made from code: validation, survey, catalogue, command line, API, data out.

``python -m tools.docs`` writes them; ``python -m tools.docs --check`` only says whether they are up to date.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
from pydantic import BaseModel

from subbase.catalog import load_catalog
from subbase.catalog.model import ContactPart, FusePart, LoadPart, ResistorPart, SwitchPart, TransformerPart
from subbase.cli.main import main as command
from subbase.survey import model
from tools import api_docs, data_out_docs

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
MADE = "<!-- Made by `make docs` from the code; edit the code, not this page. -->\n\n"
SURVEY_MODELS = (
    ("The file", model.Survey),
    ("place", model.Place),
    ("controls.NAME", model.Control),
    ("controls.NAME.old and .new", model.Profile),
    ("equipment.NAME", model.Equipment),
    ("transformers.NAME", model.Transformer),
    ("cables.NAME", model.Cable),
    ("cables.NAME.conductors.NAME", model.Conductor),
    ("jumpers", model.Jumper),
    ("readings", model.Reading),
)


def pages() -> dict[Path, str]:
    """Return every made page by its path."""
    return {
        DOCS / "validation.md": MADE + validation_page(),
        DOCS / "reference" / "survey.md": MADE + survey_page(),
        DOCS / "reference" / "catalogue.md": MADE + catalogue_page(),
        DOCS / "reference" / "command-line.md": MADE + command_page(),
        **api_docs.pages(),
        **data_out_docs.pages(),
    }


def validation_page() -> str:
    """Return the page of outside checks, from the tests' own markers."""
    listed = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "tests",
            "--collect-only",
            "-q",
            "-p",
            "tools.outside_checks",
            "-m",
            "outside",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    rows = [
        line.removeprefix("OUTSIDE\t").split("\t")
        for line in listed.stdout.splitlines()
        if line.startswith("OUTSIDE\t")
    ]
    if not rows:
        raise SystemExit(f"No outside checks were collected:\n{listed.stdout}{listed.stderr}")
    lines = [
        "# Checked against the outside",
        "",
        "Every test here holds the project against something that was not made here. The page is made from the tests' own",
        "markers. *How known* says whether the source was read, run, or is quoted from memory.",
        "",
        "| What is shown | Source | How known | Test |",
        "|---|---|---|---|",
    ]
    lines += [f"| {what} | {source} | {how} | `{test}` |" for test, what, source, how in sorted(set(map(tuple, rows)))]
    return "\n".join(lines) + "\n"


def survey_page() -> str:
    """Return the reference of the survey file, from the models."""
    lines = [
        "# The survey file, version 1",
        "",
        "YAML or JSON, one file a house. Any value may be `unknown`, or `{either: [A, B]}`, where the table says so; any value",
        "may be written `{value: 40, known: measured}` (seen, measured, told, assumed). A landing is `TERMINAL` of the cable's",
        "place at that end, `PLACE.TERMINAL`, `loose` or `cut short`; a wire nut is a terminal named `joint 1` and so on.",
        "`red: R` is short for a conductor on R at both ends.",
        "",
    ]
    for title, found in SURVEY_MODELS:
        lines += [f"## {title}", "", *_field_table(found), ""]
    return "\n".join(lines)


def _field_table(found: type[BaseModel]) -> Iterator[str]:
    yield "| Field | Meaning | May be unknown | If left out |"
    yield "|---|---|---|---|"
    for name, field in found.model_fields.items():
        shown = {"length_m": "length", "gauge_awg": "gauge"}.get(name, field.alias or name)
        meaning = (
            (field.description or "").replace(" [m]", ", in the survey's units")
            if name == "length_m"
            else field.description or ""
        )
        unknown = "yes" if "Unknown" in str(field.annotation) else ""
        default = (
            "must be given" if field.is_required() else _default_words(field.get_default(call_default_factory=True))
        )
        yield f"| `{shown}` | {meaning} | {unknown} | {default} |"


def _default_words(value: object) -> str:
    if value in ((), {}, "", None) or isinstance(value, BaseModel):
        return "none"
    return f"`{str(value).lower() if isinstance(value, bool) else value}`"


def catalogue_page() -> str:
    """Return the reference of every built-in kind: terminals, values, sources."""
    lines = [
        "# Equipment kinds",
        "",
        "A nameplate in the survey overrides any value. Users add kinds of their own with `--catalogue DIR`.",
        "",
    ]
    for name, kind in sorted(load_catalog().items(), key=lambda item: (item[1].group, item[0])):
        lines += [f"## {name}", "", f"{kind.title}. {kind.about}".strip(), ""]
        lines.append("Terminals: " + "; ".join(f"`{t}` {what}" for t, what in kind.terminals.items()) + ".")
        lines += ["", "| Part | Between | Values | Source |", "|---|---|---|---|"]
        lines += [
            f"| {p.what or p.id} (`{p.id}`) | {p.between[0]} – {p.between[1]} | {_values(p)} | {p.source} |"
            for p in kind.parts
        ]
        lines.append("")
    return "\n".join(lines)


def _values(part: object) -> str:
    match part:
        case TransformerPart():
            return f"{part.va:g} VA, {part.volts:g} V, regulation {part.regulation:.1%}"
        case FusePart():
            return f"fuse {part.rating_a:g} A"
        case LoadPart():
            inrush = f", {part.va_inrush:g} VA inrush" if part.va_inrush else ""
            return f"{part.va:g} VA{inrush}, in at {part.pull_in:.0%}, out at {part.drop_out:.0%}" + (
                f", after {part.delay_s:g} s" if part.delay_s else ""
            )
        case ContactPart():
            return f"contact, normally {part.normally}, worked by {', '.join(part.worked_by)}"
        case SwitchPart():
            return f"switch, normally {part.normally}; acts when {part.acts_when}"
        case ResistorPart():
            return f"{part.ohm:g} ohm"
    return "link"


def command_page() -> str:
    """Return the reference of the command line, from its own help texts."""
    context = click.Context(command, info_name="subbase")
    lines = ["# The command line", "", "```", command.get_help(context), "```", ""]
    for name in command.list_commands(context):
        found = command.get_command(context, name)
        if found is not None:
            child = click.Context(found, info_name=f"subbase {name}", parent=None)
            lines += [f"## subbase {name}", "", "```", found.get_help(child), "```", ""]
    return "\n".join(lines)


def run(arguments: list[str]) -> int:
    """Write the pages, or with ``--check`` return 1 when any is stale."""
    stale = [path for path, text in pages().items() if not path.exists() or path.read_text(encoding="utf-8") != text]
    if "--check" in arguments:
        for path in stale:
            print(f"{path.relative_to(ROOT)} is stale; 'make docs' writes it anew.")
        return 1 if stale else 0
    for path, text in pages().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
