"""Labels as they are printed: rendered by programs that were not made here, no ink touches an edge, all words are there."""

from __future__ import annotations

import datetime
import io
import subprocess
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from PIL import Image, ImageChops
from pypdf import PdfReader

from subbase.papers.label_layout import STYLES, TAPE_MARGIN_MM, Style, laid_out, on_tape
from subbase.papers.label_print import DOTS_PER_INCH, sheet_labels, sheets_pdf, tape_files
from subbase.papers.label_sheets import SHEETS
from subbase.papers.labels import labels_of
from tests.houses import plan_of

DATE = datetime.date(2026, 3, 5)
HOUSE = "15-zone-panel-three-controls"
DPI = 200.0


def ink(picture: Image.Image) -> tuple[int, int, int, int] | None:
    """Return the box of everything that is not white."""
    grey = picture.convert("L")
    return ImageChops.difference(grey, Image.new("L", grey.size, 255)).point(lambda v: 255 if v > 40 else 0).getbbox()


@pytest.mark.outside(
    source="poppler", how="run: each page rendered; the ink of each label held against the label's edges"
)
@pytest.mark.parametrize("sheet_name", ["a4-5x13", "letter-4x20", "letter-3x10"])
@pytest.mark.parametrize("style", STYLES)
def test_no_ink_leaves_a_label(sheet_name: str, style: Style, tmp_path: Path) -> None:
    """As poppler draws a sheet, the ink of every label lies inside its own edges and clear of them."""
    sheet = SHEETS[sheet_name]
    found = [
        item.__class__(item.wide, item.tall, item.lines, (), item.left_out, item.cut, item.says)
        for item in sheet_labels(labels_of(plan_of(HOUSE)), sheet, style)
    ]
    file = tmp_path / "sheet.pdf"
    file.write_bytes(sheets_pdf("house", found, sheet, date=DATE))
    subprocess.run(["pdftoppm", "-r", str(DPI), "-f", "1", "-l", "1", "-png", file, tmp_path / "sheet"], check=True)
    with Image.open(next(tmp_path.glob("sheet*.png"))) as picture:
        whole = picture.convert("L")
    dot = DPI / 25.4
    seen = 0
    for (left, top), _item in zip(sheet.places(), found, strict=False):
        # A little of the neighbours' ground: ink that leaves its label would be at this label's edge.
        cell = whole.crop(
            (int(left * dot), int(top * dot), int((left + sheet.wide) * dot) + 1, int((top + sheet.tall) * dot) + 1)
        )
        box = ink(cell)
        assert box is not None, "every label bears ink"
        assert box[0] >= 0.5 * dot
        assert box[1] >= 0.2 * dot
        assert box[2] <= cell.width - 0.5 * dot
        assert box[3] <= cell.height - 0.2 * dot
        seen += 1
    assert seen == min(len(found), sheet.columns * sheet.rows)


@pytest.mark.parametrize("tape", TAPE_MARGIN_MM)
@pytest.mark.parametrize("style", STYLES)
def test_tape_pictures_have_the_size_of_the_tape_and_clear_edges(tape: int, style: Style) -> None:
    """A PNG is as tall as its tape and bears no ink where tape printers do not print."""
    labels = labels_of(plan_of("01-no-common-spare-blue"))[:4]
    found = [on_tape(label, style, tape) for label in labels]
    files = dict(tape_files(labels, found))
    pictures = [data for name, data in files.items() if name.endswith(".png")]
    assert len(pictures) == len(labels)
    for data in pictures:
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.height == pytest.approx(tape / 25.4 * DOTS_PER_INCH, abs=1.0)
            box = (
                ImageChops.difference(picture.convert("L"), Image.new("L", picture.size, 255))
                .point(lambda v: 255 if v > 200 else 0)
                .getbbox()
            )
        assert box is not None
        assert box[1] >= 0.4 / 25.4 * DOTS_PER_INCH
        assert box[3] <= (tape - 0.4) / 25.4 * DOTS_PER_INCH


def test_tape_svgs_need_no_font() -> None:
    """Letters in an SVG are outlines: nothing in it names a font that a printer's program might lack."""
    labels = labels_of(plan_of("01-no-common-spare-blue"))[:2]
    files = dict(tape_files(labels, [on_tape(label, "flag", 12) for label in labels]))
    for name, data in files.items():
        if name.endswith(".svg"):
            root = Xml.fromstring(data)
            assert float(root.get("height", "0").removesuffix("pt")) == pytest.approx(12 / 25.4 * 72, abs=0.01)
            assert not [item for item in root.iter() if item.tag.endswith("}text")]
            assert b"font-family" not in data


@pytest.mark.parametrize("style", STYLES)
def test_every_word_that_was_laid_out_is_in_the_file(style: Style) -> None:
    """The text of the sheets is that of the labels, in their order."""
    labels = labels_of(plan_of("01-no-common-spare-blue"))
    sheet = SHEETS["a4-4x12"]
    found = sheet_labels(labels, sheet, style)
    reader = PdfReader(io.BytesIO(sheets_pdf("house", found, sheet, date=DATE)))
    text = "".join("".join(part.extract_text() for part in reader.pages).split())
    for item in found:
        for line in item.lines:
            assert "".join(line.text.split()) in text


def test_used_places_are_skipped_and_later_sheets_begin_at_the_top() -> None:
    """With places of the first sheet used up, labels begin behind them; the next sheet is whole."""
    labels = labels_of(plan_of(HOUSE))
    sheet = SHEETS["a4-3x8"]
    found = [laid_out(label, "flag", sheet.wide, sheet.tall) for label in labels]
    plain = PdfReader(io.BytesIO(sheets_pdf("house", found, sheet, date=DATE)))
    skipped = PdfReader(io.BytesIO(sheets_pdf("house", found, sheet, skip=20, date=DATE)))
    assert len(plain.pages) == -(-len(found) // 24)
    assert len(skipped.pages) == -(-(len(found) + 20) // 24)
    assert skipped.pages[0].extract_text().count("R") < plain.pages[0].extract_text().count("R")
