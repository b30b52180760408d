"""Which known mass a reading is near. The rule is the project's own; all masses are constructed.

u of a reading on a scale of 0.01 g is 0.01 / sqrt 12 = 0.0029 g; 3 sqrt 2 u = 0.0122 g is what it explains.
"""

from __future__ import annotations

import pytest

from bevelbook.formulas.near_masses import KnownMass, Offset, are_off_alike, fitting, is_equal, offset_of

VARIANCE = 0.01**2 / 12
FILLED = KnownMass("open half", 14.26, VARIANCE, "at the build")
CLOSED = KnownMass("closed", 22.36, VARIANCE, "at the build")
ALL_PARTS = KnownMass("all parts on the pan", 22.40, VARIANCE, "at the build")
OIL_G = 1.86


@pytest.mark.parametrize(
    ("reading_g", "bases"),
    [
        (22.36, ["closed"]),
        (22.37, ["closed"]),
        (22.38, []),
        (22.24, ["closed"]),
        (20.50, ["closed"]),
        (20.48, []),
        (14.14, ["open half"]),
        (12.40, ["open half"]),
        (12.38, []),
    ],
)
def test_a_closed_diff_loses_its_oil_and_gains_nothing(reading_g: float, bases: list[str]) -> None:
    found = fitting(reading_g, VARIANCE, [FILLED, CLOSED], OIL_G)
    assert [one.mass_basis for one in found] == bases


def test_two_bases_that_are_near_each_other_both_fit_nearest_first() -> None:
    found = fitting(22.30, VARIANCE, [CLOSED, ALL_PARTS], OIL_G)
    assert [one.mass_basis for one in found] == ["closed", "all parts on the pan"]


def test_where_the_oil_is_not_known_a_tenth_may_be_lost() -> None:
    """A tenth of 22.36 g is 2.236 g: 20.124 g, and 0.012 g for the scale."""
    assert fitting(20.12, VARIANCE, [CLOSED], None) == [CLOSED]
    assert fitting(20.10, VARIANCE, [CLOSED], None) == []


def test_an_earlier_weighing_on_the_basis_is_named_where_it_is_nearer() -> None:
    later = CLOSED._replace(mass_g=22.05, where="on 17 May 2026")
    assert fitting(22.03, VARIANCE, [CLOSED, later], OIL_G) == [later]


def test_what_the_scale_explains_is_equal() -> None:
    assert is_equal(22.35, VARIANCE, CLOSED)
    assert not is_equal(22.34, VARIANCE, CLOSED)


def test_the_offset_is_from_the_nearest_known_mass() -> None:
    found = offset_of(22.66, VARIANCE, [FILLED, CLOSED])
    assert found is not None
    assert (found.offset_g, found.nearest, found.is_over) == (0.30, CLOSED, True)
    assert offset_of(22.66, VARIANCE, []) is None


@pytest.mark.parametrize(
    ("one_g", "other_g", "alike"),
    [
        (0.30, 0.30, True),
        (0.30, 0.31, True),
        (0.30, 0.33, False),
        (0.01, 0.01, False),
        (0.02, 0.02, True),
        (-0.02, -0.02, False),
        (-0.30, -0.30, True),
        (-0.30, 0.30, False),
    ],
)
def test_two_diffs_off_by_the_same_amount(one_g: float, other_g: float, alike: bool) -> None:
    one, other = (Offset(CLOSED, offset_g, 0.0122) for offset_g in (one_g, other_g))
    assert are_off_alike(one, other) is alike


def test_two_diffs_lighter_by_what_a_coarse_scale_explains_are_not_asked_about() -> None:
    one, other = (Offset(CLOSED, -0.1, 0.25) for _ in range(2))
    assert not are_off_alike(one, other)
    assert are_off_alike(one._replace(offset_g=-0.3), other._replace(offset_g=-0.3))
