"""How far readings are off together: the matrix for many points against each two of them. All data are constructed."""

from __future__ import annotations

import pytest

from bevelbook.formulas.housing_moisture import Housing
from bevelbook.formulas.readings import Point, Reading, covariance_g2, covariances_g2, own_uncertainty_g, point_of

NYLON = Housing("nylon")


def reading(runs: float, day: int, housing: Housing | None = NYLON, key: str | None = None) -> Reading:
    return Reading(runs, 22.35, 3e-5, f"day {day}" if key is None else key, 4e-6, housing, day)


@pytest.mark.parametrize("housing", [NYLON, None], ids=["nylon", "metal"])
def test_the_matrix_holds_the_covariance_of_each_two(housing: Housing | None) -> None:
    """Days up to 49 apart share water, weighings of one day share its shift, one without readings nothing."""
    points = [
        point_of(0.0, 22.35, (reading(0.0, 0, housing), reading(0.0, 1, housing))),
        point_of(3.0, 22.35, (reading(3.0, 1, housing),)),
        point_of(6.0, 22.35, (reading(6.0, 49, housing), reading(6.0, 1, housing))),
        point_of(9.0, 22.35, (reading(9.0, 50, housing, ""),)),
        point_of(12.0, 22.35, (reading(12.0, 120, housing, ""),)),
        Point(15.0, 22.35, 0.006),
    ]
    found = covariances_g2(points)
    for row, one in zip(found, points, strict=True):
        assert row == pytest.approx([covariance_g2(one, other) for other in points])
    assert found[0][1] > 0.0


def test_a_point_by_its_own_readings_alone() -> None:
    one = point_of(0.0, 22.35, (reading(0.0, 0), reading(0.0, 1)))
    assert own_uncertainty_g(one) == pytest.approx((3e-5 / 2) ** 0.5)
    assert own_uncertainty_g(Point(0.0, 22.35, 0.006)) == 0.006
