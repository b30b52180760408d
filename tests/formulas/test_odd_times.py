"""Which times are asked about. Times are constructed; the limit of 10 % is our own figure."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from bevelbook.formulas.odd_times import odd_times
from bevelbook.formulas.timed_runs import TimedRun, one_figure_a_run, order_fault, place_of, timing_step_s

GOOD = (15.60, 15.50, 15.52, 15.62, 15.61, 15.49, 15.51, 15.63)


def runs_of(times: Sequence[float], day: str | None = None, driver: str | None = None) -> list[TimedRun]:
    return [
        TimedRun(group="abba"[place % 4], order=place + 1, time_s=time, day=day, driver=driver)
        for place, time in enumerate(times)
    ]


def odd_of(runs: Sequence[TimedRun]) -> list[float]:
    return [one.run.time_s for one in odd_times(runs, 0.003).odd]


def test_good_runs_are_not_asked_about() -> None:
    assert odd_of(runs_of(GOOD)) == []


@pytest.mark.parametrize("place", range(8))
@pytest.mark.parametrize("off", [0.3, -0.3])
def test_a_time_far_from_the_scatter_of_the_others_is_asked_about(place: int, off: float) -> None:
    times = [*GOOD]
    times[place] = round(times[place] + off, 2)
    found = odd_times(runs_of(times), 0.003)
    assert [one.run.time_s for one in found.odd] == [times[place]]
    assert found.odd[0].off_s == pytest.approx(off, abs=0.03)
    assert len(found.others) == 7


def test_two_crashes_are_both_asked_about_though_each_hides_the_other() -> None:
    times = [*GOOD[:6], 19.9, 21.3]
    assert sorted(odd_of(runs_of(times))) == [19.9, 21.3]


def test_a_slower_driver_is_not_odd() -> None:
    slower = [round(time + 2.5, 2) for time in GOOD]
    assert odd_of([*runs_of(GOOD, driver="ana"), *runs_of(slower, driver="bo")]) == []


def test_days_of_two_runs_have_no_middle() -> None:
    runs = [run for day in range(4) for run in runs_of((15.0, 18.0), f"day {day}")]
    assert odd_of(runs) == []


def test_at_most_a_quarter_is_taken_as_odd_by_its_scatter() -> None:
    assert len(odd_of(runs_of((15.60, 15.50, 15.50, 15.60, 16.6)))) <= 1


def test_a_run_is_named_by_its_place_day_and_driver() -> None:
    run = runs_of(GOOD, "2026-05-03", "ana")[4]
    assert place_of(run) == "run 5 of 2026-05-03, ana"
    assert place_of(TimedRun(group="a", time_s=15.6)) == ""


def test_laps_of_one_run_are_averaged_per_group_day_driver_and_order() -> None:
    laps = [*runs_of(GOOD[:2]), *runs_of((15.70,)), *runs_of((15.9,), driver="bo")]
    found = one_figure_a_run(laps)
    assert [run.time_s for run in found.runs] == pytest.approx([15.65, 15.50, 15.9])
    assert (found.laps, found.of) == (2, 1)


def test_two_drivers_may_share_places_and_one_driver_may_not() -> None:
    a, b = (
        TimedRun(group="a", order=1, time_s=15.6, driver="ana"),
        TimedRun(group="b", order=1, time_s=15.5, driver="bo"),
    )
    assert order_fault([a, b, *runs_of(GOOD, driver="cy")]) is None
    b = TimedRun(group="b", order=1, time_s=15.5, driver="ana")
    assert order_fault([a, b, *runs_of(GOOD)]) == "the order 1 is given to a run of a and to a run of b, ana"


@pytest.mark.parametrize(
    ("times", "step"), [((15.0,), 1.0), ((15.6, 15.62), 0.01), ((15.601, 15.6), 0.001), ((1 / 3,), 0)]
)
def test_the_step_of_times_is_that_of_their_last_digit(times: tuple[float, ...], step: float) -> None:
    assert timing_step_s(times) == step
