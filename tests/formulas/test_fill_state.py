"""Whether a diff was full in a run, at and around the counts of its weighings. All figures are constructed."""

from __future__ import annotations

import pytest

from bevelbook.declare.vocabulary import FILL_STATES
from bevelbook.formulas.oil_limits import LossLimits
from bevelbook.formulas.oil_lost import fill_state, loss_of, merged_points
from bevelbook.formulas.readings import Reading

HAIR = 1e-6


@pytest.mark.parametrize(
    ("before", "after", "state"),
    [
        (0.0, 6.0, "full"),
        (5.0, 6.0, "full"),
        (6.0, 6.0, "full"),
        (5.0, 6.0 + HAIR, "doubtful"),
        (6.0, 7.0, "doubtful"),
        (12.0, 13.0, "doubtful"),
        (13.0 - HAIR, 14.0, "doubtful"),
        (13.0, 13.0, "lost oil"),
        (13.0, 14.0, "lost oil"),
        (0.0, 20.0, "doubtful"),
    ],
)
def test_between_the_last_good_and_the_first_bad_weighing_it_is_doubtful(
    before: float, after: float, state: str
) -> None:
    """Sound at run 6, bad at run 13."""
    assert fill_state(before, after, 0.0, 6.0, 13.0, True) == state


@pytest.mark.parametrize(
    ("before", "after", "state"),
    [
        (0.0, 6.0, "full"),
        (5.0, 6.0 + HAIR, "unknown"),
        (6.0, 7.0, "unknown"),
    ],
)
def test_after_the_last_sound_weighing_it_is_not_known(before: float, after: float, state: str) -> None:
    assert fill_state(before, after, 0.0, 6.0, None, True) == state


@pytest.mark.parametrize(
    ("before", "after", "state"),
    [(0.0, 2.0, "unknown"), (1.0, 3.0, "unknown"), (2.0, 3.0, "full"), (2.0 - HAIR, 3.0, "unknown")],
)
def test_before_the_first_weighing_it_is_not_known(before: float, after: float, state: str) -> None:
    """First weighed at run 2: what was lost before that nobody knows."""
    assert fill_state(before, after, 2.0, 6.0, None, True) == state
    assert fill_state(before, after, 2.0, 6.0, 13.0, True) == state


def test_bad_at_the_first_weighing_after_the_fill_leaves_no_run_full() -> None:
    assert fill_state(0.0, 4.0, 0.0, 0.0, 4.0, True) == "doubtful"
    assert fill_state(4.0, 8.0, 0.0, 0.0, 4.0, True) == "lost oil"


def test_without_a_limit_no_run_is_called_full() -> None:
    assert fill_state(0.0, 4.0, 0.0, 6.0, None, False) == "unknown"
    assert fill_state(0.0, 4.0, 0.0, 6.0, 13.0, False) == "unknown"
    assert fill_state(6.0, 8.0, 0.0, 6.0, 13.0, False) == "doubtful"
    assert fill_state(13.0, 14.0, 0.0, 6.0, 13.0, False) == "lost oil"


U2 = 0.01**2 / 12.0
"""Variance of a reading in steps of 0.01 g (JCGM 100:2008, F.2.2.1); of a difference U = 2 sqrt(2 U2) = 0.00816 g."""


@pytest.mark.parametrize(
    ("masses", "good", "bad"),
    [
        (((0, 22.40), (6, 22.39), (13, 22.10)), 6.0, 13.0),
        (((0, 22.40), (6, 22.30), (13, 22.10)), 0.0, 13.0),
        (((0, 22.40), (6, 22.10), (13, 22.39)), 13.0, None),
        (((0, 22.40), (6, 22.39), (9, 22.31), (13, 22.38)), 13.0, None),
        (((0, 22.40), (6, 22.45)), 0.0, None),
        (((2, 22.40), (6, 22.39)), 6.0, None),
        (((2, 22.40), (6, 22.31)), 2.0, None),
    ],
)
def test_the_last_sound_and_the_first_bad_weighing(
    masses: tuple[tuple[float, float], ...], good: float, bad: float | None
) -> None:
    """0.093 g: 0.10 g less 0.00816 g is neither; 0.09 g plus 0.00816 g is neither; 0.05 g heavier says nothing;
    22.10 g between 22.40 and 22.39 g does not count."""
    found = loss_of(
        merged_points(Reading(runs, mass, U2) for runs, mass in masses), LossLimits(0.093, 0.186, "proposal")
    )
    assert (found.first_runs, found.good_until_runs, found.bad_from_runs) == (masses[0][0], good, bad)


def test_the_words_are_those_of_the_vocabulary() -> None:
    asked = [(0.0, 1.0), (6.0, 7.0), (13.0, 14.0)]
    found = {fill_state(before, after, 0.0, 6.0, bad, True) for before, after in asked for bad in (13.0, None)}
    assert found == set(FILL_STATES)
