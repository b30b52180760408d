"""What is said to a reading while pouring, against what fill-target works out for the same reading."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.formulas.fill_target import FillGiven, fill, judge_fill
from bevelbook.formulas.pouring_goal import PouringGoal, for_script, goal_of_masses, pouring_goal, pouring_in_short

STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)


def goal(dry_mass_g: float = 12.40, oil_mass_g: float = 1.86, scale_step_g: float = 0.01) -> PouringGoal:
    asked = FillGiven(dry_mass_g=dry_mass_g, oil_mass_g=oil_mass_g, scale_step_g=scale_step_g)
    return pouring_goal(asked, fill(asked))


@given(st.integers(5_000, 60_000), st.integers(500, 6_000), st.integers(0, 9_000), st.sampled_from(STEPS))
def test_a_reading_says_what_fill_target_says_of_it(dry: int, oil: int, above: int, step: float) -> None:
    """Grams to go, too much or full, and whether the scale was zeroed: each as the calculator judges it."""
    reading = round(round((dry + above - 3000) / 1000 / step) * step, 6)
    asked = FillGiven(dry_mass_g=dry / 1000, oil_mass_g=oil / 1000, scale_step_g=step, reading_g=max(reading, 0.0))
    found = fill(asked)
    said = judge_fill(asked, found).reasons
    words = pouring_in_short(pouring_goal(asked, found), max(reading, 0.0))
    assert found.remaining_g is not None
    of_pouring = next(one for one in said if "room" not in one)
    if words.startswith("less than"):
        assert "less than the diff weighed dry" in of_pouring
    elif "to go" in words:
        assert words.split(";")[0] in of_pouring
    elif "over" in words:
        assert words.partition(" g over")[0] in of_pouring
        assert "too much" in of_pouring
    elif not words.startswith("do you mean"):
        assert of_pouring == words.split(";")[0].replace("this scale shows", "this scale can show")
    assert ("scale zeroed" in words) == (found.zeroed_stop_g is not None)


def test_the_stop_mass_is_a_reading_of_the_scale() -> None:
    assert goal(12.40, 1.857).stop_g == 14.26
    assert goal(12.40, 1.857, 0.1).stop_g == 14.3


@pytest.mark.parametrize(
    ("reading", "said"),
    [(1436.0, "do you mean 14.36 g?"), (143.6, "do you mean 14.36 g?"), (99.0, "far from the stop mass")],
    ids=str,
)
def test_a_decimal_point_that_slipped_is_asked_about(reading: float, said: str) -> None:
    assert pouring_in_short(goal(), reading).startswith(said)


def test_a_script_gets_every_number_with_all_its_digits() -> None:
    given_to_it = for_script(goal())
    assert float(given_to_it["stop"]) == 12.40 + 1.86
    assert given_to_it["decimals"] == "2"
    assert given_to_it["words-to-go"] == "{} g to go"
    assert for_script(goal_of_masses(12.40, 1.86, 0.02, 0.1))["words-full"].startswith("full, as near")
