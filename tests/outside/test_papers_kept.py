"""Papers that can be kept and heard: PDF/A-2a and PDF/UA-1 by a validator that was not made here, and the structure itself."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Callable, Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import page
import pikepdf
import pytest
from pikepdf import Name

from subbase.papers.job_record import JobRecord, Photo, Read, Stepped
from subbase.papers.label_print import sheet_labels, sheets_pdf
from subbase.papers.label_sheets import SHEETS
from subbase.papers.labels import labels_of
from subbase.papers.owner_page import owner_pdf
from subbase.papers.packet import packet_pdf
from subbase.papers.site_page import site_pdf
from subbase.siting.verdict import judge_site
from subbase.survey.rooms_reading import load_site
from tests.houses import EXAMPLES, NAMES, plan_of

DATE = datetime.date(2026, 3, 5)
LENGTH_RULE = "STREAM-LENGTH-001"
PROFILES = (page.ValidationProfile.PDF_A_2A, page.ValidationProfile.PDF_UA_1)
RECORD = JobRecord(
    readings=(Read("furnace R to C", "22.0 to 29.0 V", "26.1 V", within=True, who="A. Fitter", when="5 March 2026"),),
    steps={"look/stops": Stepped("done", who="A. Fitter")},
    photos=(),
    people=("A. Fitter, installer",),
    open_points=("One label is missing.",),
)


def photo() -> Photo:
    """Return a small grey photo."""
    from PIL import Image

    held = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(held, "JPEG")
    return Photo(held.getvalue(), "image/jpeg", 64, 48, "Wall plate as found", ("hall",), "A. Fitter", "5 March 2026")


def with_record() -> bytes:
    """Return a packet written from a job, photos in it."""
    record = JobRecord(RECORD.readings, RECORD.steps, (photo(),), RECORD.people, (), RECORD.open_points)
    return packet_pdf(plan_of("01-no-common-spare-blue"), date=DATE, record=record)


def labels_on(sheet: str) -> bytes:
    """Return labels of an example on a sheet."""
    found = sheet_labels(labels_of(plan_of("01-no-common-spare-blue")), SHEETS[sheet], "flag")
    return sheets_pdf("house", found, SHEETS[sheet], date=DATE)


PAPERS: dict[str, Callable[[], bytes]] = {
    **{f"packet {name}": (lambda name=name: packet_pdf(plan_of(name), date=DATE)) for name in NAMES},  # type: ignore[misc]
    "packet with record": with_record,
    "owner's page": lambda: owner_pdf(plan_of("12-heat-pump-with-strips"), date=DATE),
    "owner's page of a stop": lambda: owner_pdf(plan_of("10-stop-line-voltage"), date=DATE),
    "labels on a sheet": lambda: labels_on("a4-5x13"),
    "labels on plain paper": lambda: labels_on("letter-plain"),
    "site sheet": lambda: site_pdf(judge_site(load_site(sorted((EXAMPLES / "rooms").glob("*.yaml"))[0])), date=DATE),
}
SOME = ("packet 01-no-common-spare-blue", "packet 10-stop-line-voltage", "packet with record", *list(PAPERS)[-5:])


@cache
def paper(name: str) -> bytes:
    """Return a paper's bytes, made once."""
    return PAPERS[name]()


@pytest.mark.outside(
    source="ISO 19005-2 (PDF/A-2a) and ISO 14289-1 (PDF/UA-1)",
    how="run: the validator 'page' (PyPI page-validation), 154 and 104 rules, on every kind of paper",
)
@pytest.mark.parametrize("name", PAPERS)
def test_a_validator_finds_nothing(name: str, tmp_path: Path) -> None:
    """Every paper passes every rule of both standards."""
    file = tmp_path / "paper.pdf"
    file.write_bytes(paper(name))
    for profile in PROFILES:
        report = page.validate_pdf(str(file), profile=profile)
        assert report.rules.total > 100
        found = [
            item for item in report.failures if not (item.rule_id.endswith(LENGTH_RULE) and lengths_are_right(name))
        ]
        assert [str(item) for item in found] == []


def lengths_are_right(name: str) -> bool:
    """Return whether every stream is exactly as long as it says.

    The validator looks for the line end before 'endstream' and takes one byte too many when the data end in a carriage
    return, which compressed data do now and then.
    """
    data = paper(name)
    streams = list(re.finditer(rb"/Length (\d+)[^>]*>>\s*stream\r?\n", data))
    assert streams
    return all(data[m.end() + int(m[1]) :].startswith((b"\nendstream", b"\r\nendstream")) for m in streams)


@pytest.mark.parametrize("change", ["StructTreeRoot", "Lang", "MarkInfo", "Metadata"])
def test_the_validator_would_find_what_is_missing(change: str, tmp_path: Path) -> None:
    """Without the structure tree, the language, the mark or the metadata the same validator refuses the paper."""
    file = tmp_path / "paper.pdf"
    with pikepdf.open(io.BytesIO(paper("packet 10-stop-line-voltage"))) as pdf:
        del pdf.Root[f"/{change}"]
        pdf.save(file)
    reports = [page.validate_pdf(str(file), profile=profile) for profile in PROFILES]
    assert not all(report.is_compliant for report in reports)


@pytest.mark.outside(
    source="ISO 14289-1 clauses 7.1, 7.2, 7.3, 7.21; ISO 19005-2 clause 6.6.4",
    how="the clauses from memory; read out of the file by pikepdf (qpdf)",
)
@pytest.mark.parametrize("name", SOME)
def test_structure_language_title_and_fonts_are_there(name: str) -> None:
    """Tagged, in a language, with a shown title, marked as PDF/A and PDF/UA, each picture with words, each font embedded."""
    with pikepdf.open(io.BytesIO(paper(name))) as pdf:
        root = pdf.Root
        assert pdf.check_pdf_syntax() == []
        assert bool(root.MarkInfo.Marked)
        assert root.OutputIntents[0].S == Name.GTS_PDFA1
        assert str(root.Lang) == "en"
        assert bool(root.ViewerPreferences.DisplayDocTitle)
        with pdf.open_metadata() as about:
            assert about["dc:title"]
            assert (about["pdfaid:part"], about["pdfaid:conformance"], about["pdfuaid:part"]) == ("2", "A", "1")
        figures = [item for item in elements(root.StructTreeRoot) if item.get("/S") == Name.Figure]
        assert all(str(item.get("/Alt", "")).strip() for item in figures)
        if name.startswith("packet") and "stop" not in name:
            assert figures
        fonts = [font for sheet in pdf.pages for font in fonts_in(sheet.get("/Resources", {}))]
        assert fonts
        assert all(embedded(font) for font in fonts)


def test_headings_are_in_order_and_stand_in_the_bookmarks() -> None:
    """No heading level is left out going down, and every section of a packet has a bookmark."""
    with pikepdf.open(io.BytesIO(paper("packet 01-no-common-spare-blue"))) as pdf:
        levels = [
            int(str(item.S)[2:])
            for item in elements(pdf.Root.StructTreeRoot)
            if str(item.get("/S", ""))[:2] == "/H" and str(item.S)[2:].isdigit()
        ]
        assert levels[0] == 1
        assert all(below <= above + 1 for above, below in pairwise(levels))
        with pdf.open_outline() as outline:
            first = outline.root[0]
            titles = [item.title for item in first.children]
    for section in (
        "Wiring as found",
        "Wiring as left",
        "Landings",
        "Proof",
        "What the meter must read",
        "Open points",
    ):
        assert any(title.startswith(section) for title in titles), titles


def test_reading_order_is_the_order_on_paper() -> None:
    """The cover is read from the name of the job over the verdict to what to do, and cautions before the contents."""
    from pypdf import PdfReader

    text = PdfReader(io.BytesIO(paper("packet 01-no-common-spare-blue"))).pages[0].extract_text()
    places = [
        text.index(words) for words in ("Lilac Court", "Spare conductor", "What to do", "Cautions", "What is where")
    ]
    assert places == sorted(places)


def elements(node: Any) -> Iterator[Any]:
    """Yield every structure element below a node, in order."""
    children = node.get("/K") if isinstance(node, pikepdf.Dictionary) else None
    for child in children if isinstance(children, pikepdf.Array) else [children]:
        if isinstance(child, pikepdf.Dictionary) and "/S" in child:
            yield child
            yield from elements(child)


def fonts_in(resources: Any) -> Iterator[Any]:
    """Yield the fonts of resources, also of the drawings in them."""
    yield from resources.get("/Font", {}).values()
    for form in resources.get("/XObject", {}).values():
        yield from fonts_in(form.get("/Resources", {}))


def embedded(font: Any) -> bool:
    """Return whether a font's program is in the file."""
    described = font.DescendantFonts[0] if "/DescendantFonts" in font else font
    return any(key in described.FontDescriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))
