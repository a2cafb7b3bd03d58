"""The wiring of a plan drawn before and after: as found, as left, and cable by cable where the screen is narrow."""

from __future__ import annotations

from subbase.papers.drawing import svg
from subbase.papers.map_model import markings
from subbase.papers.strip_map import strip_map
from subbase.papers.tables import changed_conductors
from subbase.papers.wiring_map import wiring_map_svg
from subbase.plan import Plan
from subbase.words import _


def plan_maps(plan: Plan) -> dict[str, str]:
    """Return found, left and strips as SVG, of a plan that leaves a wiring; what moves bears one number on all of them."""
    assert plan.left is not None
    changed = changed_conductors(plan)
    before, after = markings(plan.survey, plan.left, changed)
    return {
        "found": wiring_map_svg(plan.survey, plan.catalog, title=_("Wiring as found"), changed=before),
        "left": wiring_map_svg(plan.left, plan.catalog, title=_("Wiring as left"), changed=after),
        "strips": svg(strip_map(plan.survey, plan.left, title=_("Wiring, cable by cable"), changed=changed)),
    }
