"""The commands. Imports inside commands are deliberate: help must answer before the models are loaded."""

from __future__ import annotations

import contextlib
import datetime
import io
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from subbase import __version__
from subbase.cli.check_command import check
from subbase.cli.data_command import data
from subbase.cli.diagnose_command import diagnose
from subbase.cli.ending import clearing_away
from subbase.cli.fleet_command import fleet
from subbase.cli.job_command import job
from subbase.cli.labels_command import labels
from subbase.cli.people_command import people
from subbase.cli.pocket_command import pocket
from subbase.cli.reader_language import asked_language, language_option, speaking, split_language, translated
from subbase.cli.serve_command import serve
from subbase.cli.shell import (
    BAD_INPUT,
    OPEN_QUESTION,
    PLANNED,
    VERDICT_CODES,
    catalogue_option,
    file_argument,
    json_option,
    load_catalog_or_leave,
    load_or_leave,
    plan_or_leave,
    print_fault,
    print_json,
    refuse_writing,
    say,
    show_plan,
)
from subbase.cli.site_command import site
from subbase.cli.trace_command import trace
from subbase.cli.tune_command import tune
from subbase.cli.work_command import work
from subbase.files import write_whole
from subbase.words import _

if TYPE_CHECKING:
    from subbase.plan import Plan

INTERRUPTED = 130
"""Exit code after Ctrl-C, as shells have it: 128 and the number of the signal."""


class _Commands(click.Group):
    """Commands that answer in JSON, when they are asked to, also to those who call them wrongly."""

    def main(self, args: Sequence[str] | None = None, *rest: Any, **settings: Any) -> Any:
        words, said = split_language(sys.argv[1:] if args is None else args)
        # Programs read JSON, and what one of them compares must not turn with the reader's language.
        code = "en" if "--json" in words else said or asked_language(os.environ)
        with speaking(code), clearing_away():
            return translated(self)._run(words, *rest, **settings)

    def _run(self, words: list[str], *rest: Any, **settings: Any) -> Any:
        if settings.get("standalone_mode") is False:
            return super().main(words, *rest, **settings)
        try:
            code = super().main(words, *rest, **{**settings, "standalone_mode": False})
        except click.ClickException as error:
            if "--json" not in words:
                said = io.StringIO()
                error.show(said)
                say(said.getvalue(), err=True, nl=False)
                sys.exit(error.exit_code)
            print_fault(f"{error.format_message()}", "command line")
            sys.exit(BAD_INPUT)
        except click.Abort as error:
            # An interrupt, or an end of input where an answer was asked for.
            stopped = isinstance(error.__cause__, KeyboardInterrupt)
            if "--json" not in words or stopped:
                click.echo(_("Stopped by Ctrl-C.") if stopped else _("Aborted!"), err=True)
            sys.exit(INTERRUPTED if stopped else 1)
        except OSError as error:
            # What a command did not foresee: most often a full disk behind the output.
            pattern = (
                _("{where} cannot be read or written: {strerror}.")
                if error.filename
                else _("The output cannot be written: {strerror}.")
            )
            say(pattern.format(where=error.filename, strerror=error.strerror), err=True)
            _leave_output()
            sys.exit(BAD_INPUT)
        sys.exit(code if isinstance(code, int) else 0)


def _leave_output() -> None:
    """Keep Python from writing once more, at its end, what could not be written."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__)
@language_option
def main() -> None:
    """Plan, prove and document the wiring of a room control on 24 V.

    \b
    Exit codes: 0 planned, 2 the input cannot be read, 3 stopped (unsafe or no
    route), 4 a question must be answered first.

    \b
    Example:  subbase plan examples/01-no-common-spare-blue.yaml --out out
    """


@main.command()
@file_argument
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Write the papers there.")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Date on the papers; today when left out.")
@json_option
@catalogue_option
def plan(
    file: Path, out: Path | None, date: datetime.datetime | None, as_json: bool, folders: tuple[Path, ...]
) -> None:
    """Find how to wire and feed the new control, and prove it.

    \b
    Example:  subbase plan examples/03-two-transformers.yaml --out out
    """
    catalog, survey = load_or_leave(file, folders, as_json=as_json)
    from subbase.plan import make_plan

    made = make_plan(survey, catalog)
    if out is not None:
        _write_papers(made, out, date, as_json)
    show_plan(made, as_json=as_json)
    if out is not None and not as_json:
        say(_("Papers are in {out}.").format(out=out))
    sys.exit(VERDICT_CODES[made.verdict])


@main.command()
@file_argument
@json_option
@catalogue_option
@click.option("--doubles", is_flag=True, help="Also hold the checks against two likely slips at once.")
def checks(file: Path, as_json: bool, folders: tuple[Path, ...], doubles: bool) -> None:
    """Choose the fewest meter checks that tell the planned wiring from every single wrong landing.

    \b
    Example:  subbase checks examples/01-no-common-spare-blue.yaml
              subbase checks examples/12-heat-pump-with-strips.yaml --doubles
    """
    made = plan_or_leave(file, folders, as_json=as_json)
    from subbase.work.checks import checks_for

    if not as_json:
        click.echo(_("Building and solving every wrong landing ..."), err=True)
    found, report = checks_for(made), None
    if doubles:
        from subbase.work.double_report import doubles_for

        if not as_json:
            click.echo(_("Building and solving two wrong landings at once ..."), err=True)
        report = doubles_for(made, found)
    if as_json:
        from subbase.papers.data_check import WithDoublesShape, doubles_data

        two = {"doubles": doubles_data(report)} if report is not None else {}
        print_json(WithDoublesShape.of(found, survey=made.survey.name, **two).plain())
    else:
        from subbase.cli.checks_text import checks_text

        say(checks_text(made.survey.name, found, report))


@main.command("check-survey")
@file_argument
@json_option
@catalogue_option
def check_survey(file: Path, as_json: bool, folders: tuple[Path, ...]) -> None:
    """Read a survey and say everything that is wrong with it, or open in it.

    \b
    Example:  subbase check-survey examples/16-reading-contradicts.yaml
    """
    catalog, survey = load_or_leave(file, folders, as_json=as_json)
    from subbase.plan.check import check_survey as check

    report = check(survey, catalog)
    if as_json:
        from subbase.papers.data_shape import CheckSurveyShape

        print_json(CheckSurveyShape.filled(report, survey=survey.name, faults=()).plain())
    else:
        from subbase.cli.survey_text import check_text

        say(check_text(survey, report))
    sys.exit(OPEN_QUESTION if report.disagreements else PLANNED)


@main.command()
@file_argument
@json_option
@catalogue_option
def show(file: Path, as_json: bool, folders: tuple[Path, ...]) -> None:
    """Show the house as found: what lands where, and what each call does today.

    \b
    Example:  subbase show examples/13-dual-fuel.yaml
    """
    catalog, survey = load_or_leave(file, folders, as_json=as_json)
    if as_json:
        from subbase.survey.file_form import file_form

        print_json(file_form(survey))
        return
    from subbase.cli.survey_text import show_text

    say(show_text(survey, catalog))


@main.command()
@click.argument("what", type=click.Choice(["survey", "kind"]), default="survey")
def schema(what: str) -> None:
    """Print the JSON Schema of a survey, or of a catalogue kind.

    \b
    Example:  subbase schema > survey.schema.json
    """
    from subbase.survey.schema import kind_schema, survey_schema

    print_json(survey_schema() if what == "survey" else kind_schema())


@main.command()
@json_option
@catalogue_option
def kinds(as_json: bool, folders: tuple[Path, ...]) -> None:
    """List the equipment kinds of the catalogue with their terminals.

    \b
    Example:  subbase kinds
    """
    catalog = load_catalog_or_leave(folders, as_json=as_json)
    if as_json:
        print_json({name: kind.model_dump(mode="json", by_alias=True) for name, kind in sorted(catalog.items())})
        return
    width = max(map(len, catalog))
    for name, kind in sorted(catalog.items(), key=lambda item: (item[1].group, item[0])):
        say(f"{name:<{width}}  {' '.join(kind.terminals):<22}  {_(kind.title)}")


@main.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@catalogue_option
def new(file: Path, folders: tuple[Path, ...]) -> None:
    """Ask the fewest questions needed and write a survey to FILE.

    \b
    Example:  subbase new house.yaml
    """
    if file.exists() or file.is_symlink():
        say(_("{file} is already there and is left as it is; choose another name.").format(file=file), err=True)
        sys.exit(BAD_INPUT)
    if not file.parent.is_dir():
        say(
            _("There is no folder {parent} to write to; make it, or choose another.").format(parent=file.parent),
            err=True,
        )
        sys.exit(BAD_INPUT)
    from subbase.cli.interview import interview

    text = interview(load_catalog_or_leave(folders, as_json=False))
    try:
        write_whole(file, text.encode())
    except OSError as error:
        say(
            _("{file} cannot be written: {strerror}. The survey:").format(file=file, strerror=error.strerror)
            + f"\n\n{text}",
            err=True,
        )
        sys.exit(BAD_INPUT)
    say(_("Written to {file}. Next:  subbase plan {file}").format(file=file))


def _write_papers(made: Plan, out: Path, date: datetime.datetime | None, as_json: bool) -> None:
    from subbase.papers.data_plan import PlanShape
    from subbase.papers.write import write_papers

    day = date.date() if date is not None else datetime.datetime.now(tz=datetime.UTC).date()
    step: Callable[[str], None] = (lambda __: None) if as_json else (lambda text: say(text, err=True))
    step(_("Writing the papers ..."))
    try:
        write_papers(made, out, date=day, beside={"plan.json": PlanShape.of(made).as_file()})
    except OSError as error:
        refuse_writing(out, error, as_json=as_json, what=_("The papers"))


for _command in (check, data, diagnose, fleet, job, labels, people, pocket, serve, site, trace, tune, work):
    main.add_command(_command)
