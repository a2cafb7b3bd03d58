"""The wiring maps of a planned house as pages show them: as found, as left, and as strips where the screen is narrow."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from subbase.papers.drawing import svg
from subbase.papers.map_model import markings
from subbase.papers.strip_map import strip_map
from subbase.papers.tables import changed_conductors
from subbase.papers.wiring_map import wiring_map_svg
from subbase.plan import Plan
from subbase.web.looks import drawing
from subbase.words import _


@dataclass(frozen=True, slots=True)
class Maps:
    """Drawings of one plan."""

    found: Markup
    left: Markup
    strips: Markup


def maps_of(plan: Plan) -> Maps:
    """Return the maps of a plan that leaves a wiring; what moves bears one number on all of them."""
    assert plan.left is not None
    changed = changed_conductors(plan)
    before, after = markings(plan.survey, plan.left, changed)
    found = wiring_map_svg(plan.survey, plan.catalog, title=_("Wiring as found"), changed=before)
    left = wiring_map_svg(plan.left, plan.catalog, title=_("Wiring as left"), changed=after)
    strips = strip_map(plan.survey, plan.left, title=_("Wiring, cable by cable"), changed=changed)
    return Maps(drawing(found), drawing(left), drawing(svg(strips)))
