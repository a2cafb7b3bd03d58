"""Minimal hitting sets against Reiter's example and against trying every set."""

from __future__ import annotations

from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.diagnose.minimal import minimal_diagnoses, minimal_hitting_sets

Sets = list[frozenset[str]]


def by_trying_every_set(conflicts: Sets) -> set[frozenset[str]]:
    """Return the minimal hitting sets found by definition."""
    parts = sorted(set().union(*conflicts)) if conflicts else []
    every = chain.from_iterable(combinations(parts, n) for n in range(len(parts) + 1))
    hitting = [set(item) for item in every if all(set(item) & conflict for conflict in conflicts)]
    return {frozenset(item) for item in hitting if not any(other < item for other in hitting)}


@pytest.mark.outside(
    source="Reiter, Artificial Intelligence 32 (1987) 57-95 (the example's sets from memory)",
    how="the six minimal hitting sets of its seven sets; they also follow from the definition by trying every set",
)
def test_reiters_example_has_its_six_minimal_hitting_sets() -> None:
    """Seven sets over six parts."""
    written = ("245", "123", "135", "246", "24", "235", "16")
    conflicts: Sets = [frozenset(item) for item in written]
    found = set(minimal_hitting_sets(conflicts))
    assert found == {frozenset(item) for item in ("12", "134", "145", "236", "256", "346")}
    assert found == by_trying_every_set(conflicts)


CONFLICTS = st.lists(st.frozensets(st.sampled_from("abcdefg"), min_size=1, max_size=4), max_size=6)


@given(CONFLICTS)
def test_minimal_hitting_sets_are_those_of_the_definition(conflicts: Sets) -> None:
    """Against every subset of the parts."""
    assert set(minimal_hitting_sets(conflicts)) == by_trying_every_set(conflicts)


@given(CONFLICTS)
def test_diagnoses_from_an_oracle_are_the_hitting_sets_of_its_conflicts(conflicts: Sets) -> None:
    """The oracle knows the conflicts, the search does not."""
    diagnoses, found = minimal_diagnoses("abcdefg", lambda sound: not any(item <= sound for item in conflicts))
    assert set(diagnoses) == by_trying_every_set(conflicts)
    assert all(any(item == other for other in conflicts) for item in found)


def test_a_largest_size_leaves_larger_sets_out() -> None:
    """Three conflicts without a common part need three parts."""
    conflicts = [frozenset("ab"), frozenset("cd"), frozenset("ef")]
    assert minimal_hitting_sets(conflicts, most=2) == ()
    assert len(minimal_hitting_sets(conflicts)) == 8
