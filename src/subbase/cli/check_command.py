"""``subbase check``: the sheet of what to take, and what was taken, judged."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from subbase.cli.shell import (
    OPEN_QUESTION,
    PLANNED,
    STOPPED,
    bad_input_refused,
    catalogue_option,
    file_argument,
    json_option,
    plan_or_leave,
    print_json,
    say,
)
from subbase.words import _


@click.command()
@file_argument
@click.option(
    "--readings", type=click.Path(path_type=Path), metavar="R.yaml",
    help="Readings taken, as YAML or JSON; without it the sheet to fill in is printed.",
)  # fmt: skip
@json_option
@catalogue_option
def check(file: Path, readings: Path | None, as_json: bool, folders: tuple[Path, ...]) -> None:
    """Judge the readings taken after the work, or print the sheet of what to take.

    Each reading is a pass, a fail, or a suspect meter or lead, with its reason
    and its bounds. A fail names the wrong landings that give every reading so
    far. Then: what is left to check, what is still possible, whether the house
    is proved.

    \b
    Exit codes: 0 everything taken passes (what is left is told), 2 the input
    cannot be read, 3 power off now, 4 something fails, is in doubt or was not
    taken.

    \b
    Example:  subbase check examples/01-no-common-spare-blue.yaml > taken.yaml
              subbase check examples/01-no-common-spare-blue.yaml --readings taken.yaml
    """
    made = plan_or_leave(file, folders, as_json=as_json)
    from subbase.cli.check_text import report_text, sheet_yaml
    from subbase.papers.data_check import CheckedShape, ToTakeShape
    from subbase.work.call_sequences import call_sequences
    from subbase.work.checks import checks_for
    from subbase.work.taken_reader import load_taken
    from subbase.work.verdicts import judge

    assert made.left is not None  # a plan that is there to be worked from leaves a house
    sequences = call_sequences(made.left, made.catalog)
    taken = None
    if readings is not None:
        with bad_input_refused(as_json=as_json):
            taken = load_taken(readings, made.left, made.catalog, sequences)
    if not as_json:
        click.echo(_("Building and solving every wrong landing ..."), err=True)
    checks = checks_for(made)
    if taken is None:
        sheet = sheet_yaml(made, checks, sequences)
        if as_json:
            print_json(ToTakeShape.filled(made, sheet=sheet, sequences=sequences).plain())
        else:
            say(sheet, nl=False)
        return
    report = judge(made, taken, checks, sequences)
    if as_json:
        print_json(CheckedShape.by_line(report, made.survey.name).plain())
    else:
        say(report_text(made.survey.name, report))
    if report.stop:
        sys.exit(STOPPED)
    passes = report.marked("pass") and not report.marked("fail") and not report.marked("meter or lead suspect")
    sys.exit(PLANNED if passes else OPEN_QUESTION)
