"""How one run is drawn: insulation with its dark edge and tracer stripe, a splice, an end that is on nothing, a mark.

The dark edge makes white and yellow show on paper and black on a dark page. A tracer stripe is drawn between dark bars,
so that it shows as a stripe whatever its two colours are to the eye that looks, or to a printer without colour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from subbase.papers.drawing import INK, PAPER, Area, Circle, Line, Point, Rect, Shape, Text
from subbase.papers.insulation import Insulation, insulation_of
from subbase.papers.map_model import End, Run
from subbase.survey import CUT_SHORT, LOOSE

WIRE, HEAVY, EDGE = 2.2, 4.0, 1.9
"""Width of a conductor, of one that changes, and what its dark edge adds."""
STRIPE_PT, BARE_PT, BAR_PT = 6.0, 6.0, 1.0
"""Length of a tracer's dash and of what is bare between two, and the dark bar at both ends of a dash."""


def wire_width(run: Run) -> float:
    """Return how wide the insulation of a run is drawn."""
    return HEAVY if run.marked else WIRE


def wire(run: Run, points: tuple[Point, ...]) -> Iterator[Shape]:
    """Yield the line of a run; in two colours when its ends bear different ones."""
    if run.kind != "conductor":
        dash = "1.5 2.5" if run.kind == "inside" else ("4 2.5" if run.doubtful else "")
        yield Line(points, INK, 2.6 if run.marked else 1.3, dash)
        return
    width = wire_width(run)
    first, second = (insulation_of(end.colour) for end in run.ends)
    halves = _halves(points)
    parts = ((points, first),) if first == second else ((halves[0], first), (halves[1], second))
    yield Line(points, INK, width + EDGE)
    for part, look in parts:
        yield from _insulation(part, look, width)
    if first != second:
        yield from splice(halves[1][0])


def _insulation(points: tuple[Point, ...], look: Insulation, width: float) -> Iterator[Shape]:
    yield Line(points, look.base, width)
    if look.stripe:
        # The bars start a bar's length before the dash and end one after it.
        yield Line(points, INK, width, f"{STRIPE_PT + 2 * BAR_PT:g} {BARE_PT:g}")
        yield Line(points, look.stripe, width, f"0 {BAR_PT:g} {STRIPE_PT:g} {BARE_PT + BAR_PT:g}")


def splice(at: Point) -> Iterator[Shape]:
    """Yield the sign of a hidden splice, where the colour changes."""
    x, y = at
    yield Line(((x - 5, y), (x, y - 5), (x + 5, y), (x, y + 5)), INK, 1.0, fill=PAPER)


def _halves(points: Sequence[Point]) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """Return a run cut in the middle of its middle part."""
    cut = (len(points) - 1) // 2
    (x1, y1), (x2, y2) = points[cut], points[cut + 1]
    middle = ((x1 + x2) / 2, (y1 + y2) / 2)
    return (*points[: cut + 1], middle), (middle, *points[cut + 1 :])


def loose_end(at: End, x: float, y: float, out: float) -> Iterator[Shape]:
    """Yield the sign of an end that is on no terminal; ``out`` is 1 where its box lies at the left of it."""
    if at.nowhere == LOOSE:
        yield Circle(x, y, 3.2)
    elif at.nowhere == CUT_SHORT:
        for shift in (-1.5, 1.5):
            yield Line(((x + shift - out * 2, y + 5), (x + shift + out * 2, y - 5)), INK, 1.2)
    else:
        yield Rect(Area(x - 3.2, y - 3.2, x + 3.2, y + 3.2), dash="2 1.5")


def change_mark(x: float, y: float, run: Run) -> Iterator[Shape]:
    """Yield a run's mark: a filled disc where it is new or has moved to, a ring where it was, a crossed ring if it goes."""
    if run.gone:
        yield Circle(x, y, 6.2, width=1.4)
        yield Line(((x - 3.2, y - 3.2), (x + 3.2, y + 3.2)), INK, 1.6)
        yield Line(((x - 3.2, y + 3.2), (x + 3.2, y - 3.2)), INK, 1.6)
        return
    yield Circle(x, y, 6.2, fill=PAPER if run.before else INK, width=1.4)
    yield Text(x, y + 2.8, str(run.number), 8.0, "middle", bold=True, fill=INK if run.before else PAPER)
