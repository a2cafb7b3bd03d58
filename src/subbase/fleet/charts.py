"""Bars as inline SVG for the report, the number at the end of each; no script, no font of its own.

Each chart is drawn twice: words left of the bars for paper and a wide window, words above them for a phone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as Xml

from subbase.papers.measure import shortened

BAR, TEXT = 14, 12
INK, QUIET = "#1b1b1b", "#555555"
SHADES = {"planned": "#2f6f4f", "asked": "#c98a1b", "stopped": "#a3342c", "refused": "#6b6b6b", "plain": "#37566f"}


@dataclass(frozen=True, slots=True)
class Layout:
    """Where words and bars stand, in the units of the drawing."""

    width: int
    left: int
    """Where the bars begin."""
    end: int
    """Room for the number behind the longest bar."""
    above: int
    """Height of the line of words above each bar; 0 where words stand left of it."""

    @property
    def row(self) -> int:
        """Height of one row."""
        return BAR + 8 + self.above

    @property
    def words(self) -> int:
        """Room for the words of a row."""
        return self.width if self.above else self.left - 10

    @property
    def scale(self) -> int:
        """Length of the longest bar."""
        return self.width - self.left - self.end

    def word_line(self, index: int) -> float:
        """Return the baseline of a row's words."""
        return index * self.row + (TEXT if self.above else BAR + 1)

    def bar_top(self, index: int) -> float:
        """Return the top of a row's bar."""
        return index * self.row + 4 + self.above


BESIDE = Layout(720, 270, 110, 0)
OVER = Layout(720, 0, 110, 16)
"""For words that are sentences."""
NARROW = Layout(350, 0, 100, 16)


@dataclass(frozen=True, slots=True)
class Bar:
    """One row: words, size, the number as it is shown, and a shade of ``SHADES``."""

    words: str
    size: float
    shown: str
    shade: str = "plain"


def bars(rows: Sequence[Bar], layout: Layout, *, title: str) -> str:
    """Return a chart of bars; sizes share one scale that begins at 0."""
    most = max((row.size for row in rows), default=0.0) or 1.0
    svg = _root(layout, len(rows), title)
    for index, row in enumerate(rows):
        _text(svg, 0, layout.word_line(index), shortened(row.words, layout.words, TEXT), INK)
        long, top = round(max(1.0, layout.scale * row.size / most), 1), layout.bar_top(index)
        at = {"x": str(layout.left), "y": f"{top:g}", "width": f"{long:g}", "height": str(BAR)}
        Xml.SubElement(svg, "rect", {**at, "fill": SHADES[row.shade]})
        _text(svg, layout.left + long + 6, top + BAR - 3, row.shown, QUIET)
    return Xml.tostring(svg, encoding="unicode")


def ranges(rows: Sequence[tuple[str, float, float, float]], layout: Layout, *, title: str) -> str:
    """Return a chart of (words, least, mean, most): a thin line from least to most, a mark at the mean."""
    scale = layout.scale / (max((most for _, _, _, most in rows), default=0.0) or 1.0)
    svg = _root(layout, len(rows), title)
    for index, (words, least, mean, most) in enumerate(rows):
        middle = layout.bar_top(index) + BAR / 2
        _text(svg, 0, layout.word_line(index), shortened(words, layout.words, TEXT), INK)
        x1, x, x2 = (round(layout.left + value * scale, 1) for value in (least, mean, most))
        line = {"x1": f"{x1:g}", "x2": f"{x2:g}", "y1": f"{middle:g}", "y2": f"{middle:g}"}
        Xml.SubElement(svg, "line", {**line, "stroke": SHADES["plain"], "stroke-width": "3"})
        dot = {"cx": f"{x:g}", "cy": f"{middle:g}", "r": "5", "fill": SHADES["plain"]}
        Xml.SubElement(svg, "circle", dot)
        _text(svg, x2 + 8, middle + 4, f"{least:,.0f} - {mean:,.0f} - {most:,.0f}", QUIET)
    return Xml.tostring(svg, encoding="unicode")


def _root(layout: Layout, rows: int, title: str) -> Xml.Element:
    box = f"0 0 {layout.width} {layout.row * max(1, rows) + 4}"
    what = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": box, "role": "img", "aria-label": title}
    svg = Xml.Element("svg", what)
    Xml.SubElement(svg, "title").text = title
    return svg


def _text(svg: Xml.Element, x: float, y: float, words: str, colour: str) -> None:
    at = {
        "x": f"{x:g}", "y": f"{y:g}", "font-size": str(TEXT), "fill": colour,
        "font-family": "Atkinson Hyperlegible, sans-serif",
    }  # fmt: skip
    Xml.SubElement(svg, "text", at).text = words
