"""What a page of the packet is made of: the few kinds of block that the template knows, as plain data."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from subbase.papers.drawing import Drawing, svg
from subbase.papers.job_record import Photo
from subbase.papers.labels import Label
from subbase.papers.landing_code import code_svgs
from subbase.papers.measure import clean
from subbase.papers.tables import Table
from subbase.words import _

Block = dict[str, Any]
LONG_WORD, PIECE = 18, 9
PORTRAIT_HEIGHT, LANDSCAPE_HEIGHT = 640.0, 450.0
"""Most height of a drawing on an upright page and on one turned on its side [pt], its heading beside it."""
PORTRAIT_WIDTH, LANDSCAPE_WIDTH = 520.0, 715.0
"""Width between the margins, the narrower of the two paper sizes each way [pt]."""
_LONG = re.compile(rf"\S{{{LONG_WORD},}}")


def soft(text: str) -> str:
    """Return a text that can break anywhere inside a very long word, so that it never leaves its column."""
    kept = "\n".join(clean(line) for line in text.split("\n"))
    return _LONG.sub(lambda found: "\N{ZERO WIDTH SPACE}".join(_pieces(found[0])), kept)


def _pieces(word: str) -> list[str]:
    return [word[n : n + PIECE] for n in range(0, len(word), PIECE)]


def heading(text: str, *, listed: str | None = None) -> Block:
    """Return the heading of a section, as it is ``listed`` in the contents; empty when it goes on with the one before."""
    shown = text if listed is None else listed
    return {"kind": "heading", "text": soft(text), "level": 2, "look": "section", "listed": soft(shown)}


def subheading(text: str, level: int = 3) -> Block:
    """Return a heading inside a section, or of level 2 where there is no section above it."""
    return {"kind": "heading", "text": soft(text), "level": level, "look": "small"}


def text(words: str, *, small: bool = False, sticky: bool = False) -> Block:
    """Return a paragraph; a sticky one stays with what follows it."""
    return {"kind": "text", "text": soft(words), "small": small, "sticky": sticky}


def bullets(items: Iterable[str], *, numbered: bool = False, small: bool = False) -> Block:
    """Return a list."""
    return {"kind": "list", "items": [soft(item) for item in items], "numbered": numbered, "small": small}


def facts(rows: Iterable[Sequence[str]]) -> Block:
    """Return pairs of a name and what it is."""
    return {"kind": "facts", "rows": [[soft(name), soft(value)] for name, value in rows]}


def table(found: Table, *, titled: int = 3, look: str = "plain") -> list[Block]:
    """Return a table under its title (a heading of level ``titled``, none when 0), with its note.

    Look is 'plain', 'marked' (rows with something in the first cell are bold, and that is drawn as a mark), 'led' (the
    first cell is bold), 'readings' (the first line of each cell is bold), 'sheet' (room to write in the last cell),
    'steps' (the same, the first line of the second cell bold) or 'record' (that without the box). A row of one cell heads
    those behind it.
    """
    blocks: list[Block] = [subheading(found.title, titled)] if titled else []
    blocks.append(
        {
            "kind": "table",
            "head": [soft(cell) for cell in found.head],
            "rows": [[soft(cell) for cell in row] for row in found.rows],
            "weights": list(found.weights),
            "look": look,
            "noted": bool(found.note),
        }
    )
    return [*blocks, text(found.note, small=True)] if found.note else blocks


def figure(drawing: Drawing, *, flipped: bool) -> Block:
    """Return a drawing, scaled down to the page where it must be."""
    return {
        "kind": "figure",
        "svg": svg(drawing),
        "width": drawing.width,
        "height": drawing.height,
        "room": LANDSCAPE_HEIGHT if flipped else PORTRAIT_HEIGHT,
        "alt": clean(drawing.about),
    }


def labels(items: Iterable[Label]) -> Block:
    """Return labels to cut out."""
    cells = [{name: soft(value) for name, value in asdict(item).items()} for item in items]
    for cell in cells:
        cell["to"] = _("far end {other_end}").format(other_end=cell["other_end"])
    return {"kind": "labels", "items": cells}


def contents() -> Block:
    """Return where each section of the packet begins."""
    return {"kind": "contents", "text": _("What is where")}


def codes(texts: Sequence[str], words: str, alt: str) -> Block:
    """Return texts as codes to scan, with what they are beside them."""
    symbols = [{"svg": drawn, "modules": modules} for drawn, modules in code_svgs(texts)]
    return {"kind": "codes", "items": symbols, "text": soft(words), "alt": clean(alt)}


def photos(items: Iterable[tuple[Photo, str]]) -> Block:
    """Return photos, each with the words under it."""
    cells = []
    for item, words in items:
        alt = item.caption or ", ".join(item.shows) or _("photo of the job without a caption")
        cells.append(
            {"svg": _photo_svg(item), "text": soft(words), "alt": clean(alt), "wide": item.width >= item.height}
        )
    return {"kind": "photos", "items": cells}


def _photo_svg(item: Photo) -> str:
    """Return a photo inside an SVG: the template takes no files."""
    data = b64encode(item.data).decode()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{item.width}" height="{item.height}">'
        f'<image width="{item.width}" height="{item.height}" href="data:{item.mime};base64,{data}"/></svg>'
    )


def fields(names: Iterable[str]) -> Block:
    """Return lines to fill in by pen."""
    return {"kind": "fields", "items": [soft(name) for name in names]}


def verdict(kind: str, line: str, words: Iterable[str]) -> Block:
    """Return the verdict, to be read in one glance."""
    return {"kind": "verdict", "verdict": kind, "line": soft(line), "words": [soft(item) for item in words]}


def title(words: str, under: str) -> Block:
    """Return the name of the job."""
    return {"kind": "title", "text": soft(words), "under": soft(under)}


def page(blocks: Sequence[Block], *, flipped: bool = False, fresh: bool = False, large: bool = False) -> dict[str, Any]:
    """Return a page, or as many as its blocks fill; ``flipped`` turns it on its side.

    It goes on below the page before it where that stands the same way up; a ``fresh`` one begins on paper of its own.
    A ``large`` one, always fresh, is set larger, for reading at a table.
    """
    return {"flipped": flipped, "fresh": fresh or large, "large": large, "blocks": list(blocks)}


def flowing(pages: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return pages with those that may go on below each other brought together."""
    found: list[dict[str, Any]] = []
    for item in pages:
        if found and not item["fresh"] and found[-1]["flipped"] == item["flipped"]:
            found[-1]["blocks"] += item["blocks"]
        elif item["blocks"]:
            found.append(item)
    return found


def scale_on_page(drawing: Drawing, *, flipped: bool) -> float:
    """Return by how much a drawing is scaled on a page."""
    width, height = (LANDSCAPE_WIDTH, LANDSCAPE_HEIGHT) if flipped else (PORTRAIT_WIDTH, PORTRAIT_HEIGHT)
    return min(1.0, width / drawing.width, height / drawing.height)
