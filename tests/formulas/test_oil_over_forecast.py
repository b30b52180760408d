"""Which oil fits a whole forecast: the law against a printed table, and the rule against the calculator for one
temperature."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bevelbook.formulas.expected_temperature import MeasuredPast
from bevelbook.formulas.oil_over_forecast import oils_wanted, wanted_at
from bevelbook.formulas.same_feel_to_come import (
    SAME_RISE_HALF_C,
    AirAndTrack,
    AtEnd,
    Needed,
    WeatherThen,
    compared,
    needed,
    needed_at,
    temperature_needing,
)
from bevelbook_plugins.same_feel import FeelGiven, Label, feel, judge_feel

AT_HAND = (5000.0, 7000.0, 10_000.0)
TABLE_CST = {100.0: (171.0, 64.6, 31.3), 350.0: (598.0, 220.0, 107.0), 1000.0: (1720.0, 633.0, 302.0)}
TABLE_C = (0.0, 50.0, 100.0)
"""Shin-Etsu Chemical Co., Ltd., Silicone Fluid, Performance Test Results, 2014, Table 1 (p. 6): cSt of three grades."""


@pytest.mark.parametrize(("then", "now"), [(0, 1), (1, 0), (1, 2), (0, 2)])
@pytest.mark.parametrize("grade", TABLE_CST)
def test_what_feels_alike_at_another_temperature_is_what_the_table_says(grade: float, then: int, now: int) -> None:
    """An oil of that series that has now what the grade had then: its grade times the ratio of the two printed figures.
    The law is within 2.8 % of each from -10 to 80 °C, within 4 % to 100 °C."""
    printed = TABLE_CST[grade]
    wanted = needed_at(grade, TABLE_C[then], TABLE_C[now])
    assert wanted == pytest.approx(grade * printed[then] / printed[now], rel=0.04)
    assert temperature_needing(wanted, grade, TABLE_C[then], -20.0, 120.0) == pytest.approx(TABLE_C[now])


def test_the_interval_is_carried_through() -> None:
    found = needed(7000.0, 30.0, AtEnd(38.0, 4.0))
    assert found == pytest.approx([needed_at(7000.0, 30.0, at) for at in (38.0, 34.0, 42.0)])


@settings(max_examples=150)
@given(
    st.sampled_from((3000.0, 5000.0, 7000.0, 10_000.0)),
    st.lists(st.sampled_from((3000.0, 5000.0, 6150.0, 7000.0, 10_000.0, 15_000.0)), min_size=1, unique=True),
    st.floats(-5.0, 60.0),
)
def test_at_one_temperature_it_says_what_the_calculator_says(is_in: float, at_hand: list[float], now_c: float) -> None:
    asked = FeelGiven(
        viscosity_cst=is_in,
        temperature_then_c=30.0,
        temperature_now_c=now_c,
        labels=tuple(Label(viscosity_cst=one) for one in at_hand),
    )
    found = feel(asked)
    takes = judge_feel(asked, found).reasons[0].startswith("take")
    cst = needed_at(is_in, 30.0, now_c)
    wanted = oils_wanted(is_in, at_hand, Needed(cst, cst, cst), Needed(cst, cst, cst))
    assert wanted.what == ("change" if takes else "keep")
    assert wanted.oils_cst == ((found.nearest_viscosity_cst,) if takes else (is_in,))


@pytest.mark.parametrize(
    ("is_in", "ends", "what", "oils"),
    [
        (7000.0, (6600.0, 7900.0), "keep", (7000.0,)),
        (5000.0, (9400.0, 10_500.0), "change", (10_000.0,)),
        (7000.0, (5200.0, 10_000.0), "two", (5000.0, 10_000.0)),
        (7000.0, (7000.0, 10_000.0), "two", (7000.0, 10_000.0)),
        (None, (6600.0, 7900.0), "change", (7000.0,)),
        (None, (5000.0, 10_000.0), "two", (5000.0, 10_000.0)),
    ],
)
def test_one_oil_for_all_of_it_or_two(
    is_in: float | None, ends: tuple[float, float], what: str, oils: tuple[float, ...]
) -> None:
    """By hand, 5,000, 7,000 and 10,000 at hand: 7,000 stays from 12,000/2.1 = 5,714 to 17,000/1.9 = 8,947 cSt, where
    its neighbours are over 10 points nearer."""
    low, high = (Needed(one, one * 0.99, one * 1.01) for one in ends)
    found = oils_wanted(is_in, AT_HAND, low, high)
    assert (found.what, found.oils_cst) == (what, oils)


def test_a_blend_may_fit_where_two_labels_would_be_wanted() -> None:
    """By hand, of 5,000 and 10,000: 6,900 wants the thin one (28 against 45 % off), 8,300 the thick one (20 against 40
    %); √(6900 × 8300) = 7,568 is 10 % off at the one end and 9 % at the other."""
    low, high = (Needed(one, one, one) for one in (6900.0, 8300.0))
    at_hand = (5000.0, 10_000.0)
    assert [wanted_at(None, at_hand, end.cst) for end in (low, high)] == list(at_hand)
    found = oils_wanted(10_000.0, at_hand, low, high)
    assert (found.what, found.is_blend) == ("change", True)
    assert found.oils_cst == pytest.approx(((6900.0 * 8300.0) ** 0.5,))


def test_a_wide_interval_leaves_it_unclear() -> None:
    low, high = Needed(8000.0, 7000.0, 9500.0), Needed(8200.0, 7200.0, 9700.0)
    found = oils_wanted(7000.0, AT_HAND, low, high)
    assert (found.what, found.oils_cst, found.or_cst) == ("unclear", (7000.0,), (10_000.0,))


def test_without_measured_days_air_is_compared_with_air_and_is_never_narrow() -> None:
    then = WeatherThen(20.0, 30.0, 35.0)
    found = compared(MeasuredPast([]), then, AirAndTrack(22.0, 33.0), AirAndTrack(28.0, 40.0))
    assert found is not None
    assert (found.basis, found.then_c) == ("air", 20.0)
    assert [(end.temperature_c, end.half_c) for end in (found.low, found.high)] == [
        (22.0, SAME_RISE_HALF_C),
        (28.0, SAME_RISE_HALF_C),
    ]
    on_track = compared(MeasuredPast([]), WeatherThen(None, 30.0), AirAndTrack(22.0, 33.0), AirAndTrack(28.0, 40.0))
    assert on_track is not None and on_track.basis == "track"
    assert compared(MeasuredPast([]), WeatherThen(20.0), AirAndTrack(None, 33.0), AirAndTrack(None, 40.0)) is None
