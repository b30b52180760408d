"""Masses of small parts against printed tables."""

from __future__ import annotations

import pytest

from bevelbook.physics.part_masses import rubber_ring_range, screw_range
from bevelbook.physics.shim_mass import STEEL_G_CM3, shim_mass_g

STANDARD_GRAVITY = 9.80665


def test_a_steel_shim_lies_within_the_unit_weight_of_steel_in_the_eurocode() -> None:
    """EN 1991-1-1, table A.4: steel 77.0 to 78.5 kN/m3, as quoted in a page on the density of steel; over the standard
    acceleration of 9.80665 m/s2 that is 7.852 to 8.005 g/cm3. The common 7.85 is the lower end, to its digits."""
    low, high = (weight / STANDARD_GRAVITY for weight in (77.0, 78.5))
    assert low - 0.005 <= STEEL_G_CM3 <= high
    volume_cm3 = 3.7699e-3
    assert low * volume_cm3 - 1e-5 <= shim_mass_g(5, 7, 0.2) <= high * volume_cm3


@pytest.mark.parametrize(
    ("size", "printed_g"),
    [("M2 x 4", 0.175), ("M2 x 8", 0.255), ("M2.5x8", 0.465), ("M2.5 x 12", 0.585), ("M3 x 8", 0.8), ("M3×12", 1.0)],
    ids=["m2-4", "m2-8", "m2.5-8", "m2.5-12", "m3-8", "m3-12"],
)
def test_a_cap_screw_weighs_between_its_thread_and_a_full_head(size: str, printed_g: float) -> None:
    """Weights of DIN 912 socket head cap screws in kg per 1000 pieces, in a chart of Fuller (read)."""
    found = screw_range(size)
    assert found is not None
    assert found.low_g < printed_g < found.high_g
    assert found.high_g < 1.5 * printed_g


@pytest.mark.parametrize("words", ["", "four of them", "M2", "M12 x 40", "M3 x 400"], ids=range(5))
def test_other_words_have_no_mass(words: str) -> None:
    assert screw_range(words) is None


def test_a_rubber_ring() -> None:
    """pi^2/4 x 1^2 x (18 + 1) = 46.88 mm3: 0.0516 g at 1.1, 0.0656 g at 1.4 g/cm3 (common practice, no source)."""
    assert rubber_ring_range(18, 1) == pytest.approx((0.05157, 0.06563), abs=1e-5)
