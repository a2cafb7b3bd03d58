"""The wiring maps of a planned house as pages show them: as found, as left, and as strips where the screen is narrow."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from subbase.papers.plan_maps import plan_maps
from subbase.plan import Plan
from subbase.web.looks import drawing


@dataclass(frozen=True, slots=True)
class Maps:
    """Drawings of one plan."""

    found: Markup
    left: Markup
    strips: Markup


def maps_of(plan: Plan) -> Maps:
    """Return the maps of a plan that leaves a wiring."""
    return Maps(**{name: drawing(text) for name, text in plan_maps(plan).items()})
