"""Which of several weighings after the same runs count. All data are constructed.

Two readings with u = 0.00577 g each (step 0.01 g, repeatability 0.005 g) agree up to 3 sqrt 2 u = 0.0245 g (three
standard uncertainties are this project's proposal).
"""

from __future__ import annotations

import pytest

from bevelbook.formulas.disagreeing import disagreements
from bevelbook.formulas.oil_lost import loss_without_runs, merged_points
from bevelbook.formulas.readings import Reading

U2 = 0.01**2 / 12 + 0.005**2


@pytest.mark.parametrize(
    ("masses", "counting", "mass_g"),
    [
        ((22.34, 22.05), (), 22.05),
        ((22.34, 22.05, 22.33), (22.33, 22.34), 22.335),
        ((22.34, 22.05, 22.06), (22.05, 22.06), 22.055),
        ((22.34, 22.20, 22.05), (), 22.05),
        ((22.34, 22.33, 22.05, 22.06), (), 22.05),
        ((22.34, 22.33, 22.05, 22.06, 22.07), (22.05, 22.06, 22.07), 22.06),
        ((22.30, 22.34, 22.32), (22.30, 22.32, 22.34), 22.32),
    ],
    ids=["two", "with the heavier", "with the lighter", "with neither", "two and two", "three and two", "with both"],
)
def test_those_that_agree_count(masses: tuple[float, ...], counting: tuple[float, ...], mass_g: float) -> None:
    readings = [Reading(0.0, 22.40, U2), *(Reading(6.0, one, U2) for one in masses)]
    (found,) = disagreements(readings)
    assert tuple(one[1] for one in found.counting) == counting
    assert merged_points(readings)[1].mass_g == pytest.approx(mass_g, abs=1e-9)
    assert (found.advice == "") is bool(counting)


def test_without_runs_a_third_weighing_settles_it_too() -> None:
    two = [Reading(0.0, 22.35, U2), Reading(0.0, 22.05, U2)]
    unclear = loss_without_runs(two)
    assert unclear is not None
    assert (unclear.verdict, unclear.loss_g) == ("unclear", 0.30)
    settled = loss_without_runs([*two, Reading(0.0, 22.34, U2)])
    assert settled is not None
    assert (settled.verdict, settled.loss_g, settled.first_mass_g) == ("ok", 0.0, 22.345)
    assert loss_without_runs([two[0], Reading(0.0, 22.34, U2)]) is None


def test_all_that_do_not_count_are_named() -> None:
    (found,) = disagreements([Reading(1.0, one, U2) for one in (22.05, 22.34, 22.33, 22.20)])
    assert (
        found.words
        == "of four weighings at 1 run 22.33 g and 22.34 g agree and count; 22.05 g and 22.20 g do not count"
    )
    (open_,) = disagreements([Reading(0.0, 22.4, U2), *(Reading(6.0, one, U2) for one in (22.05, 22.34, 22.20))])
    assert open_.words + open_.advice == (
        "three weighings at 6 runs are up to 0.29 g apart: the lightest one counts, weigh again"
    )
