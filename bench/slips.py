"""Wrong landings: all single slips, the proven least checks, likely doubles; their growth; ngspice and HiGHS beside them."""

from __future__ import annotations

from pathlib import Path

from bench.growing import command_checks, cover_of, largest_house, zoned_house
from bench.plot import save_lines
from bench.report import Result, Row, timed
from bench.slip_spice import SpiceSlips
from subbase.catalog import load_catalog
from subbase.plan import Plan, make_plan
from subbase.work.checks import checks_for
from subbase.work.cover import cover_seconds, least_cover
from subbase.work.double_report import doubles_for
from subbase.work.double_slips import double_slips
from subbase.work.outcomes import bench_of, outcome_of, outcomes
from subbase.work.slips import single_slips
from tests.agreement.cover_by_highs import least_by_highs

FEW = 40
ZONES = (1, 2, 3, 4, 6, 8)
DOUBLED = (1, 2, 3, 4)


def run(docs: Path) -> Result:
    """Measure every part on the largest example, then the whole on houses of more and more zones."""
    catalog = load_catalog()
    plan = largest_house()
    assert plan.left is not None
    slips, bench = single_slips(plan), bench_of(plan.left, catalog)
    some = slips[:: len(slips) // FEW]
    spice = SpiceSlips(plan, some, bench.states)
    chosen = checks_for(plan)
    wanted, offers = cover_of(plan)
    least = cover_seconds(offers[i] for i in least_cover(wanted, offers))
    rows = [
        timed("ngspice in process, each state solved once", len(some), spice.solve_all, runs=3),
        timed("each house built and solved by itself", len(some), lambda: [outcome_of(s, bench) for s in some], runs=3),
        timed("all single slips, elimination kept", len(slips), lambda: outcomes(slips, bench), runs=5),
        timed("the same and the proven least checks", len(slips), lambda: checks_for(plan), runs=5),
        timed("the same from a cold start", len(slips), command_checks, runs=3),
        timed("likely double slips", len(double_slips(plan)), lambda: doubles_for(plan, chosen), runs=3),
        timed("the cover alone, proven by branch and bound", len(wanted), lambda: least_cover(wanted, offers), runs=5),
        timed("the cover alone, HiGHS", len(wanted), lambda: least_by_highs(wanted, offers), runs=3),
    ]
    highs = least_by_highs(wanted, offers)
    growth: dict[str, list[tuple[int, Row]]] = {"singles and checks": [], "likely doubles": []}
    for zones in ZONES:
        house = make_plan(zoned_house(zones), catalog)
        growth["singles and checks"].append((zones, checked(house, zones)))
        if zones in DOUBLED:
            growth["likely doubles"].append((zones, doubled(house, zones)))
    rows += [row for points in growth.values() for row in (points[0][1], points[-1][1])]
    lines = {what: [(n, row.median_s) for n, row in points] for what, points in growth.items()}
    save_lines(docs / "img" / "slips-growth.svg", lines)
    return Result(
        title="Wrong landings",
        unit="slips",
        rows=rows,
        notes=(
            f"The largest example has {len(slips)} single slips, each solved in {len(bench.states)} calls; "
            f"{chosen.offered} checks are offered, {len(chosen.checks)} chosen.",
            "ngspice is given the decks of the states at rest, so it finds no state by itself; what it solves once is "
            "brought to rest by all others, which takes some five solutions.",
            f"The cover costs {least} s of work by both: HiGHS says {highs} s.",
            "Zones are motor valves on one supply, each with a control of its own. From six alike on, branch and bound is cut "
            "short and HiGHS proves the cover, because the search does not see that zones are alike.",
        ),
        images=[("img/slips-growth.svg", "Time of slips and checks against the number of zones")],
    )


def checked(plan: Plan, zones: int) -> Row:
    """Return the time of all single slips and the checks of one house."""
    count = len(single_slips(plan))
    return timed(f"singles and checks, {zones} zones", count, lambda: checks_for(plan), runs=3)


def doubled(plan: Plan, zones: int) -> Row:
    """Return the time of the likely doubles of one house."""
    chosen = checks_for(plan)
    return timed(f"likely doubles, {zones} zones", len(double_slips(plan)), lambda: doubles_for(plan, chosen), runs=1)
