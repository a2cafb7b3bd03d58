"""Bars as inline SVG for the report: words left, bars right, the number at the end of each; no script, no font of its own."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree as Xml

from subbase.papers.measure import shortened

WIDTH, LABEL, ROW, BAR, TEXT = 720, 270, 22, 14, 12
END = 90
"""Room for the number behind the longest bar."""
INK, QUIET = "#1b1b1b", "#555555"
SHADES = {"planned": "#2f6f4f", "asked": "#c98a1b", "stopped": "#a3342c", "refused": "#6b6b6b", "plain": "#37566f"}


def bars(rows: Sequence[tuple[str, float, str]], *, title: str, shade: str = "plain") -> str:
    """Return a chart of (words, size, number as shown); sizes share one scale that begins at 0."""
    most = max((size for _, size, _ in rows), default=0.0) or 1.0
    height = ROW * max(1, len(rows)) + 4
    svg = _root(height, title)
    for index, (words, size, shown) in enumerate(rows):
        top = index * ROW + 4
        _text(svg, 0, top + BAR - 3, shortened(words, LABEL - 10, TEXT), INK)
        long = round(max(1.0, (WIDTH - LABEL - END) * size / most), 1)
        colour = SHADES.get(words, SHADES[shade])
        Xml.SubElement(
            svg, "rect", {"x": str(LABEL), "y": str(top), "width": str(long), "height": str(BAR), "fill": colour}
        )
        _text(svg, LABEL + long + 6, top + BAR - 3, shown, QUIET)
    return Xml.tostring(svg, encoding="unicode")


def ranges(rows: Sequence[tuple[str, float, float, float]], *, title: str) -> str:
    """Return a chart of (words, least, mean, most): a thin line from least to most, a mark at the mean."""
    top_value = max((most for _, _, _, most in rows), default=0.0) or 1.0
    svg = _root(ROW * max(1, len(rows)) + 4, title)
    scale = (WIDTH - LABEL - END) / top_value
    for index, (words, least, mean, most) in enumerate(rows):
        middle = index * ROW + 4 + BAR / 2
        _text(svg, 0, middle + 4, shortened(words, LABEL - 10, TEXT), INK)
        ends = {"x1": str(round(LABEL + least * scale, 1)), "x2": str(round(LABEL + most * scale, 1))}
        Xml.SubElement(
            svg, "line", {**ends, "y1": str(middle), "y2": str(middle), "stroke": SHADES["plain"], "stroke-width": "3"}
        )
        Xml.SubElement(
            svg,
            "circle",
            {"cx": str(round(LABEL + mean * scale, 1)), "cy": str(middle), "r": "5", "fill": SHADES["plain"]},
        )
        _text(svg, LABEL + most * scale + 8, middle + 4, f"{least:,.0f} - {mean:,.0f} - {most:,.0f}", QUIET)
    return Xml.tostring(svg, encoding="unicode")


def _root(height: float, title: str) -> Xml.Element:
    svg = Xml.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {WIDTH} {height:g}",
            "role": "img",
            "aria-label": title,
        },
    )
    Xml.SubElement(svg, "title").text = title
    return svg


def _text(svg: Xml.Element, x: float, y: float, words: str, colour: str) -> None:
    at = {
        "x": f"{x:g}",
        "y": f"{y:g}",
        "font-size": str(TEXT),
        "fill": colour,
        "font-family": "Atkinson Hyperlegible, sans-serif",
    }
    Xml.SubElement(svg, "text", at).text = words
