"""Dry mass, oil and total of one fill. The limits are those of the rules for messy notes; masses are constructed."""

from __future__ import annotations

import pytest

from bevelbook.formulas.mass_agreement import mass_fault


@pytest.mark.parametrize(
    ("dry_g", "oil_g", "total_g", "code"),
    [
        (12.40, 1.86, 14.26, None),
        (12.40, 1.86, 14.41, None),
        (12.40, 1.86, 14.42, "mass_mismatch"),
        (12.40, 1.86, 14.11, None),
        (12.40, 1.86, 14.10, "mass_mismatch"),
        (95.1, None, 14.26, "total_below_dry"),
        (95.1, 1.86, 14.26, "total_below_dry"),
        (12.40, None, 12.39, "total_below_dry"),
        (12.40, None, 12.40, None),
        (12.40, 0.05, 12.35, None),
    ],
)
def test_what_cannot_be_one_fill(dry_g: float, oil_g: float | None, total_g: float, code: str | None) -> None:
    found = mass_fault(dry_g, oil_g, total_g)
    assert (None if found is None else found.code) == code
