"""The command that says where the control goes."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from subbase.cli.shell import (
    BAD_INPUT,
    OPEN_QUESTION,
    PLANNED,
    STOPPED,
    bad_input_refused,
    catalogue_option,
    file_argument,
    json_option,
    load_catalog_or_leave,
    print_fault,
    print_json,
    refuse_writing,
    say,
)
from subbase.files import write_whole
from subbase.words import _

if TYPE_CHECKING:
    from subbase.papers.data_site import SiteShape
    from subbase.siting.sun_year import Floats
    from subbase.siting.verdict import SiteVerdict

CODES = {"place": PLANNED, "elsewhere": PLANNED, "none": STOPPED, "question": OPEN_QUESTION}
SITE_PAPERS = ("site.pdf", "site.svg", "site.json")


@click.command()
@file_argument
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", help="Write drawings, sheet and data there.")
@click.option(
    "--weather",
    type=click.Path(path_type=Path),
    metavar="EPW",
    help="Weather year that tells clear hours from cloudy ones.",
)
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Date on the sheet; today when left out.")
@json_option
@catalogue_option
def site(
    file: Path, out: Path | None, weather: Path | None, date: datetime.datetime | None, *, as_json: bool,
    folders: tuple[Path, ...],
) -> None:  # fmt: skip
    """Say where the control goes: sun, heat, draughts, reach and radio at each place.

    FILE is a survey with rooms under 'site', or a file that holds the rooms alone.

    \b
    Example:  subbase site examples/rooms/01-hall-between-two-rooms.yaml --out out
    """
    catalog = load_catalog_or_leave(folders, as_json=as_json)
    from subbase.survey.rooms_reading import load_site

    with bad_input_refused(as_json=as_json):
        house = load_site(file, catalog)
        direct = _direct_w_m2(weather) if weather is not None else None
    if not as_json:
        click.echo(_("Following the sun through a year ..."), err=True)
    from subbase.cli.site_text import site_text
    from subbase.papers.data_site import SiteShape
    from subbase.siting.verdict import judge_site

    try:
        verdict = judge_site(house, direct_w_m2=direct)
    except ValueError as error:
        _leave(str(error), str(weather), as_json=as_json)
    shape = SiteShape.of(verdict)
    if out is not None:
        _write(verdict, shape, out, date, as_json=as_json)
    if as_json:
        print_json(shape.plain())
    else:
        say(site_text(verdict))
        if out is not None:
            say(_("Drawings and sheet are in {out}.").format(out=out))
    sys.exit(CODES[verdict.outcome])


def _direct_w_m2(weather: Path) -> Floats:
    from subbase.comfort.weather import read_epw

    return read_epw(weather).direct_normal_w_m2


def _leave(message: str, file: str, *, as_json: bool) -> None:
    if as_json:
        print_fault(message, file)
    else:
        say(f"{file}: {message}", err=True)
    sys.exit(BAD_INPUT)


def _write(verdict: SiteVerdict, shape: SiteShape, out: Path, date: datetime.datetime | None, *, as_json: bool) -> None:
    from subbase.papers.drawing import svg
    from subbase.papers.site_page import site_drawing, site_pdf

    day = date.date() if date is not None else datetime.datetime.now(tz=datetime.UTC).date()
    papers = (site_pdf(verdict, date=day), svg(site_drawing(verdict)).encode(), shape.as_file())
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, paper in zip(SITE_PAPERS, papers, strict=True):
            write_whole(out / name, paper)
    except OSError as error:
        refuse_writing(out, error, as_json=as_json, what=_("The drawings"))
