"""Indoor radio loss against worked values of the ITU-R models."""

from __future__ import annotations

import pytest

from subbase.siting.radio import EDITIONS, free_space_loss_db, home_loss_db, slab_loss_db

P1238 = "ITU-R P.1238-8, residential: 20 log f + 28 log d + 4n - 28"


@pytest.mark.outside(
    source=P1238, how="computed by hand at 2400 MHz; the coefficients read second-hand for 1.8 to 2 GHz"
)
@pytest.mark.parametrize(("distance_m", "floors", "want_db"), [(10.0, 0, 67.604), (20.0, 1, 80.033)])
def test_the_home_model(distance_m: float, floors: int, want_db: float) -> None:
    """10 m in the open plan, and 20 m through one floor, lose what the formula gives."""
    assert home_loss_db(distance_m, floors, 2400.0) == pytest.approx(want_db, abs=5e-4)


@pytest.mark.outside(
    source="ITU-R P.2040 slab transmission; table 3 of P.2040-1 and P.2040-3",
    how="worked apart from this code at 2.4 GHz, head-on; constants read in public code that cites each edition",
)
@pytest.mark.parametrize(
    ("edition", "material", "thickness_m", "want_db"),
    [
        ("ITU-R P.2040-1", "plasterboard", 0.0125, 1.24),
        ("ITU-R P.2040-1", "brick", 0.100, 3.83),
        ("ITU-R P.2040-1", "concrete", 0.100, 6.30),
        ("ITU-R P.2040-1", "glass", 0.004, 1.06),
        ("ITU-R P.2040-3", "brick", 0.100, 3.03),
        ("ITU-R P.2040-3", "concrete", 0.100, 8.10),
    ],
)
def test_walls_of_both_editions(edition: str, material: str, thickness_m: float, want_db: float) -> None:
    """Each wall loses the worked value of its edition."""
    assert slab_loss_db(EDITIONS[edition][material], thickness_m, 2400.0) == pytest.approx(want_db, abs=5e-3)


@pytest.mark.outside(source="ITU-R P.525: 32.4 + 20 log f + 20 log d", how="the Recommendation's own form, MHz and km")
def test_free_space() -> None:
    """At 2437 MHz and 10 m: 32.4 + 67.74 - 40 = 60.1 dB."""
    assert free_space_loss_db(10.0, 2437.0) == pytest.approx(32.4 + 67.737 - 40.0, abs=0.06)


@pytest.mark.outside(
    source="ITU-R P.2040: a lossless half-wave slab is transparent", how="textbook limit of the same equation"
)
def test_a_half_wave_slab_without_loss_is_transparent() -> None:
    """Half a wavelength of lossless dielectric of permittivity 4 loses nothing, a quarter loses 1.94 dB."""
    half_m = 299_792_458.0 / 2.4e9 / 2.0 / 2.0
    constants = (4.0, 0.0, 0.0, 0.0)
    assert slab_loss_db(constants, half_m, 2400.0) == pytest.approx(0.0, abs=1e-9)
    assert slab_loss_db(constants, half_m / 2, 2400.0) == pytest.approx(1.938, abs=1e-3)
