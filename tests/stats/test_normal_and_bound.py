"""The interval of a mean with an even error, against numerical integration and the two plain cases."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.integrate import quad

from bevelbook.stats.normal_and_bound import half_width


@given(st.floats(0.01, 50.0), st.sampled_from([1.5, 2.0, 3.3, 8.0, 40.0, inf]), st.floats(0.01, 50.0))
def test_the_share_inside_by_integration(sd: float, freedom: float, bound: float) -> None:
    """scipy 1.17: quad over the even error of the distribution function of t, or of the normal one.

    It is divided where the share begins and ends to fall, which quad may step over where ``sd`` is small.
    """
    spread = stats.norm if freedom == inf else stats.t(freedom)
    half = half_width(sd, freedom, bound)
    edges = [sign * (half + steps * sd) for sign in (-1, 1) for steps in (-8, 0, 8)]
    inside, _ = quad(
        lambda off: spread.cdf((half - off) / sd) - spread.cdf((-half - off) / sd),
        -bound,
        bound,
        points=[edge for edge in edges if abs(edge) < bound] or None,
        limit=200,
    )
    assert inside / (2.0 * bound) == pytest.approx(0.95, abs=1e-4)


def test_one_error_alone() -> None:
    """t at 2 degrees of freedom is 4.3027 (printed in every table); an even error within 1 is under 0.95 in 95 %."""
    assert half_width(1.0, 2.0, 0.0) == pytest.approx(4.3027, abs=5e-5)
    assert half_width(0.0, inf, 1.0) == pytest.approx(0.95)
    assert half_width(0.0, inf, 0.0) == 0.0
