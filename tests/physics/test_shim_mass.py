"""The mass of a flat ring, against a hand calculation."""

from __future__ import annotations

import pytest

from bevelbook.physics.shim_mass import shim_mass_g


def test_the_mass_of_a_shim() -> None:
    """pi/4 (7^2 - 5^2) 0.2 mm3 = 3.770 mm3, times 7.85 mg/mm3 = 29.59 mg."""
    assert shim_mass_g(5, 7, 0.2) == pytest.approx(0.02959, abs=5e-6)
