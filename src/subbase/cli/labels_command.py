"""``subbase labels``: labels for both ends of every conductor, on sheets and on tape."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from subbase.cli.shell import (
    bad_input_refused,
    catalogue_option,
    file_argument,
    json_option,
    plan_or_leave,
    print_json,
    refuse_writing,
    say,
)
from subbase.files import write_whole
from subbase.words import _, plural

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from subbase.papers.label_layout import LaidOut, Style
    from subbase.papers.label_sheets import Sheet
    from subbase.papers.labels import Label


@click.command()
@file_argument
@click.option(
    "--sheet", "sheets", multiple=True, metavar="SHEET",
    help="A sheet by its name, or its nine dimensions in mm; may be given more than once. 'list' tells the names.",
)  # fmt: skip
@click.option(
    "--tape", "tapes", multiple=True, type=click.Choice(["6", "9", "12", "18", "24"]), metavar="MM",
    help="Width of a printer's tape: 6, 9, 12, 18 or 24 mm; may be given more than once.",
)  # fmt: skip
@click.option("--style", type=click.Choice(["flag", "wrap", "both"]), default="both", show_default=True, help="Folded around the conductor, or rolled.")  # fmt: skip
@click.option(
    "--skip", type=click.IntRange(0, 9999), default=0, help="Labels of the first sheet that are used already."
)
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", default=Path("labels"), show_default=True, help="Write them there.")  # fmt: skip
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="Date of the files; today when left out.")
@json_option
@catalogue_option
def labels(
    file: Path, folders: tuple[Path, ...], out: Path, date: datetime.datetime | None, *, as_json: bool, **wanted: Any
) -> None:
    """Write labels for both ends of every conductor, as the plan leaves them.

    Without --sheet and --tape they come on plain paper, to cut out. Also written
    is labels.csv, for a printer's own program.

    \b
    Exit codes: 0 written, 2 the input cannot be read, 3 the plan stops, 4 the
    plan has an open question.

    \b
    Example:  subbase labels examples/01-no-common-spare-blue.yaml --sheet a4-5x13
              subbase labels examples/01-no-common-spare-blue.yaml --tape 12 --style wrap
              subbase labels examples/01-no-common-spare-blue.yaml --sheet a4,5,13,38.1,21.2,40.6,21.2,4.75,10.7
    """
    sheets, tapes = wanted["sheets"], [int(tape) for tape in wanted["tapes"]]
    from subbase.papers.label_sheets import SHEETS, sheet_from

    if "list" in sheets:
        _list_sheets(as_json=as_json)
        return
    with bad_input_refused(as_json=as_json):
        chosen = {text if text in SHEETS else f"sheet-{n}": sheet_from(text) for n, text in enumerate(sheets, start=1)}
    plan = plan_or_leave(file, folders, as_json=as_json)
    from subbase.papers.label_layout import STYLES
    from subbase.papers.labels import labels_of

    found = labels_of(plan)
    if not chosen and not tapes:
        name = "letter-plain" if plan.survey.units == "us" else "a4-plain"
        chosen = {name: SHEETS[name]}
    day = date.date() if date is not None else datetime.datetime.now(tz=datetime.UTC).date()
    styles = tuple(item for item in STYLES if wanted["style"] in (item, "both"))
    written: list[str] = []
    shortened = 0
    try:
        for name, data, some in _files(plan.survey.name, found, chosen, tapes, styles, (wanted["skip"], day)):
            (out / name).parent.mkdir(parents=True, exist_ok=True)
            write_whole(out / name, data)
            written.append(name)
            shortened += sum(bool(item.left_out) or item.cut for item in some)
    except OSError as error:
        refuse_writing(out, error, as_json=as_json, what=_("The labels"))
    if as_json:
        from subbase.papers.data_shape import LabelsShape

        print_json(LabelsShape.filled(plan, labels=len(found), files=written, shortened=shortened).plain())
        return
    say(plural("{count} label, in {out}.", "{count} labels, in {out}.", len(found)).format(count=len(found), out=out))
    if shortened:
        say(
            plural(
                "{count} label had no room for every line at 6 pt; the terminal comes first, the rest as far as it goes.",
                "{count} labels had no room for every line at 6 pt; the terminal comes first, the rest as far as it goes.",
                shortened,
            ).format(count=shortened)
        )


def _files(
    name: str, found: Sequence[Label], sheets: dict[str, Sheet], tapes: Sequence[int], styles: Sequence[Style],
    options: tuple[int, datetime.date],
) -> Iterator[tuple[str, bytes, Sequence[LaidOut]]]:  # fmt: skip
    """Yield (file name, bytes, labels on it)."""
    from subbase.papers.label_layout import on_tape
    from subbase.papers.label_print import label_rows, sheet_labels, sheets_pdf, tape_files
    from subbase.papers.write import csv_bytes

    skip, day = options
    yield "labels.csv", csv_bytes(label_rows(found)), ()
    for style in styles:
        for sheet_name, sheet in sheets.items():
            laid = sheet_labels(found, sheet, style)
            yield f"{sheet_name}-{style}.pdf", sheets_pdf(name, laid, sheet, skip=skip, date=day), laid
        for tape in tapes:
            laid = tuple(on_tape(label, style, tape) for label in found)
            for number, (file, data) in enumerate(tape_files(found, laid)):
                yield f"tape-{tape}-{style}/{file}", data, laid if number == 0 else ()


def _list_sheets(*, as_json: bool) -> None:
    from dataclasses import asdict

    from subbase.papers.label_sheets import SHEETS

    if as_json:
        print_json({"format": 1, "sheets": {name: asdict(sheet) for name, sheet in SHEETS.items()}})
        return
    for name, sheet in SHEETS.items():
        say(f"{name:<14} {sheet.words()}")
