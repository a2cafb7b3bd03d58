"""What every command shares: options, loading, refusing, writing. Models load inside, so that help answers first."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from subbase.errors import Fault, InputError, printable
from subbase.words import _, plural

if TYPE_CHECKING:
    from subbase.catalog import Catalog
    from subbase.plan import Plan
    from subbase.survey import Survey

PLANNED, BAD_INPUT, STOPPED, OPEN_QUESTION = 0, 2, 3, 4
VERDICT_CODES = {"planned": PLANNED, "stopped": STOPPED, "question": OPEN_QUESTION}
catalogue_option = click.option(
    "--catalogue", "folders", multiple=True, type=click.Path(path_type=Path), metavar="DIR",
    help="A folder of your own equipment kinds (TOML); may be given more than once.",
)  # fmt: skip
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of text.")
file_argument = click.argument("file", type=click.Path(path_type=Path), metavar="FILE")


@contextmanager
def bad_input_refused(*, as_json: bool) -> Iterator[None]:
    """Print every fault of bad input found inside, and leave with exit code 2."""
    try:
        yield
    except InputError as error:
        refuse(error, as_json=as_json)


def load_catalog_or_leave(folders: tuple[Path, ...], *, as_json: bool) -> Catalog:
    """Return the catalogue with the folders' own kinds, or leave with exit code 2."""
    from subbase.catalog import load_catalog

    with bad_input_refused(as_json=as_json):
        return load_catalog(folders)


def load_or_leave(file: Path, folders: tuple[Path, ...], *, as_json: bool) -> tuple[Catalog, Survey]:
    """Return catalogue and survey, or leave with exit code 2 and one sentence for each fault."""
    from subbase.survey import load_survey

    catalog = load_catalog_or_leave(folders, as_json=as_json)
    with bad_input_refused(as_json=as_json):
        return catalog, load_survey(file, catalog)


def plan_or_leave(file: Path, folders: tuple[Path, ...], *, as_json: bool) -> Plan:
    """Return a plan that is there to be worked from; leave with the plan's own words and code when it is not."""
    catalog, survey = load_or_leave(file, folders, as_json=as_json)
    from subbase.plan import make_plan

    made = make_plan(survey, catalog)
    if made.verdict == "planned":
        return made
    show_plan(made, as_json=as_json)
    sys.exit(VERDICT_CODES[made.verdict])


def show_plan(made: Plan, *, as_json: bool) -> None:
    """Print a plan, in words or as data."""
    if as_json:
        from subbase.papers.data_plan import PlanShape

        print_json(PlanShape.of(made).plain())
    else:
        from subbase.cli.plan_text import plan_text

        say(plan_text(made))


def print_fault(message: str, file: str = "") -> None:
    """Print one thing that is wrong as a JSON object."""
    print_faults(Fault(message, file=file))


def print_faults(*faults: Fault) -> None:
    """Print what is wrong with the input as one JSON object."""
    from subbase.papers.data_shape import FaultsShape

    print_json(FaultsShape.filled(faults=faults).plain())


def refuse(error: InputError, *, as_json: bool) -> NoReturn:
    """Print every fault and leave with exit code 2."""
    if as_json:
        print_faults(*error.faults)
    else:
        for fault in error.faults:
            say(str(fault), err=True)
        count = len(error.faults)
        click.echo(
            plural("{count} fault; nothing was written.", "{count} faults; nothing was written.", count).format(
                count=count
            ),
            err=True,
        )
    sys.exit(BAD_INPUT)


def refuse_writing(out: Path, error: OSError, *, as_json: bool, what: str) -> NoReturn:
    """Say that files cannot be written, and leave with exit code 2."""
    message = _("{what} cannot be written to {out}: {strerror}.").format(what=what, out=out, strerror=error.strerror)
    if as_json:
        print_fault(message, str(out))
    else:
        say(message, err=True)
    sys.exit(BAD_INPUT)


def say(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Print what may hold a file's own words: nothing in them moves a terminal's cursor or turns its text round."""
    click.echo(printable(text), err=err, nl=nl)


def print_json(data: Any) -> None:
    """Print one JSON object; what is no print in it is escaped, which JSON reads as the same text."""
    text = json.dumps(data, indent=2, ensure_ascii=False)
    click.echo("".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text))
