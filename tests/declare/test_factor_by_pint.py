"""Factors of units by their names in a library, against tables."""

from __future__ import annotations

import pytest

from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.factor_by_pint import factor_by_pint


@pytest.mark.parametrize(
    ("unit", "base", "factor"),
    [("knot", "meter/second", 1852 / 3600), ("horsepower", "watt", 745.69987), ("inch", "millimeter", 25.4)],
)
def test_factors_that_a_table_prints(unit: str, base: str, factor: float) -> None:
    """NIST Special Publication 811 (2008), Appendix B.8: knot, horsepower (550 ft lbf/s) and inch (from memory)."""
    assert factor_by_pint(unit, base) == pytest.approx(factor, rel=1e-8)


@pytest.mark.parametrize(
    ("unit", "base"),
    [("knott", "meter/second"), ("gram", "meter"), ("degF", "degC"), ("1 knot +", "meter"), ("", "watt")],
)
def test_what_is_no_factor_is_refused(unit: str, base: str) -> None:
    with pytest.raises(DeclarationError) as refused:
        factor_by_pint(unit, base)
    assert refused.value.code == "no_factor_by_pint"
    assert "factor" in str(refused.value)
