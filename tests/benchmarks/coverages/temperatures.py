"""Temperatures: at the end of a run from readings after it, and expected of a forecast from the team's own days."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.declare.errors import InputError
from bevelbook.formulas.end_temperature import CoolingReading, EndGiven, end_temperature
from bevelbook.formulas.expected_temperature import MeasuredPast


def cases() -> Iterator[Case]:
    for after_s in (
        (120.0, 300.0),
        (60.0, 600.0),
        (300.0, 420.0),
        (120.0, 300.0, 480.0),
        (90.0, 180.0, 300.0, 480.0, 600.0),
    ):
        minutes = ", ".join(f"{one / 60:g}" for one in after_s)
        for end_c, tau_s in ((40.0, 900.0), (55.0, 600.0)):
            yield Case(
                f"end of the run, read after {minutes} min, {end_c:g} °C, tau {tau_s:g} s",
                "95 %",
                partial(end_holds_truth, after_s=after_s, end_c=end_c, tau_s=tau_s),
            )
    for days, most_runs, day_sd, run_sd in (
        (8, 1, 2.0, 1.5),
        (8, 4, 2.0, 1.5),
        (12, 4, 2.0, 0.7),
        (12, 6, 0.5, 2.0),
        (25, 3, 3.0, 1.0),
    ):
        for only_track in (False, True):
            known = "track" if only_track else "air and track"
            yield Case(
                f"expected of {known}, {days} days of up to {most_runs} runs, sd {day_sd:g} °C a day, {run_sd:g} a run",
                "95 %",
                partial(
                    expected_holds_truth,
                    days=days,
                    most_runs=most_runs,
                    day_sd=day_sd,
                    run_sd=run_sd,
                    only_track=only_track,
                ),
            )
    for days in (8, 16):
        yield Case(
            f"expected where air and track went together, {days} days of up to 3 runs, sd 2 °C a day, 1 a run",
            "95 %",
            partial(
                expected_holds_truth,
                days=days,
                most_runs=3,
                day_sd=2.0,
                run_sd=1.0,
                only_track=False,
                sun_sd=1.0,
            ),
        )


def expected_holds_truth(
    rng: Generator,
    count: int,
    days: int,
    most_runs: int,
    day_sd: float,
    run_sd: float,
    only_track: bool,
    sun_sd: float = 4.0,
) -> NDArray[np.bool_]:
    """One run on a new day with weather like that of the others, where something was expected.

    diff = 6 + 0.5 air + 0.6 track + day + run; readings rounded to 1 °C; air and track drift over a day.
    """
    held = []
    while len(held) < count:
        rows = [row for day in range(days + 1) for row in _a_day(rng, day, most_runs, day_sd, run_sd, sun_sd)]
        past = [row for row in rows if row["day"] < days]
        new = next(row for row in rows if row["day"] == days)
        found = MeasuredPast(past).expected(None if only_track else new["air_temp_c"], new["track_temp_c"])
        if found.low_c is not None and found.high_c is not None:
            held.append(found.low_c <= new["exact_c"] <= found.high_c)
    return np.array(held)


def _a_day(
    rng: Generator, day: int, most_runs: int, day_sd: float, run_sd: float, sun_sd: float
) -> list[dict[str, Any]]:
    """The runs of one day; the exact temperature of the diff beside the one read."""
    air, sun, effect = rng.normal(22.0, 6.0), rng.normal(8.0, sun_sd), rng.normal(0.0, day_sd)
    rows = []
    for run in range(int(rng.integers(1, most_runs + 1))):
        now = air + 0.7 * run
        track = now + sun
        exact = 6.0 + 0.5 * now + 0.6 * track + effect + rng.normal(0.0, run_sd)
        rows.append(
            {
                "day": day,
                "position": None,
                "air_temp_c": round(now),
                "track_temp_c": round(track),
                "diff_temp_c": float(round(exact)),
                "exact_c": exact,
            }
        )
    return rows


def end_holds_truth(
    rng: Generator, count: int, after_s: tuple[float, ...], end_c: float, tau_s: float, air_c: float = 22.0
) -> NDArray[np.bool_]:
    """Readings on Newton's curve, each and the air off by anything up to 1 °C; refused ones are left out."""
    times = np.array(after_s)
    read = air_c + (end_c - air_c) * np.exp(-times / tau_s) + rng.uniform(-1.0, 1.0, (count, len(times)))
    air = air_c + rng.uniform(-1.0, 1.0, count)
    held = []
    for row, ambient in zip(read, air, strict=True):
        readings = tuple(
            CoolingReading(after_s=float(t), temperature_c=float(c)) for t, c in zip(times, row, strict=True)
        )
        try:
            found = end_temperature(EndGiven(readings=readings, ambient_c=float(ambient)))
        except InputError:
            continue
        held.append(found.low_c <= end_c <= found.high_c)
    return np.array(held)
