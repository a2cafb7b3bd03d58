"""Random rooms with windows for the laws of sun: rectangles and bent rooms, with reveals, overhangs and skylines."""

from __future__ import annotations

from random import Random
from typing import Any

from subbase.survey.rooms import Room

BENT = ((0.0, 0.0), (0.0, 7.0), (4.0, 7.0), (4.0, 3.5), (8.0, 3.5), (8.0, 0.0))

INNER = ("3", "4")
"""Walls of the bend, which look at each other."""


def random_room(seed: int, *, overhangs: bool = True) -> Room:
    """Return a room that can be read, in a house whose wings and eaves shade none of its other windows.

    (Shade of the house's own wings is left out of the model, on the side of too much sun.)
    """
    rng = Random(seed)
    data: dict[str, Any] = {"height": 2.6}
    if rng.random() < 0.5:
        data["size"] = (rng.uniform(3.0, 8.0), rng.uniform(3.0, 8.0))
    else:
        data["corners"] = tuple((x * rng.uniform(0.95, 1.0), y * rng.uniform(0.95, 1.0)) for x, y in BENT)
    data["windows"] = [
        window(rng, wall.name, wall.length_m, overhangs=overhangs)
        for wall in Room.model_validate(data).walls_found()
        if rng.random() < 0.7 and not ("corners" in data and wall.name in INNER)
    ]
    return Room.model_validate(data)


def window(rng: Random, wall: str, length_m: float, *, overhangs: bool) -> dict[str, Any]:
    """Return a window somewhere in a wall."""
    width = rng.uniform(0.3, 0.8) * length_m
    along = rng.uniform(0.0, length_m - width)
    sill = rng.uniform(0.0, 1.2)
    found: dict[str, Any] = {
        "wall": wall,
        "width": width,
        "along": along,
        "sill": sill,
        "head": sill + rng.uniform(0.4, 1.2),
        "depth": rng.choice((0.0, 0.1, 0.35)),
    }
    if overhangs and rng.random() < 0.6:
        found |= {
            "overhang": rng.uniform(0.2, 1.5),
            "above": rng.uniform(0.0, 0.5),
            "past": rng.uniform(0.0, min(along, length_m - width - along)),
        }
    return found
