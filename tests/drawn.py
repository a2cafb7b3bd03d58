"""Drawings as a ruler sees them: boxes of texts by the bundled font's own metrics, and every line as a flat rectangle."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from fontpkg_atkinson_hyperlegible import ROOT
from fontTools.pens.boundsPen import BoundsPen  # type: ignore[import-untyped]
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

from subbase.catalog import Catalog
from subbase.papers.drawing import PAPER, Circle, Drawing, Line, Rect, Text
from subbase.papers.ladder import about_ladder, ladder_sheets, live_ladder
from subbase.papers.ladder_narrow import narrow_ladder
from subbase.papers.map_model import Changed, markings
from subbase.papers.rungs import ladder_of
from subbase.papers.strip_map import strip_map
from subbase.papers.wiring_map import wiring_map
from subbase.survey import Survey

Boxes = np.ndarray[Any, np.dtype[np.float64]]
"""(n, 4) left, top, right, bottom [pt]."""
Orders = np.ndarray[Any, np.dtype[np.int64]]
"""Positions in the order of drawing."""
Flags = np.ndarray[Any, np.dtype[np.bool_]]
TOUCH_PT = 0.05
"""What two boxes may share by rounding."""


@cache
def _face(bold: bool, italic: bool) -> tuple[Any, Any, Any, float]:
    # The web page has no italic face: a browser slants the regular one, which keeps its advances.
    name = f"AtkinsonHyperlegible-{'Bold' if bold else 'Italic' if italic else 'Regular'}.ttf"
    font = TTFont(ROOT / "files" / name)
    return font.getGlyphSet(), font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm


@cache
def _glyph(character: str, bold: bool, italic: bool) -> tuple[float, float, float]:
    """Return (advance, lowest, highest) of a character [em]; of one that the font lacks, a full em square."""
    glyphs, names, advances, em = _face(bold, italic)
    name = names.get(ord(character))
    if name is None:
        return 1.0, -0.2, 0.8
    pen = BoundsPen(glyphs)
    glyphs[name].draw(pen)
    low, high = (pen.bounds[1], pen.bounds[3]) if pen.bounds else (0, 0)
    return advances[name][0] / em, low / em, high / em


def box_of(text: Text) -> tuple[float, float, float, float]:
    """Return the box that a text's ink and advances take on paper, by the bundled font."""
    glyphs = [_glyph(c, text.bold, text.italic) for c in text.text]
    width = sum(advance for advance, _, _ in glyphs) * text.size
    low, high = min(g[1] for g in glyphs) * text.size, max(g[2] for g in glyphs) * text.size
    left = text.x - {"start": 0.0, "middle": width / 2, "end": width}[text.anchor]
    return left, text.y - high, left + width, text.y - low


def text_boxes(drawing: Drawing) -> tuple[list[str], Boxes]:
    """Return every text with its box."""
    texts = drawing.texts()
    return [t.text for t in texts], np.array([box_of(t) for t in texts]).reshape(-1, 4)


def line_boxes(drawing: Drawing) -> tuple[Boxes, Orders]:
    """Return every piece of visible straight line as wide as it is drawn, and when; slanting ones are cut into short ones."""
    found: list[tuple[float, float, float, float]] = []
    orders: list[int] = []
    for order, shape in enumerate(drawing.shapes):
        if isinstance(shape, Line) and shape.stroke != PAPER:
            points = shape.points
        elif isinstance(shape, Rect) and shape.stroke != "none":
            a = shape.area
            points = ((a.left, a.top), (a.right, a.top), (a.right, a.bottom), (a.left, a.bottom), (a.left, a.top))
        else:
            continue
        for (x1, y1), (x2, y2) in pairwise(points):
            found += _piece(x1, y1, x2, y2, shape.width / 2)
        orders += [order] * (len(found) - len(orders))
    return np.array(found).reshape(-1, 4), np.array(orders, dtype=np.int64)


def _piece(x1: float, y1: float, x2: float, y2: float, half: float) -> list[tuple[float, float, float, float]]:
    left, right, top, bottom = min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2)
    if y1 == y2:
        return [(left, y1 - half, right, y1 + half)]
    if x1 == x2:
        return [(x1 - half, top, x1 + half, bottom)]
    steps = [(x1 + (x2 - x1) * n / 6, y1 + (y2 - y1) * n / 6) for n in range(7)]
    return [(min(a, c), min(b, d), max(a, c), max(b, d)) for (a, b), (c, d) in pairwise(steps)]


def on_rims(drawing: Drawing, boxes: Boxes, hidden: Orders) -> Flags:
    """Return which texts lie on the rim of a circle: neither wholly inside it nor wholly outside."""
    circles = [(order, shape) for order, shape in enumerate(drawing.shapes) if isinstance(shape, Circle)]
    if not circles:
        return np.zeros(len(boxes), dtype=np.bool_)
    orders = np.array([order for order, _ in circles])
    x, y, r, half = (np.array([getattr(c, name) for _, c in circles]) for name in ("x", "y", "radius", "width"))
    left, top, right, bottom = (boxes[:, None, n] for n in range(4))
    near = np.hypot(np.clip(x, left, right) - x, np.clip(y, top, bottom) - y)
    far = np.hypot(np.maximum(abs(left - x), abs(right - x)), np.maximum(abs(top - y), abs(bottom - y)))
    on_rim = (near < r + half / 2 - TOUCH_PT) & (far > r - half / 2 + TOUCH_PT)
    on: Flags = (on_rim & (orders[None, :] >= hidden[:, None])).any(axis=1)
    return on


def hidden_before(drawing: Drawing) -> Orders:
    """Return of every text the time before which what was drawn lies hidden under the disc or box that it stands in."""
    grounds: list[tuple[int, tuple[float, float, float, float]]] = []
    found = []
    for order, shape in enumerate(drawing.shapes):
        if isinstance(shape, Circle):
            r = shape.radius
            grounds.append((order, (shape.x - r, shape.y - r, shape.x + r, shape.y + r)))
        elif isinstance(shape, Text) and shape.text:
            left, top, right, bottom = box_of(shape)
            under = (n for n, g in grounds if g[0] <= left and g[1] <= top and right <= g[2] and bottom <= g[3])
            found.append(max(under, default=-1))
    return np.array(found, dtype=np.int64)


def clashes(drawing: Drawing) -> list[str]:
    """Return everything that is wrong with where the texts of a drawing stand."""
    words, boxes = text_boxes(drawing)
    if not words:
        return ["no text at all"]
    found = []
    inside = (boxes[:, 0] >= 0) & (boxes[:, 1] >= 0) & (boxes[:, 2] <= drawing.width) & (boxes[:, 3] <= drawing.height)
    found += [f"{words[i]!r} leaves the sheet" for i in np.flatnonzero(~inside)]
    over = _overlaps(boxes, boxes) & np.triu(np.ones((len(words), len(words)), dtype=bool), k=1)
    found += [f"{words[i]!r} and {words[j]!r} overlap" for i, j in np.argwhere(over)]
    lines, orders = line_boxes(drawing)
    hidden = hidden_before(drawing)
    seen = orders[None, :] >= hidden[:, None]
    crossed = (_overlaps(boxes, lines) & seen).any(axis=1) | on_rims(drawing, boxes, hidden)
    found += [f"{words[i]!r} lies on a line" for i in np.flatnonzero(crossed)]
    return [f"{drawing.title}: {text}" for text in found]


def _overlaps(a: Boxes, b: Boxes) -> Flags:
    shared: Flags = np.ones((len(a), len(b)), dtype=np.bool_)
    for low, high in ((0, 2), (1, 3)):
        shared &= (
            np.minimum(a[:, None, high], b[None, :, high]) - np.maximum(a[:, None, low], b[None, :, low]) > TOUCH_PT
        )
    return shared


def drawings_of_house(found: Survey, left: Survey | None, catalog: Catalog, changed: Changed) -> list[Drawing]:
    """Return every form in which a house's wiring is drawn: maps, strips, and of a house without unknowns its ladders."""
    if left is None:
        return [
            wiring_map(found, catalog, title="as found", changed=changed),
            strip_map(found, None, title="strips"),
        ]
    before, after = markings(found, left, changed)
    ladder = ladder_of(left, catalog)
    about = about_ladder(left, ladder)
    return [
        wiring_map(found, catalog, title="as found", changed=before),
        wiring_map(left, catalog, title="as left", changed=after),
        strip_map(found, left, title="strips", changed=changed),
        strip_map(found, left, title="strips beside", changed=changed, beside=True),
        ladder_sheets(left, catalog, title="ladder")[0],
        live_ladder(ladder, title="live ladder", about=about),
        narrow_ladder(ladder, title="narrow ladder", about=about),
        narrow_ladder(ladder, title="narrow live ladder", about=about, live=True),
    ]


def drawings_for_a_page(house: Survey, catalog: Catalog, changed: Changed) -> list[Drawing]:
    """Return one drawing of each form of a house without unknowns: map, strips, ladder and the phone's, both live."""
    ladder = ladder_of(house, catalog)
    return [
        wiring_map(house, catalog, title="map", changed=changed),
        strip_map(house, house, title="strips", changed=changed),
        live_ladder(ladder, title="live ladder", about=""),
        narrow_ladder(ladder, title="narrow live ladder", about="", live=True),
    ]
