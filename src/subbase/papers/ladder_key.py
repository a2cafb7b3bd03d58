"""The key below a ladder: the symbols that it uses, in words."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.papers.drawing import INK, Line, Shape, Text, moved
from subbase.papers.measure import wrapped
from subbase.papers.rung_trees import LoadSort, Parallel, Series, SwitchSort, Tree
from subbase.papers.rungs import Ladder
from subbase.papers.symbols import contact, load_shape, switch
from subbase.words import _, mark

KEY_SIZE, KEY_STEP = 8.0, 9.6
COLUMN, SIGN_ROOM = 150.0, 30.0
_SWITCHES: dict[SwitchSort, str] = {
    "temperature": mark("switch worked by temperature"),
    "pressure": mark("switch worked by pressure"),
    "level": mark("switch worked by a float"),
    "flow": mark("switch worked by air or flow"),
    "plain": mark("switch"),
}
_LOADS: dict[LoadSort, str] = {
    "coil": mark("coil of a relay or contactor"),
    "solenoid": mark("valve's coil"),
    "motor": mark("motor"),
    "board": mark("input of a board, or electronics"),
}


def key_rows(ladder: Ladder, width: float) -> Iterator[tuple[float, tuple[Shape, ...]]]:
    """Yield (height, shapes) of each row of the key."""
    signs = _signs(ladder)
    columns = max(1, int(width // COLUMN))
    each = width / columns
    for first in range(0, len(signs), columns):
        shapes: list[Shape] = []
        most = 1
        for position, (sign, words) in enumerate(signs[first : first + columns]):
            lines = wrapped(words, each - SIGN_ROOM - 8.0, KEY_SIZE)
            most = max(most, len(lines))
            x = position * each
            shapes += [moved(shape, x + 12.0, 16.0) for shape in sign]
            shapes += [Text(x + SIGN_ROOM, 19.0 + n * KEY_STEP, line, KEY_SIZE) for n, line in enumerate(lines)]
        if first == 0:
            shapes.append(Line(((0, 0), (width, 0)), INK, 0.8))
        yield max(34.0, 22.0 + KEY_STEP * most), tuple(shapes)


def _signs(ladder: Ladder) -> list[tuple[tuple[Shape, ...], str]]:
    trees: list[Tree] = []
    for supply in ladder.supplies:
        trees += supply.rail
        trees += [tree for rung in supply.rungs for tree in (rung.hot_side, rung.common_side)]
    elements = [item for tree in trees for item in _leaves(tree)]
    found: list[tuple[tuple[Shape, ...], str]] = []
    if any(sort in ("contact", "output") for sort, __, closed in elements if not closed):
        found.append((tuple(contact(closed=False)), _("contact, open with nothing called")))
    if any(sort == "contact" and closed for sort, __, closed in elements):
        found.append((tuple(contact(closed=True)), _("contact, made with nothing called")))
    for acts, words in _SWITCHES.items():
        if any(sort == "switch" and of == acts for sort, of, __ in elements):
            found.append((tuple(switch(acts, closed=True)), _(words)))
    sorts = {rung.load.sort for supply in ladder.supplies for rung in supply.rungs}
    found += [(tuple(load_shape(sort)), _(words)) for sort, words in _LOADS.items() if sort in sorts]
    return found


def _leaves(tree: Tree) -> Iterator[tuple[str, SwitchSort, bool]]:
    if isinstance(tree, Series | Parallel):
        for item in tree.items:
            yield from _leaves(item)
    else:
        yield tree.element.sort, tree.element.acts, tree.element.closed
