"""``subbase data``: a plan as files for other programs."""

from __future__ import annotations

import datetime
import hashlib
import sys
from pathlib import Path

import click

from subbase.cli.shell import (
    VERDICT_CODES,
    catalogue_option,
    file_argument,
    json_option,
    load_or_leave,
    print_json,
    refuse_writing,
    say,
)
from subbase.files import write_whole
from subbase.words import _, plural


@click.command()
@file_argument
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", default=Path("data"), show_default=True, help="Write them there.")  # fmt: skip
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Date in the files; today when left out.")
@json_option
@catalogue_option
def data(file: Path, out: Path, date: datetime.datetime | None, *, as_json: bool, folders: tuple[Path, ...]) -> None:
    """Write the plan as files for other programs: JSON, CSV, SPICE, SVG, text.

    Each is told in docs/data-out, with a schema and an example. Calendars of the
    schedule come from 'subbase tune --out'.

    \b
    Exit codes: 0 planned, 2 the input cannot be read, 3 stopped, 4 a question is
    open; in the last two there is less to write.

    \b
    Example:  subbase data examples/01-no-common-spare-blue.yaml --out out
    """
    catalog, survey = load_or_leave(file, folders, as_json=as_json)
    from subbase.papers.data_files import data_files
    from subbase.papers.data_plan import PlanShape
    from subbase.papers.data_shape import DataShape, file_bytes
    from subbase.plan import make_plan
    from subbase.survey.file_form import file_form

    plan = make_plan(survey, catalog)
    day = date.date() if date is not None else datetime.datetime.now(tz=datetime.UTC).date()
    files = {"survey.json": file_bytes(file_form(survey)), "plan.json": PlanShape.of(plan).as_file()}
    files |= dict(data_files(plan, date=day))
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            write_whole(out / name, content)
    except OSError as error:
        refuse_writing(out, error, as_json=as_json, what=_("The data"))
    if as_json:
        sums = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
        print_json(DataShape.filled(plan, files=sums).plain())
    else:
        say(plural("{count} file in {out}.", "{count} files in {out}.", len(files)).format(count=len(files), out=out))
    sys.exit(VERDICT_CODES[plan.verdict])
