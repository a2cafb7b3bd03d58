"""``subbase pocket``: a folder for any host with TLS, which plans on a phone without a signal."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from subbase.cli.shell import BAD_INPUT, refuse_writing, say
from subbase.words import _


@click.command()
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Write the folder there.",
)
@click.option(
    "--kept",
    "place",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Where the browser's Python is kept once it is fetched; your own cache folder when left out.",
)
def pocket(out: Path, place: Path | None) -> None:
    """Write a static folder that plans, proves and keeps a job on a phone with no signal.

    \b
    Needs npm and pip once, to fetch the browser's Python.
    Example:  subbase pocket --out pocket
    """
    from subbase.errors import InputError
    from subbase.web.pocket.build import build
    from subbase.web.pocket.fetch import default_place, fetch

    try:
        runtime = fetch(place or default_place())
        made = build(runtime, out)
    except InputError as error:
        for fault in error.faults:
            say(str(fault), err=True)
        sys.exit(BAD_INPUT)
    except OSError as error:
        refuse_writing(out, error, as_json=False, what=_("The folder"))
    said = _("Written to {out}: version {version}, {files} files; a phone downloads {mb:.1f} MB once.")
    mb = made.download_bytes / 1e6
    say(said.format(out=out, version=made.version, files=len(made.files) + 1, mb=mb))
    click.echo(_("Put it on a host with TLS. Over plain HTTP it works only while the host can be reached."))
