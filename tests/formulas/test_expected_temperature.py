"""What temperature the diff will have: what is refused, what falls to one of air and track, and how often it is right.

All runs are constructed.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from benchmarks.coverages.temperatures import expected_holds_truth

from bevelbook.formulas.expected_temperature import (
    ExpectedGiven,
    MeasuredDiff,
    MeasuredPast,
    expected_temperature,
    expected_working,
    judge_expected,
)
from bevelbook.plugin.returned_values import Judgement

WEATHER = ((14, 17), (16, 26), (18, 21), (19, 33), (21, 24), (23, 37), (24, 29), (26, 41), (28, 34), (30, 46))


def rows(weather: Any = WEATHER, rise: float = 9.0) -> list[dict[str, Any]]:
    """A run a day: diff = rise + 0.5 air + 0.4 track and a little scatter."""
    return [
        {
            "air_temp_c": float(air),
            "track_temp_c": float(track),
            "diff_temp_c": round(rise + 0.5 * air + 0.4 * track + (-1) ** place),
            "day": f"2026-05-{place + 1:02}",
            "position": "rear",
        }
        for place, (air, track) in enumerate(weather)
    ]


def judged(past: list[dict[str, Any]], **given: Any) -> Judgement:
    both = ExpectedGiven(past=tuple(MeasuredDiff(**row) for row in past), **given)
    found = expected_temperature(both)
    assert (found.expected_temperature_c is None) == (found.low_c is None) == (found.rests_on is None)
    assert expected_working(both, found)
    return judge_expected(both, found)


def test_air_and_track_inside_what_was_seen() -> None:
    """9 + 0.5 × 22 + 0.4 × 30 = 32."""
    found = MeasuredPast(rows()).expected(22.0, 30.0)
    assert found.value_c == pytest.approx(32.0, abs=1.0)
    assert (found.days, found.runs, found.remarks) == (10, 10, ())
    assert found.words.startswith("expected from 10 own days, 32 °C, ")
    said = judged(rows(), air_temp_c=22.0, track_temp_c=30.0)
    assert (said.verdict, "from 10 own days" in said.reasons[0]) == ("ok", True)


@pytest.mark.parametrize(
    ("past", "given", "why"),
    [
        (rows()[:7], {"air_temp_c": 20.0, "track_temp_c": 25.0}, "8 days with air and track and the diff measured are"),
        (rows()[:1], {"track_temp_c": 17.0}, "needed, there is 1"),
        (
            rows(),
            {"air_temp_c": 22.0, "track_temp_c": 50.0},
            "track at 50 °C is outside what you measured in, 17 to 46",
        ),
        (rows(), {"air_temp_c": 10.0, "track_temp_c": 30.0}, "air at 10 °C is outside what you measured in, 14 to 30"),
        (rows(), {"air_temp_c": 29.5, "track_temp_c": 18.0}, "air and track were never together like this"),
        (rows([(20, 30)] * 9), {"air_temp_c": 20.0, "track_temp_c": 30.0}, "the track was 30 °C every time"),
        (rows([(20, 30)] * 9), {"air_temp_c": 21.0, "track_temp_c": 30.0}, "20 °C every time"),
        (
            [{**row, "day": "2026-05-01"} for row in rows()],
            {"air_temp_c": 22.0, "track_temp_c": 30.0},
            "needed, there is 1",
        ),
    ],
)
def test_nothing_is_expected_where_the_past_does_not_reach(
    past: list[dict[str, Any]], given: dict[str, float], why: str
) -> None:
    said = judged(past, **given)
    assert (said.verdict, why in said.reasons[0]) == ("unclear", True), said.reasons


def test_one_of_the_two_alone_is_used_and_said() -> None:
    track = judged(rows(), track_temp_c=30.0)
    assert "from the track alone, the other is not known" in track.findings[0]
    without_air = [{**row, "air_temp_c": None} for row in rows()]
    found = MeasuredPast(without_air).expected(22.0, 30.0)
    assert found.rests_on == ("track_temp_c",)
    assert (
        "from the track alone: 8 days with air and track and the diff measured are needed, there are none"
        in (found.remarks[0])
    )


def test_air_and_track_that_went_together_count_as_one_and_only_like_that() -> None:
    together = rows([(air, air + 8 + air % 2) for air in range(14, 30, 2)] + [(25, 34), (27, 35)])
    found = MeasuredPast(together).expected(22.0, 30.0)
    assert found.rests_on == ("track_temp_c",)
    assert found.remarks == ("from the track alone: air and track went up and down together",)
    apart = MeasuredPast(together).expected(15.0, 35.0)
    assert apart.why_none == "air and track were never this far apart on any of those days"


def test_front_and_rear_are_kept_apart() -> None:
    front = [{**row, "position": "front", "diff_temp_c": row["diff_temp_c"] - 10} for row in rows()]
    mixed = [*rows(), *front]
    rear = MeasuredPast(mixed, "rear").expected(22.0, 30.0)
    assert rear.value_c == MeasuredPast(rows()).expected(22.0, 30.0).value_c
    assert rear.remarks == ("left out: 10 runs with the diff not at the rear, or nowhere said",)
    together = MeasuredPast(mixed).expected(22.0, 30.0)
    assert together.remarks == ("diffs at front and rear are taken together: say the position to keep them apart",)
    assert (together.days, together.runs) == (10, 20)


def test_readings_all_alike_are_not_taken_for_certain() -> None:
    """A reading may be off by 1 °C: at least t(8) × 0.577 = 1.33 °C either way."""
    same = [{**row, "diff_temp_c": 38.0} for row in rows()]
    found = MeasuredPast(same).expected(None, 30.0)
    assert found.high_c is not None and found.value_c == pytest.approx(38.0)
    assert found.high_c - 38.0 == pytest.approx(2.306 * 0.5774, abs=0.001)


def test_too_wide_is_a_caution() -> None:
    wild = [{**row, "diff_temp_c": row["diff_temp_c"] + 12 * (-1) ** (place // 2)} for place, row in enumerate(rows())]
    said = judged(wild, air_temp_c=22.0, track_temp_c=30.0)
    assert (said.verdict, "too wide to choose an oil by" in said.reasons[1]) == ("caution", True)


def test_the_interval_holds_one_new_run_as_often_as_it_says() -> None:
    """300 simulations with effects of the day; by hand 2,000 of each case: tests/benchmarks/interval_coverage.py."""
    held = expected_holds_truth(np.random.default_rng(41), 300, 12, 4, 2.0, 0.7, False)
    assert 0.91 <= held.mean() <= 0.985


@pytest.mark.parametrize(("undated", "verdict"), [(10, "caution"), (3, "caution"), (2, "ok"), (0, "ok")])
def test_readings_without_a_day_are_said_and_with_under_eight_known_days_it_is_a_caution(
    undated: int, verdict: str
) -> None:
    past = [row | {"day": None} if place < undated else row for place, row in enumerate(rows())]
    said = judged(past, air_temp_c=22.0, track_temp_c=30.0)
    words = (
        f"{undated} readings without a day: each counts as a day of its own, though readings of one day are alike; "
        "give the day"
    )
    assert said.verdict == verdict
    assert (words in said.reasons) == (verdict == "caution")
    assert (words in said.findings) == (verdict == "ok" and undated > 0)
