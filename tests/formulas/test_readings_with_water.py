"""Readings with the water in a housing: who shares it, what a sister takes off, what cannot be read (constructed)."""

from __future__ import annotations

from math import sqrt

import pytest

from bevelbook.formulas.housing_moisture import Housing, moisture_g
from bevelbook.formulas.leak import LeakGiven, LeakWeighing, judge_leak, leak
from bevelbook.formulas.readings import Reading, uncertainty_between_g
from bevelbook.formulas.readings_with_water import day_number, with_water

NYLON = Housing("nylon", 5.0)
VARIANCE = 3.333e-5
THREE = [Reading(runs, mass_g, VARIANCE) for runs, mass_g in ((0.0, 22.35), (6.0, 22.38), (9.0, 22.36))]
DAYS = ["2026-05-01", "2026-05-08", "2026-05-08"]


def test_water_between_days_is_in_the_difference_and_on_one_day_is_not() -> None:
    first, second, third = with_water(THREE, DAYS, [None] * 3, NYLON)
    scale = sqrt(2.0 * VARIANCE)
    assert uncertainty_between_g(first, second) == pytest.approx(sqrt(scale**2 + moisture_g(NYLON, 7.0) ** 2))
    assert uncertainty_between_g(second, third) == pytest.approx(scale)


@pytest.mark.parametrize(
    ("days", "housing"),
    [(DAYS, Housing("aluminium")), (["2026-05-01"] * 3, NYLON), ([None] * 3, NYLON), (["race day"] * 3, NYLON)],
)
def test_metal_one_day_and_no_day_change_nothing(days: list[str | None], housing: Housing) -> None:
    assert with_water(THREE, days, [None] * 3, housing) == THREE


def test_a_reading_without_a_day_counts_as_of_the_first_day() -> None:
    first, second, third = with_water(THREE, ["2026-05-01", None, "2026-05-08"], [None] * 3, NYLON)
    assert uncertainty_between_g(first, second) == pytest.approx(sqrt(2.0 * VARIANCE))
    assert uncertainty_between_g(first, third) > uncertainty_between_g(first, second)


def test_a_sister_takes_its_water_off_and_leaves_the_scale_alone() -> None:
    first, second, third = with_water(THREE, DAYS, [4.98, 5.01, 5.00], NYLON)
    assert (second.mass_g, third.mass_g) == (22.35, 22.34)
    assert uncertainty_between_g(first, second) == pytest.approx(sqrt(4.0 * VARIANCE))


def test_a_reading_without_a_sister_keeps_the_water() -> None:
    first, second, third = with_water(THREE, DAYS, [4.98, None, 5.01], NYLON)
    assert second.mass_g == 22.38
    assert third.mass_g == pytest.approx(22.33)
    assert uncertainty_between_g(first, second) > moisture_g(NYLON, 7.0)
    assert uncertainty_between_g(first, third) < moisture_g(NYLON, 7.0)


def test_one_sister_alone_says_nothing() -> None:
    assert with_water(THREE, DAYS, [4.98, None, None], NYLON) == with_water(THREE, DAYS, [None] * 3, NYLON)


def test_a_sister_of_the_same_day_is_only_noise() -> None:
    assert with_water(THREE, ["2026-05-01"] * 3, [4.98, 4.99, 4.98], NYLON) == THREE


@pytest.mark.parametrize(
    ("day", "number"), [("2026-05-02", 739738), ("2", 2), ("", None), ("in May", None), ("2026-13-40", None)]
)
def test_days_are_dates_or_numbers(day: str, number: int | None) -> None:
    assert day_number(day) == number


def given(*weighings: tuple[float, float, str, float | None], material: str | None) -> LeakGiven:
    return LeakGiven(
        weighings=tuple(
            LeakWeighing(runs=runs, mass_g=mass_g, day=day, sister_mass_g=sister_g)
            for runs, mass_g, day, sister_g in weighings
        ),
        repeatability_g=0.005,
        day_to_day_g=0.0,
        oil_mass_g=1.5,
        housing_material=material,
    )


DRY_THEN_WET = ((0.0, 22.35, "2026-05-01", None), (6.0, 22.30, "2026-05-08", None))


def test_a_small_loss_of_a_nylon_diff_between_days_is_unclear_and_the_words_say_why() -> None:
    asked = given(*DRY_THEN_WET, material="nylon")
    judged = judge_leak(asked, leak(asked))
    assert judged.verdict == "unclear"
    assert any("± 0.043 g (k = 2) between these days; weigh an empty sister housing" in each for each in judged.reasons)


def test_one_not_noted_is_asked_for_and_metal_is_never_named() -> None:
    unknown, metal = (given(*DRY_THEN_WET, material=material) for material in (None, "aluminium"))
    assert "note what the housing is made of" in " ".join(judge_leak(unknown, leak(unknown)).reasons)
    judged = judge_leak(metal, leak(metal))
    assert judged.verdict == "ok"
    assert "water" not in " ".join(judged.reasons)


def test_a_sister_decides_it() -> None:
    wet = ((0.0, 22.35, "2026-05-01", 4.98), (6.0, 22.38, "2026-05-08", 5.01))
    asked = given(*wet, material="nylon")
    judged = judge_leak(asked, leak(asked))
    assert judged.verdict == "ok"
    assert "0.03 g of water by the sister housing, taken off" in judged.reasons


def test_water_hides_no_real_leak() -> None:
    asked = given((0.0, 22.35, "2026-05-01", None), (6.0, 22.05, "2026-05-08", None), material="nylon")
    assert judge_leak(asked, leak(asked)).verdict == "stop"
