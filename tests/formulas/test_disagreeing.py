"""Which of several weighings after the same runs count. All data are constructed.

Two readings with u = 0.00577 g each (step 0.01 g, repeatability 0.005 g) agree up to 3 sqrt 2 u = 0.0245 g (three
standard uncertainties are our own figure).
"""

from __future__ import annotations

import pytest

from bevelbook.formulas.disagreeing import disagreements
from bevelbook.formulas.oil_limits import LossLimits
from bevelbook.formulas.oil_lost import loss_without_runs, merged_points
from bevelbook.formulas.readings import Reading

LIMITS = LossLimits(0.093, 0.186, "proposal")
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
    assert "at 6 runs" in found.words


def test_where_one_between_agrees_with_both_all_count_and_it_is_said_how_far_they_are_apart() -> None:
    (found,) = disagreements([Reading(0.0, 22.40, U2), *(Reading(6.0, one, U2) for one in (22.30, 22.34, 22.32))])
    assert found.words == "three weighings at 6 runs are up to 0.04 g apart, and all count"


def test_without_runs_a_third_weighing_settles_it_too() -> None:
    two = [Reading(0.0, 22.35, U2), Reading(0.0, 22.05, U2)]
    unclear = loss_without_runs(two, LIMITS)
    assert unclear is not None
    assert (unclear.verdict, unclear.loss_g) == ("unclear", 0.30)
    settled = loss_without_runs([*two, Reading(0.0, 22.34, U2)], LIMITS)
    assert settled is not None
    assert (settled.verdict, settled.loss_g, settled.first_mass_g) == ("ok", 0.0, 22.345)
    assert loss_without_runs([two[0], Reading(0.0, 22.34, U2)], LIMITS) is None


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


ON = ("2026-05-10", "2026-05-11", "2026-05-30", "2026-06-30", "2026-07-30")


@pytest.mark.parametrize(
    ("masses", "days", "verdict", "loss_g", "bad_from_runs"),
    [
        ((22.35, 22.34, 22.05), ON, "unclear", 0.30, None),
        ((22.35, 22.34, 22.05, 21.85), ON, "stop", 0.50, 6.0),
        ((22.35, 22.34, 22.05, 22.05), ON, "stop", 0.30, 6.0),
        ((22.35, 22.05, 22.05), (ON[0], ON[2], ON[2]), "stop", 0.30, 6.0),
        ((22.35, 22.22, 22.22), ON, "caution", 0.13, 6.0),
        ((22.35, 22.25, 22.25), ON, "unclear", 0.10, None),
        ((22.35, 22.31, 22.31), ON, "ok", 0.04, None),
        ((22.35, 22.05, 22.34), ON, "ok", 0.0, None),
        ((22.05, 22.34, 22.35), ON, "ok", 0.0, None),
        ((22.34, 22.60, 22.34), ON, "ok", 0.0, None),
        ((22.05, 22.34), ON, "unclear", 0.29, None),
        ((22.05, 22.34, 22.34, 22.05), ON, "unclear", 0.29, None),
        ((22.35, 22.05, 22.34), (ON[0], ON[2], ON[2]), "ok", 0.0, None),
        ((22.35, 22.34, 22.05), ("",) * 3, "ok", 0.0, None),
        ((22.35, 22.34, 22.05), ("sat", "sun", "mon"), "unclear", 0.30, None),
    ],
)
def test_a_later_day_that_is_clearly_lighter_is_not_outvoted(
    masses: tuple[float, ...], days: tuple[str, ...], verdict: str, loss_g: float, bad_from_runs: float | None
) -> None:
    """5 and 10 % of 1.86 g are 0.093 and 0.186 g; U = 2 sqrt 2 x 0.00577 = 0.0163 g between two readings."""
    found = loss_without_runs([Reading(6.0, one, U2, date=day) for one, day in zip(masses, days, strict=False)], LIMITS)
    assert found is not None
    assert (found.verdict, found.loss_g, found.bad_from_runs) == (
        verdict,
        pytest.approx(loss_g, abs=0.011),
        bad_from_runs,
    )


def test_what_was_lost_standing_is_said_with_its_days() -> None:
    readings = [Reading(6.0, one, U2, date=day) for one, day in zip((22.35, 22.34, 22.05, 22.05), ON, strict=False)]
    (open_,), (found,) = disagreements(readings[:3]), disagreements(readings)
    assert open_.words + open_.advice == (
        "three weighings at 6 runs are up to 0.30 g apart, between 2026-05-11 and 2026-05-30: lost standing, or "
        "something else was on the scale: weigh again"
    )
    assert found.words + found.advice == "0.30 g went at 6 runs while it stood, between 2026-05-11 and 2026-05-30"
    before = Reading(0.0, 22.36, U2, date="2026-05-09")
    assert [one.mass_g for one in merged_points([before, *readings])] == [22.36, 22.05]
    (first,) = merged_points([one._replace(runs=0.0) for one in readings])
    assert first.mass_g == 22.35
