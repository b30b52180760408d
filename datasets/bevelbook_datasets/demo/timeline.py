"""The runs of both seasons in order: each row with its conditions, the build that was in, and the outcome."""

from __future__ import annotations

from collections import Counter
from functools import cache
from typing import NamedTuple

from bevelbook_datasets.demo.plan import CAR_OF, PLANNED_BUILDS, STINTS, TESTS, VENUE_OF, PlannedBuild, Stint
from bevelbook_datasets.demo.world import (
    BUILDS,
    Weather,
    call_after,
    diff_temperature_c,
    is_measured,
    lap_s,
    miss,
    note_on,
    weather,
    working_cst,
)


class RunRow(NamedTuple):
    """One row of runs."""

    day: str
    sheet: str
    driver: str
    build: PlannedBuild
    front: PlannedBuild | None
    position: str
    event: str
    runs: int
    runs_before: float
    order: int
    tyre_runs: int
    here: Weather
    diff_temp_c: float
    measured: bool
    missed: float
    best_five_s: float
    call: str
    note: str

    @property
    def venue(self) -> str:
        return VENUE_OF[self.day]


def build_of(diff: str, day: str) -> PlannedBuild:
    """The build that a diff had on a day; a full build name is used as it is."""
    if diff in BUILDS:
        return BUILDS[diff]
    return max((one for one in PLANNED_BUILDS if one.diff == diff and one.day <= day), key=lambda one: one.day)


def _stints() -> list[Stint]:
    tests = [
        Stint(test.day, "records", test.driver, {"a": test.thin, "b": test.thick}[one], (1,), test.front, event="test")
        for test in TESTS
        for one in test.order
    ]
    return sorted([*STINTS, *tests], key=lambda stint: stint.day)


@cache
def run_rows() -> tuple[RunRow, ...]:
    """Every row of runs, by day."""
    found: list[RunRow] = []
    run_in: Counter[str] = Counter()
    order: Counter[tuple[str, ...]] = Counter()
    tyres: Counter[tuple[str, ...]] = Counter()
    for number, stint in enumerate(_stints()):
        build = build_of(stint.diff, stint.day)
        front = build_of(stint.front, stint.day) if stint.front else None
        here = weather(stint.day, f"{stint.sheet} {stint.driver}")
        car = (stint.day, stint.sheet, CAR_OF[stint.driver] if stint.sheet == "records" else stint.driver)
        for place, runs in enumerate(stint.rows):
            purpose = (number, place)
            order[car] += 1
            temperature = diff_temperature_c(here, *purpose)
            before = run_in[build.label]
            missed = miss(working_cst(build, temperature, before + runs / 2), here.grip)
            found.append(
                RunRow(
                    day=stint.day,
                    sheet=stint.sheet,
                    driver=stint.driver,
                    build=build,
                    front=front,
                    position=stint.position,
                    event=stint.event,
                    runs=runs,
                    runs_before=before,
                    order=order[car],
                    tyre_runs=tyres[car],
                    here=here,
                    diff_temp_c=temperature,
                    measured=is_measured(stint.day, *purpose),
                    missed=missed,
                    best_five_s=lap_s(
                        VENUE_OF[stint.day], stint.driver, order[car], tyres[car], missed, here, *purpose
                    ),
                    call=call_after(missed, *purpose),
                    note=note_on(missed, *purpose),
                )
            )
            run_in[build.label] += runs
            if front:
                run_in[front.label] += runs
            tyres[car] += runs
    return tuple(found)


@cache
def day_reached(build: PlannedBuild, runs: int) -> str:
    """The day a build had done this many runs."""
    if runs <= 0:
        return build.day
    for row in run_rows():
        if build in (row.build, row.front):
            before = row.runs_before if build == row.build else _front_runs_before(row)
            if before + row.runs >= runs:
                return row.day
    raise ValueError(f"{build.label} never had {runs} runs")


def _front_runs_before(row: RunRow) -> float:
    rows = run_rows()
    return sum(one.runs for one in rows[: rows.index(row)] if row.front in (one.build, one.front))


def runs_of(build: PlannedBuild) -> int:
    """All runs of a build."""
    return sum(row.runs for row in run_rows() if build in (row.build, row.front))
