"""The cycling curve of a room control: known points, and what holds at any share of running."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.comfort.equipment import cycles_per_h, on_off_s, part_load_factor


@pytest.mark.outside(
    source="N = 4 N_max X (1 - X): NEMA DC 3; Parken, Beausoliel and Kelly 1977 [from memory]; read in EnergyPlus.",
    how="N_max 3 an hour, worked apart from this code",
)
@pytest.mark.parametrize(("share", "cycles", "on_min", "off_min"), [(0.25, 2.25, 6.667, 20.0), (0.5, 3.0, 10.0, 10.0)])
def test_points_of_the_curve(share: float, cycles: float, on_min: float, off_min: float) -> None:
    """Cycles, minutes on and minutes off to the digits given."""
    on_s, off_s = on_off_s(share, 3.0)
    assert cycles_per_h(share, 3.0) == pytest.approx(cycles, abs=1e-12)
    assert on_s / 60.0 == pytest.approx(on_min, abs=5e-4)
    assert off_s / 60.0 == pytest.approx(off_min, abs=5e-4)


@pytest.mark.outside(source="PLF = 1 - C_d (1 - X), AHRI 210/240.", how="C_d 0.25 at half load, worked by hand")
def test_part_load_at_half_load() -> None:
    """PLF 0.875 and a run-time fraction of 0.5714."""
    assert part_load_factor(0.5, 0.25) == pytest.approx(0.875, abs=1e-12)
    assert 0.5 / part_load_factor(0.5, 0.25) == pytest.approx(0.5714, abs=5e-5)


@given(st.floats(0.001, 0.999), st.floats(0.5, 12.0))
def test_on_and_off_make_the_share_and_the_cycles(share: float, most: float) -> None:
    """On over the cycle is the share, an hour over the cycle is N, and N is never above N_max."""
    on_s, off_s = on_off_s(share, most)
    assert on_s / (on_s + off_s) == pytest.approx(share, rel=1e-9)
    assert 3600.0 / (on_s + off_s) == pytest.approx(cycles_per_h(share, most), rel=1e-9)
    assert cycles_per_h(share, most) <= most * (1 + 1e-12)
