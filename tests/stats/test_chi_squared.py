"""The tail of chi-squared against scipy."""

from __future__ import annotations

from itertools import product

import pytest
from scipy.special import chdtrc

from bevelbook.stats.chi_squared import chance_of_more


def test_it_is_the_tail_that_scipy_has() -> None:
    for degrees, value in product(range(1, 13), (0.0, 0.5, 3.0, 11.0, 40.0)):
        assert chance_of_more(value, degrees) == pytest.approx(float(chdtrc(degrees, value)), rel=1e-12)
