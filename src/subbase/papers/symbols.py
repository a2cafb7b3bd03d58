"""The symbols of a ladder diagram, each 22 wide around (0, 0), with the line running left to right.

They follow what the trade draws in North America (contacts as two bars, coils as circles, solenoids as a zigzag, switches
as an arm between two points with the sign of what works it below; JIC and NEMA practice, from memory). Most read the same
to those who were brought up on IEC 60617: contact, fuse, winding, motor.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from subbase.papers.drawing import INK, PAPER, Area, Circle, Line, Point, Rect, Shape, Target, Text
from subbase.papers.rung_trees import Element, LoadSort, SwitchSort
from subbase.papers.rungs import Load

HALF = 11.0
"""Half the width of a symbol."""
SWITCH_DEPTH = {"temperature": 15.0, "pressure": 15.0, "level": 15.0, "flow": 14.0, "plain": 4.0}
"""How far a switch's symbol reaches below the line."""


def element_symbol(element: Element) -> Iterator[Shape]:
    """Yield the symbol of something that current must pass."""
    match element.sort:
        case "contact" | "output":
            yield from contact(closed=element.closed)
        case "switch":
            yield from switch(element.acts, closed=element.closed)
        case "fuse":
            yield Rect(Area(-HALF, -4, HALF, 4))
            yield Line(((-HALF, 0), (HALF, 0)), width=0.8)
        case "resistor":
            yield Line(tuple((-HALF + 22 / 6 * n, 0 if n in (0, 6) else (-5 if n % 2 else 5)) for n in range(7)))


def depth_of(element: Element) -> float:
    """Return how far an element's symbol reaches below the line."""
    return SWITCH_DEPTH[element.acts] if element.sort == "switch" else 8.0


def contact(*, closed: bool) -> Iterator[Shape]:
    """Yield a contact as it stands with nothing called; a closed one is crossed."""
    for side in (-1.0, 1.0):
        yield Line(((side * HALF, 0), (side * 4, 0)))
        yield Line(((side * 4, -8), (side * 4, 8)), width=1.4)
    if closed:
        yield Line(((-8, 8), (8, -8)), width=1.2)


def switch(acts: SwitchSort, *, closed: bool) -> Iterator[Shape]:
    """Yield a switch: an arm between two points, and below it the sign of what works it."""
    top = 0.0 if closed else -3.0
    yield Line(((-8, 0), (8, -2.0 if closed else -8.0)), width=1.4)
    match acts:
        case "temperature":
            yield Line(((0, top), (0, 6)), width=0.8)
            yield Line(((0, 6), (4, 6), (4, 10), (-4, 10), (-4, 14), (2, 14)), width=1.0)
        case "pressure":
            yield Line(((0, top), (0, 8)), width=0.8)
            yield Line(
                ((-5, 14), *((-5 * math.cos(a), 14 - 6 * math.sin(a)) for a in _half_turn()), (-5, 14)), width=1.0
            )
        case "level":
            yield Line(((0, top), (0, 7)), width=0.8)
            yield Circle(0, 10.5, 3.5)
        case "flow":
            yield Line(((0, top), (0, 13)), width=0.8)
            yield Line(((0, 6), (6, 13), (0, 13)), width=1.0, fill=PAPER)
        case "plain":
            pass
    yield Circle(-9, 0, 2.2)
    yield Circle(9, 0, 2.2)


def load_symbol(load: Load, number: int) -> Iterator[Shape]:
    """Yield the symbol of what a rung ends in, with its rung's number in it or below it."""
    yield from load_shape(load.sort)
    if load.sort in ("solenoid", "motor"):
        yield Text(0, 21.0, str(number), 9.0, "middle", bold=True)
    else:
        yield Text(0, 3.2, str(number), 9.0, "middle", bold=True)


def load_shape(sort: LoadSort) -> Iterator[Shape]:
    """Yield a load's symbol without a number."""
    match sort:
        case "coil":
            yield Circle(0, 0, 10, width=1.4)
        case "solenoid":
            steps = ((-HALF, 0), (-7, 0), (-4, -9), (0, 9), (4, -9), (7, 0), (HALF, 0))
            yield Line(steps, width=1.4)
        case "motor":
            yield Circle(0, 0, 10, width=1.4)
            yield Text(0, 3.4, "M", 9.5, "middle")
        case "board":
            yield Rect(Area(-HALF, -9, HALF, 9), width=1.4)


def transformer(middle: float, y: float) -> Iterator[Shape]:
    """Yield a transformer whose secondary lies in the line at ``y``, its primary above, and the core between them."""
    for number in range(4):
        x = middle - 18 + 12 * number
        yield Line(_bow(x, y, 6.0, up=True), width=1.4)
        yield Line(_bow(x, y - 21.0, 6.0, up=False), width=1.4)
    for core in (-9.0, -12.0):
        yield Line(((middle - 24, y + core), (middle + 24, y + core)), width=0.8)
    for side in (-1.0, 1.0):
        yield Line(((middle + side * 24, y - 21.0), (middle + side * 36, y - 21.0)), width=1.0)


def turned(shape: Shape, y: float) -> Shape:
    """Return a symbol's shape turned upright, its middle at (0, y); what reached below the line reaches left."""
    match shape:
        case Line():
            points = tuple((-py, px + y) for px, py in shape.points)
            return Line(points, shape.stroke, shape.width, shape.dash, shape.fill, shape.part)
        case Circle():
            return Circle(-shape.y, shape.x + y, shape.radius, shape.fill, shape.stroke, shape.width, shape.part)
        case Rect():
            a = shape.area
            area = Area(-a.bottom, a.left + y, -a.top, a.right + y)
            return Rect(area, shape.fill, shape.stroke, shape.width, shape.dash, shape.radius, shape.part)
        case Text() | Target():
            return shape


def arrow(x: float, *, part: str, down: bool = False) -> Line:
    """Return an arrow head on the line: current flows this way."""
    points: tuple[Point, ...] = ((x - 5, -5), (x + 6, 0), (x - 5, 5), (x - 5, -5))
    if down:
        points = tuple((py, px) for px, py in ((p[0] - x, p[1]) for p in points))
    return Line(points, INK, 0.5, fill=INK, part=part)


def _bow(x: float, y: float, radius: float, *, up: bool) -> tuple[Point, ...]:
    side = -1.0 if up else 1.0
    return tuple((x - radius * math.cos(a), y + side * radius * math.sin(a)) for a in _half_turn())


def _half_turn() -> tuple[float, ...]:
    return tuple(math.pi * n / 12 for n in range(13))
