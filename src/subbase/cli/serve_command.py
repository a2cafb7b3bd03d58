"""``subbase serve``: the app for the phone, on this machine."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from subbase.cli.shell import BAD_INPUT, catalogue_option


@click.command()
@click.option(
    "--journal",
    "place",
    envvar="SUBBASE_JOURNAL",
    metavar="FILE",
    help="The journal's file, or a PostgreSQL URL; SUBBASE_JOURNAL or your own data folder when left out.",
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address to answer at; this machine only, while there are no accounts.",
)
@click.option("--port", default=8024, show_default=True, type=click.IntRange(1, 65535))
@click.option("--behind-proxy", is_flag=True, help="A reverse proxy on this machine ends TLS.")
@catalogue_option
def serve(place: str | None, host: str, port: int, behind_proxy: bool, folders: tuple[Path, ...]) -> None:
    """Serve the app for the phone and the desk.

    \b
    Example:  subbase serve --journal jobs.db
    """
    import uvicorn

    from subbase.errors import SubbaseError
    from subbase.journal.place import default_place, make_folder
    from subbase.web.app import create_app
    from subbase.web.settings import Settings

    journal = place or default_place()
    make_folder(journal)
    settings = Settings(journal=journal, host=host, port=port, catalogue=folders, behind_proxy=behind_proxy)
    try:
        app = create_app(settings)
    except SubbaseError as error:
        click.echo(str(error), err=True)
        sys.exit(BAD_INPUT)
    click.echo(f"Open http://{host}:{port}/ (stop with Ctrl-C). Jobs are kept in {journal}.")
    uvicorn.run(app, host=host, port=port, log_level="warning", server_header=False, proxy_headers=behind_proxy)
