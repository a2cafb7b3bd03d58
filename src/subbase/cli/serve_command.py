"""``subbase serve``: the app for the phone, on this machine or for others who sign in."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from subbase.cli.shell import BAD_INPUT, catalogue_option, say
from subbase.words import _


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
    help="Address to answer at. On any but this machine's own, people sign in: see 'subbase people add'.",
)
@click.option("--port", default=8024, show_default=True, type=click.IntRange(1, 65535))
@click.option("--accounts", is_flag=True, help="People sign in although only this machine can reach the app.")
@click.option("--behind-proxy", is_flag=True, help="A reverse proxy on this machine ends TLS; people sign in.")
@click.option(
    "--codes",
    type=click.Choice(["office", "all"]),
    help="Of whom a second factor is asked at sign-in: a code of a device. Anybody may have one of their own accord.",
)
@click.option(
    "--name",
    "names",
    multiple=True,
    metavar="HOST",
    help="Host name under which others reach it; any other is refused. May be given more than once.",
)
@catalogue_option
def serve(place: str | None, folders: tuple[Path, ...], **said: object) -> None:
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
    host, port, names = str(said["host"]), int(str(said["port"])), said["names"]
    settings = Settings(
        journal=journal,
        host=host,
        port=port,
        catalogue=folders,
        behind_proxy=bool(said["behind_proxy"]),
        accounts=bool(said["accounts"]),
        codes="office" if said["codes"] == "office" else "all" if said["codes"] else "",
        names=tuple(name.lower() for name in names) if isinstance(names, tuple) else (),
    )
    try:
        app = create_app(settings)
    except SubbaseError as error:
        say(str(error), err=True)
        sys.exit(BAD_INPUT)
    open_at = _("Open {address} (stop with Ctrl-C). Jobs are kept in {journal}.")
    say(open_at.format(address=f"http://{host}:{port}/", journal=app.state.office.journal.database.place))
    if not settings.is_local and not settings.behind_proxy:
        click.echo(
            _(
                "The connection is not encrypted: in a network that is not your own, put a reverse proxy with TLS before it."
            ),
            err=True,
        )
    # What a proxy says is judged by the app itself, which believes less of it.
    uvicorn.run(app, host=host, port=port, log_level="warning", server_header=False, proxy_headers=False)
