"""Two slips at once: which pairs are likely, what they do, and whether the chosen checks show them, each found anew."""

from __future__ import annotations

from functools import cache
from random import Random

import pytest

from subbase.catalog import load_catalog
from subbase.plan import Plan
from subbase.survey import ConductorEnd
from subbase.work.check_bounds import telling
from subbase.work.checks import CheckPlan, checks_for, dead_checks, live_checks
from subbase.work.double_report import DoubleReport, doubles_for
from subbase.work.double_slips import double_slips, pair_count
from subbase.work.outcomes import DAMAGING, bench_of, outcome_of
from subbase.work.slips import Slip, movable_ends, single_slips
from tests.houses import BUILDABLE, plan_of

PLANNED = tuple(name for name in BUILDABLE if plan_of(name).left is not None)
REPORTED = tuple(name for name in PLANNED if not name.startswith(("12", "13", "15")))
"""The largest houses take seconds; every other is reported on whole."""
SAMPLE = 15


@cache
def check_plan_of(name: str) -> CheckPlan:
    """Return the checks of an example."""
    return checks_for(plan_of(name))


@cache
def report_of(name: str) -> DoubleReport:
    """Return the doubles of an example against its checks."""
    return doubles_for(plan_of(name), check_plan_of(name))


def moved(plan: Plan, slip: Slip) -> dict[ConductorEnd, str]:
    """Return the ends that a slip leaves elsewhere than planned, and where."""
    assert plan.left is not None
    landed = {end: (str(end.landing(plan.left)), str(end.landing(slip.survey))) for end in movable_ends(plan.left)}
    return {end: now for end, (then, now) in landed.items() if now != then}


@pytest.mark.parametrize("name", PLANNED)
def test_a_double_is_both_of_its_slips_and_nothing_else(name: str) -> None:
    """The two share no conductor end, and the house that both leave has the landings, links and settings of each."""
    plan = plan_of(name)
    assert plan.left is not None
    found = double_slips(plan)
    assert 0 < len(found) <= pair_count(plan)
    assert len({double.both.words for double in found}) == len(found)
    for double in Random(4).sample(found, min(60, len(found))):
        first, second = moved(plan, double.first), moved(plan, double.second)
        assert first.keys().isdisjoint(second.keys())
        assert moved(plan, double.both) == {**first, **second}
        assert double.both.settings == (*double.first.settings, *double.second.settings)
        links = [
            {frozenset(j.between) for j in s.jumpers} for s in (plan.left, double.first.survey, double.second.survey)
        ]
        assert {frozenset(j.between) for j in double.both.survey.jumpers} == links[0] ^ (links[0] ^ links[1]) ^ (
            links[0] ^ links[2]
        )


@pytest.mark.parametrize("name", REPORTED)
def test_a_sample_of_doubles_does_what_the_houses_built_anew_do(name: str) -> None:
    """Built and solved by itself, each sampled double has the same findings, and the same check shows it first."""
    plan, report = plan_of(name), report_of(name)
    assert plan.left is not None
    bench = bench_of(plan.left, plan.catalog)
    made = [chosen.check for chosen in check_plan_of(name).checks]
    for each in Random(5).sample(report.doubles, min(SAMPLE, len(report.doubles))):
        anew = outcome_of(each.double.both, bench)
        assert [(f.severity, f.call, f.text) for f in anew.findings] == [
            (f.severity, f.call, f.text) for f in each.outcome.findings
        ]
        shown = [check for check in made if telling(each.double.both, load_catalog(), [check])]
        assert each.shown_by == (shown[0] if shown and each.does_something else None), each.double.both.words


@pytest.mark.parametrize("name", REPORTED)
def test_doubles_add_up_and_masked_ones_pass_every_chosen_check(name: str) -> None:
    """Told, harmless and masked ones are all; what is called masked reads as it should at every chosen check."""
    report = report_of(name)
    assert report.told + report.harmless + len(report.masked) == len(report.doubles)
    assert all(each.shown_by is None and each.does_something for each in report.masked)
    for each in report.masked:
        assert not any(telling(each.double.both, load_catalog(), [c.check]) for c in check_plan_of(name).checks)


@pytest.mark.parametrize("name", REPORTED)
def test_the_further_checks_show_what_was_masked_or_no_check_at_all_does(name: str) -> None:
    """Each masked double is told by a further check or by none that is offered; damage dead, where a dead check can."""
    report, plan = report_of(name), plan_of(name)
    assert plan.left is not None
    dead, live = dead_checks(plan.left, plan.catalog), live_checks(plan.left, plan.catalog)
    extra = [chosen.check for chosen in report.extra]
    for each in (*report.masked, *report.shown_live):
        slip = each.double.both
        told = [check for check in extra if telling(slip, plan.catalog, [check])]
        if each in report.untold:
            assert not telling(slip, plan.catalog, dead)
            assert not telling(slip, plan.catalog, live)
        elif each in report.only_live:
            assert not telling(slip, plan.catalog, dead)
            assert told or each.shown_by is not None
        else:
            assert [check for check in told if check.state is None or each.outcome.severity not in DAMAGING]


def test_some_doubles_hide_each_other() -> None:
    """Over all these houses there are doubles that the checks for single slips do not show, and checks that do."""
    masked = [each for name in REPORTED for each in report_of(name).masked]
    assert masked
    assert any(report_of(name).extra for name in REPORTED)


def test_two_conductors_taken_for_each_other_at_both_ends_do_nothing() -> None:
    """The same two conductors swapped at both ends of their cable join the same terminals as planned."""
    checked = 0
    for name in PLANNED:
        plan = plan_of(name)
        for double in double_slips(plan):
            first, second = moved(plan, double.first), moved(plan, double.second)
            alike = {(e.cable, e.conductor) for e in first} == {(e.cable, e.conductor) for e in second}
            if double.first.kind == double.second.kind == "swapped" and alike:
                assert plan.left is not None
                assert outcome_of(double.both, bench_of(plan.left, plan.catalog)).severity == "nothing"
                checked += 1
    assert checked > 0


def test_a_plan_that_leaves_no_house_has_no_doubles() -> None:
    """Where planning asked a question there is nothing to slip twice, and the error says so."""
    with pytest.raises(ValueError, match="leaves no house"):
        double_slips(plan_of("08-changeover-not-known"))


def test_pairs_are_counted_from_single_slips() -> None:
    """The number of pairs is that of choosing two single slips."""
    plan = plan_of("07-heat-only-pair")
    count = len(single_slips(plan))
    assert pair_count(plan) == count * (count - 1) // 2
