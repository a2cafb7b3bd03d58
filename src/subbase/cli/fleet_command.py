"""The command ``fleet``: a whole list of homes screened, asked about and planned; or a made-up list to try it on."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from subbase.cli.shell import PLANNED, catalogue_option, json_option, print_json, refuse, refuse_writing, say
from subbase.errors import printable
from subbase.words import _, plural

if TYPE_CHECKING:
    from subbase.fleet.run import Done, Look, Progress

BAR = 30
EVERY_S = 0.5
"""How often the progress line is written anew."""


@click.group()
def fleet() -> None:
    """Screen and plan a whole list of homes.

    \b
    Example:  subbase fleet make 2000 --out list
              subbase fleet screen list/fleet.csv --mapping list/mapping.toml --out out
    """


@fleet.command()
@click.argument("source", type=click.Path(path_type=Path), metavar="SOURCE")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    metavar="DIR",
    help="Results are written there.",
)
@click.option(
    "--mapping",
    "mapping_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Which column is which fact (TOML or YAML); a folder of surveys needs none.",
)
@click.option(
    "--workers",
    type=click.IntRange(1, 512),
    metavar="N",
    help="Processes on this machine; one for each core when left out.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Do the work on the Dask cluster of this scheduler, as in tcp://10.0.0.1:8786.",
)
@click.option("--encoding", metavar="NAME", help="Of a text file, when it is not told right by itself.")
@click.option(
    "--rows",
    type=click.IntRange(1, 1_000_000),
    default=20_000,
    show_default=True,
    metavar="N",
    help="Homes in one piece of work.",
)
@click.option("--look", is_flag=True, help="Only read and screen: say what is refused, plan nothing yet.")
@click.option("--anew", is_flag=True, help="Throw away what an earlier run in DIR has done.")
@json_option
@catalogue_option
def screen(  # noqa: PLR0913, PLR0917 - a command has as many arguments as options
    source: Path, out: Path, mapping_file: Path | None, workers: int | None, scheduler: str | None,
    encoding: str | None, rows: int, look: bool, anew: bool, as_json: bool, folders: tuple[Path, ...],
) -> None:  # fmt: skip
    """Screen and plan every home of SOURCE: a CSV, Parquet or xlsx file, or a folder of surveys.

    A run that is stopped goes on where it was when it is started again.

    \b
    Example:  subbase fleet screen examples/fleet/flats.csv \\
                  --mapping examples/fleet/mapping.toml --out out
    """
    from subbase.errors import InputError
    from subbase.fleet.keeper import clear
    from subbase.fleet.mapping import load_mapping
    from subbase.fleet.run import Order, look_over, run

    line = _Line(quiet=as_json)
    try:
        if anew:
            clear(out)
        mapping = load_mapping(mapping_file) if mapping_file is not None else None
        order = Order(source, out, mapping, folders, workers, scheduler, rows, encoding)
        if look:
            found = look_over(order, line.tell)
            line.end()
            _say_look(found, as_json=as_json)
            sys.exit(PLANNED)
        done = run(order, line.tell)
    except InputError as error:
        line.end()
        refuse(error, as_json=as_json)
    except OSError as error:
        line.end()
        refuse_writing(out, error, as_json=as_json, what=_("The results"))
    line.end()
    if as_json:
        print_json(json.loads((out / "summary.json").read_text("utf-8")))
    else:
        say(_summary(done, out))
    sys.exit(PLANNED)


@fleet.command()
@click.argument("rows", type=click.IntRange(1, 10_000_000), metavar="ROWS")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    metavar="DIR",
    help="The list and its mapping are written there.",
)
@click.option(
    "--seed",
    type=click.IntRange(0),
    default=1,
    show_default=True,
    metavar="N",
    help="The same seed makes the same list.",
)
@click.option(
    "--mix",
    type=click.Choice(["district", "block"]),
    default="district",
    show_default=True,
    help="Many sorts of houses, or one block of flats.",
)
@click.option(
    "--dirt",
    type=click.FloatRange(0, 1),
    default=0.02,
    show_default=True,
    metavar="SHARE",
    help="Share of rows that something is wrong with.",
)
@click.option(
    "--format", "ending", type=click.Choice(["csv", "parquet"]), default="csv", show_default=True, help="Of the list."
)
@json_option
def make(  # noqa: PLR0913, PLR0917 - as above
    rows: int, out: Path, seed: int, mix: str, dirt: float, ending: str, as_json: bool
) -> None:
    """Make up a list of ROWS homes, with the dirt that lists have, to try a run on.

    All shares are judgement; no home in it is a real one.

    \b
    Example:  subbase fleet make 2000 --mix block --seed 7 --out list
    """
    from subbase.fleet.synthetic import write_fleet

    try:
        path, mapping = write_fleet(out, rows, seed=seed, mix=mix, dirt=dirt, ending=ending)
    except OSError as error:
        refuse_writing(out, error, as_json=as_json, what=_("The list"))
    if as_json:
        print_json({"format": 1, "list": str(path), "mapping": str(mapping), "rows": rows})
    else:
        say(_("Written: {path} and {mapping}.").format(path=path, mapping=mapping))


@fleet.command()
@json_option
def facts(as_json: bool) -> None:
    """List the facts that a column may hold, with their words and units.

    \b
    Example:  subbase fleet facts
    """
    from subbase.fleet.fields import FIELDS

    if as_json:
        print_json([{"fact": f.name, "kind": f.kind, "meaning": f.meaning, "choices": list(f.choices), "units": [u for u, __ in f.units]} for f in FIELDS])  # fmt: skip
        return
    width = max(len(item.name) for item in FIELDS)
    for item in FIELDS:
        say(f"{item.name:<{width}}  {_(item.meaning)}")
        words = ", ".join(f"'{choice}'" for choice in item.choices) or ", ".join(unit for unit, __ in item.units)
        if words:
            say(f"{'':<{width}}  {words}")


class _Line:
    """The one line that tells how far a run is, at what rate, and how long it will still take."""

    def __init__(self, *, quiet: bool) -> None:
        self.quiet = quiet
        self.step = ""
        self.began_s, self.shown_s = time.monotonic(), 0.0

    def tell(self, progress: Progress) -> None:
        """Show how far the run is."""
        now_s = time.monotonic()
        if progress.step != self.step:
            # The first step has begun before it tells of itself.
            self.step, self.began_s, self.shown_s = progress.step, now_s if self.step else self.began_s, 0.0
        ended = progress.all is not None and progress.done >= progress.all
        if self.quiet or (now_s - self.shown_s < EVERY_S and not ended):
            return
        self.shown_s = now_s
        click.echo("\r" + printable(progress_words(progress, now_s - self.began_s)).ljust(100), err=True, nl=ended)

    def end(self) -> None:
        """Leave the line."""
        if not self.quiet:
            click.echo("", err=True)


def progress_words(progress: Progress, seconds: float) -> str:
    """Return one line: step, bar, how many, rate, time left."""
    names = {
        "read": _("reading"), "screen": _("screening"), "expand": _("unknowns"), "choose": _("choosing"),
        "decide": _("deciding"), "finish": _("finishing"),
    }  # fmt: skip
    whats = {"expand": _("structures"), "choose": _("houses"), "decide": _("structures")}
    what = whats.get(progress.step, _("homes"))
    rate = (progress.done - progress.kept) / seconds if seconds > 0 else 0.0
    words = f"{names[progress.step]:<10} {progress.done:,} {what}"
    if progress.all is None:
        return f"{words}, {rate:,.0f}/s"
    full = BAR if not progress.all else BAR * progress.done // progress.all
    left = (progress.all - progress.done) / rate if rate > 0 else 0.0
    bar = "#" * full + "." * (BAR - full)
    ended = progress.done >= progress.all
    end = "" if ended or rate <= 0 else _(", {left} left").format(left=_time(left))
    return f"{names[progress.step]:<10} [{bar}] {progress.done:,}/{progress.all:,} {what}, {rate:,.0f}/s{end}"


def _time(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def _say_look(found: Look, *, as_json: bool) -> None:
    if as_json:
        print_json({"format": 1, "rows": found.rows, "refused": found.refused, "structures": found.structures})
        return
    words = _(
        "{rows} rows, {refused} of them refused, {structures} different structures of wiring. Nothing is planned yet."
    )
    say(words.format(rows=f"{found.rows:,}", refused=f"{found.refused:,}", structures=f"{found.structures:,}"))


def _summary(done: Done, out: Path) -> str:
    counts = done.totals.verdicts
    lines = [
        _("{rows} homes: {planned} planned, {asked} to be asked, {stopped} stopped, {refused} rows refused.").format(
            rows=f"{done.rows:,}", planned=f"{counts.planned:,}", asked=f"{counts.asked:,}",
            stopped=f"{counts.stopped:,}", refused=f"{counts.refused:,}",
        ),
        plural("{count} structure of wiring.", "{count} different structures of wiring.", done.structures).format(
            count=f"{done.structures:,}"
        ),
    ]  # fmt: skip
    if done.totals.questions:
        first = done.totals.questions[0]
        lines.append(
            plural(
                "Ask first: {text} It decides something in {homes} home.",
                "Ask first: {text} It decides something in {homes} homes.",
                first.homes,
            ).format(text=first.text, homes=f"{first.homes:,}")
        )
    lines.append(_("Begin with {report}.").format(report=out / "report.html"))
    return "\n".join(lines)


__all__: list[Any] = ["fleet"]
