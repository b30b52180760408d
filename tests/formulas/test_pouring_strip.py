"""The readings to watch for while pouring, against what fill-target says of each and against the scale's steps."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.formulas.fill_target import FillGiven, fill
from bevelbook.formulas.pouring_strip import blank_strip, pouring_strip

STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)


@given(st.integers(50, 600_000), st.integers(5_000, 120_000), st.sampled_from(STEPS))
def test_a_row_says_what_fill_target_says_of_its_reading(oil: int, dry: int, step: float) -> None:
    """Also that the scale can show each reading, that they rise, and that the last is the stop."""
    oil_mass_g, dry_mass_g = oil / 10_000, dry / 1000
    rows = pouring_strip(oil_mass_g, 0.02, step, dry_mass_g)
    assert len(rows) <= 22
    for row in rows:
        assert row.reading_g is not None
        given_now = FillGiven(
            dry_mass_g=dry_mass_g, oil_mass_g=oil_mass_g, scale_step_g=step, reading_g=row.reading_g, fill_window_g=0.02
        )
        found = fill(given_now)
        assert row.to_go_g == pytest.approx(dry_mass_g + oil_mass_g - row.reading_g)
        if row.reading_g > 1.5 * oil_mass_g:
            assert row.to_go_g == pytest.approx(found.remaining_g), "a smaller reading is taken as of the oil alone"
        for shown in (row.reading_g, row.zeroed_g):
            steps = Decimal(str(shown)) / Decimal(str(step))
            assert steps == steps.to_integral_value()
    readings = [row.zeroed_g or 0.0 for row in rows]
    assert readings == sorted(set(readings))
    assert [row.is_stop for row in rows] == [False] * (len(rows) - 1) + [True]
    assert abs(rows[-1].to_go_g) <= step / 2 + 1e-9


def test_the_rows_of_a_usual_fill() -> None:
    """By hand: 12.39 g dry and 1.86 g of oil; full steps of 0.2 g to go, then 0.1, 0.05 and 0.02 g."""
    rows = pouring_strip(1.86, 0.02, 0.01, 12.39)
    assert [round(row.to_go_g, 2) for row in rows] == [
        *(1.86, 1.6, 1.4, 1.2, 1.0, 0.8, 0.6, 0.4, 0.2, 0.1, 0.05, 0.02, 0.0)
    ]
    assert [row.reading_g for row in rows[-3:]] == [14.20, 14.23, 14.25]
    assert [row.zeroed_g for row in rows[-3:]] == [1.81, 1.84, 1.86]
    assert [row.is_fine for row in rows[-3:]] == [False, True, True]


def test_without_a_dry_mass_the_zeroed_scale_is_known() -> None:
    rows = pouring_strip(1.86, 0.02, 0.01)
    assert {row.reading_g for row in rows} == {None}
    assert rows[-1].zeroed_g == 1.86


def test_a_coarse_scale_has_no_row_that_it_cannot_show() -> None:
    """Steps of 0.1 g: 14.25 g is between two readings, and the lower one is the stop."""
    rows = pouring_strip(1.85, 0.02, 0.1, 12.4)
    assert [row.reading_g for row in rows[-3:]] == [14.0, 14.1, 14.2]
    assert rows[-1].to_go_g == pytest.approx(0.05)


def test_a_blank_strip_says_what_is_to_go() -> None:
    rows = blank_strip()
    assert [row.to_go_g for row in rows[:6]] == [1.2, 1.0, 0.8, 0.6, 0.4, 0.2]
    assert (rows[-1].to_go_g, rows[-1].is_stop) == (0.0, True)
    assert {(row.reading_g, row.zeroed_g) for row in rows} == {(None, None)}
