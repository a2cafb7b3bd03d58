"""What a page of the packet is made of: the few kinds of block that the template knows, as plain data."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from subbase.papers.drawing import Drawing, svg
from subbase.papers.labels import Label
from subbase.papers.measure import clean
from subbase.papers.tables import Table

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


def heading(text: str) -> Block:
    """Return the heading of a section."""
    return {"kind": "heading", "text": soft(text), "level": 2, "look": "section"}


def subheading(text: str, level: int = 3) -> Block:
    """Return a heading inside a section, or of level 2 where there is no section above it."""
    return {"kind": "heading", "text": soft(text), "level": level, "look": "small"}


def text(words: str, *, small: bool = False, sticky: bool = False) -> Block:
    """Return a paragraph; a sticky one stays with what follows it."""
    return {"kind": "text", "text": soft(words), "small": small, "sticky": sticky}


def bullets(items: Iterable[str], *, numbered: bool = False) -> Block:
    """Return a list."""
    return {"kind": "list", "items": [soft(item) for item in items], "numbered": numbered}


def facts(rows: Iterable[Sequence[str]]) -> Block:
    """Return pairs of a name and what it is."""
    return {"kind": "facts", "rows": [[soft(name), soft(value)] for name, value in rows]}


def table(found: Table, *, titled: int = 3, look: str = "plain") -> list[Block]:
    """Return a table under its title (a heading of level ``titled``, none when 0), with its note.

    Look is 'plain', 'marked' (rows with something in the first cell are bold, and that is drawn as a mark), 'led' (the
    first cell is bold), 'readings' (the first line of each cell is bold), 'sheet' (room to write in the last cell)
    or 'steps' (the same, the first line of the second cell bold).
    """
    blocks: list[Block] = [subheading(found.title, titled)] if titled else []
    blocks.append(
        {
            "kind": "table",
            "head": [soft(cell) for cell in found.head],
            "rows": [[soft(cell) for cell in row] for row in found.rows],
            "weights": list(found.weights),
            "look": look,
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
    return {"kind": "labels", "items": [{name: soft(value) for name, value in asdict(item).items()} for item in items]}


def verdict(kind: str, line: str, words: Iterable[str]) -> Block:
    """Return the verdict, to be read in one glance."""
    return {"kind": "verdict", "verdict": kind, "line": soft(line), "words": [soft(item) for item in words]}


def title(words: str, under: str) -> Block:
    """Return the name of the job."""
    return {"kind": "title", "text": soft(words), "under": soft(under)}


def page(blocks: Sequence[Block], *, flipped: bool = False) -> dict[str, Any]:
    """Return a page, or as many as its blocks fill; ``flipped`` turns it on its side."""
    return {"flipped": flipped, "blocks": list(blocks)}


def scale_on_page(drawing: Drawing, *, flipped: bool) -> float:
    """Return by how much a drawing is scaled on a page."""
    width, height = (LANDSCAPE_WIDTH, LANDSCAPE_HEIGHT) if flipped else (PORTRAIT_WIDTH, PORTRAIT_HEIGHT)
    return min(1.0, width / drawing.width, height / drawing.height)
