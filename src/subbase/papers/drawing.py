"""A drawing as plain shapes, and its one way out: an SVG text that is the same every time.

Layout code makes shapes; ``svg`` writes them. A drawing knows the box of each of its texts, so that a test can say
whether any two overlap. Lengths are points (1/72 inch) when a drawing is printed at its own size.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal
from xml.etree import ElementTree as Xml

from subbase.papers.measure import ASCENT_EM, DESCENT_EM, clean, width_of

FONTS = "Atkinson Hyperlegible, Arial, Liberation Sans, Helvetica, sans-serif"
INK, QUIET, PAPER, SHADE, RULE = "#111111", "#555555", "#ffffff", "#f1f1ee", "#8a8a8a"
"""Text and lines; second-rank text and lines; the ground; the ground of a group; thin lines between rows.

They are values that no insulation has: on a dark page a style sheet turns them, and them alone, by these very values.
"""
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Area) -> bool:
        """Return whether two rectangles share more than an edge."""
        apart = (
            self.right <= other.left or other.right <= self.left or self.bottom <= other.top or other.bottom <= self.top
        )
        return not apart

    def holds(self, other: Area) -> bool:
        """Return whether another rectangle lies within this one."""
        inside_x = self.left <= other.left and other.right <= self.right
        return inside_x and self.top <= other.top and other.bottom <= self.bottom


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y`` is its baseline."""

    x: float
    y: float
    text: str
    size: float = 9.0
    anchor: Anchor = "start"
    bold: bool = False
    italic: bool = False
    fill: str = INK
    part: str = ""

    def area(self) -> Area:
        """Return the room it takes, on the safe side."""
        width = width_of(self.text, self.size, bold=self.bold)
        left = self.x - {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        return Area(left, self.y - ASCENT_EM * self.size, left + width, self.y + DESCENT_EM * self.size)


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points, closed and filled when ``fill`` is given."""

    points: tuple[Point, ...]
    stroke: str = INK
    width: float = 1.0
    dash: str = ""
    fill: str = ""
    part: str = ""


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle."""

    area: Area
    fill: str = PAPER
    stroke: str = INK
    width: float = 1.0
    dash: str = ""
    radius: float = 0.0
    part: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle."""

    x: float
    y: float
    radius: float
    fill: str = PAPER
    stroke: str = INK
    width: float = 1.0
    part: str = ""
    """Of any shape: what it stands for in a drawing that a script works on, such as 'p:s0r1h.0' or 'v:hall.R'."""


@dataclass(frozen=True, slots=True)
class Target:
    """A part of the picture that a finger can be put on; it is written only where the drawing is an input."""

    sort: Literal["conductor", "terminal", "point"]
    value: str
    """What it stands for: ``CABLE/CONDUCTOR``, each as in an address; or ``PLACE.TERMINAL``, of a point, too."""
    label: str
    """For those who cannot see it."""
    points: tuple[Point, ...]
    width: float


Shape = Text | Line | Rect | Circle | Target


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a ground of a given size, the top left corner at (0, 0)."""

    title: str
    about: str
    """What it shows, for those who cannot see it."""
    width: float
    height: float
    shapes: tuple[Shape, ...]

    def texts(self) -> tuple[Text, ...]:
        """Return every text that says something."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Text) and shape.text)

    def least_text(self) -> float:
        """Return the size of its smallest text."""
        return min((text.size for text in self.texts()), default=0.0)

    def moved(self, dx: float, dy: float) -> tuple[Shape, ...]:
        """Return its shapes, moved."""
        return tuple(moved(shape, dx, dy) for shape in self.shapes)


def moved(shape: Shape, dx: float, dy: float) -> Shape:
    """Return a shape in another place."""
    match shape:
        case Text() | Circle():
            return replace(shape, x=shape.x + dx, y=shape.y + dy)
        case Line() | Target():
            return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points))
        case Rect():
            a = shape.area
            return replace(shape, area=Area(a.left + dx, a.top + dy, a.right + dx, a.bottom + dy))


def svg(drawing: Drawing, *, targets: bool = False) -> str:
    """Return a drawing as SVG; whatever a text holds stays text. ``targets`` makes it an input."""
    root = Xml.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{_number(drawing.width)}pt",
            "height": f"{_number(drawing.height)}pt",
            "viewBox": f"0 0 {_number(drawing.width)} {_number(drawing.height)}",
            "role": "group" if targets else "img",
            "font-family": FONTS,
        },
    )
    Xml.SubElement(root, "title").text = clean(drawing.title)
    Xml.SubElement(root, "desc").text = clean(drawing.about)
    ground = Rect(Area(0, 0, drawing.width, drawing.height), stroke="none")
    for shape in (ground, *drawing.shapes):
        if targets or not isinstance(shape, Target):
            _write(root, shape, live=targets)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"


def _write(root: Xml.Element, shape: Shape, *, live: bool) -> None:
    match shape:
        case Text():
            made = _write_text(root, shape)
        case Line():
            points = " L".join(f"{_number(x)} {_number(y)}" for x, y in shape.points)
            style = _stroke(shape.stroke, shape.width, shape.dash)
            closed = " Z" if shape.fill else ""
            made = Xml.SubElement(root, "path", {"d": f"M{points}{closed}", "fill": shape.fill or "none", **style})
        case Rect():
            a = shape.area
            sides = {"x": a.left, "y": a.top, "width": a.right - a.left, "height": a.bottom - a.top}
            sides |= {"rx": shape.radius} if shape.radius else {}
            placed = {name: _number(value) for name, value in sides.items()}
            style = _stroke(shape.stroke, shape.width, shape.dash)
            made = Xml.SubElement(root, "rect", {**placed, "fill": shape.fill, **style})
        case Circle():
            placed = {"cx": _number(shape.x), "cy": _number(shape.y), "r": _number(shape.radius)}
            style = _stroke(shape.stroke, shape.width, "")
            made = Xml.SubElement(root, "circle", {**placed, "fill": shape.fill, **style})
        case Target():
            _write_target(root, shape)
            return
    if live and shape.part:
        made.set("data-part", clean(shape.part))


def _write_target(root: Xml.Element, shape: Target) -> None:
    points = " L".join(f"{_number(x)} {_number(y)}" for x, y in shape.points)
    pressed = {"role": "button", "tabindex": "0"} | ({"aria-pressed": "false"} if shape.sort == "conductor" else {})
    style = {"fill": "none", **_stroke("transparent", shape.width, "")}
    named = {"class": "target", f"data-{shape.sort}": clean(shape.value), "aria-label": clean(shape.label)}
    Xml.SubElement(root, "path", {"d": f"M{points}", **style, **named, **pressed})


def _write_text(root: Xml.Element, shape: Text) -> Xml.Element:
    style = {"x": _number(shape.x), "y": _number(shape.y), "font-size": _number(shape.size), "fill": shape.fill}
    if shape.anchor != "start":
        style["text-anchor"] = shape.anchor
    if shape.bold:
        style["font-weight"] = "bold"
    if shape.italic:
        style["font-style"] = "italic"
    made = Xml.SubElement(root, "text", style)
    # Where a script puts its words there is room for them, and nothing yet.
    made.text = "" if shape.part else clean(shape.text)
    return made


def _stroke(colour: str, width: float, dash: str) -> dict[str, str]:
    if colour == "none":
        return {}
    style = {"stroke": colour, "stroke-width": _number(width)}
    return {**style, "stroke-dasharray": dash} if dash else style


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
