"""How much ``check`` finds in a year in which nothing is wrong: every finding is a false alarm.

Truth: a team with 4 diffs, 40 builds, 200 runs. Each build is washed out and weighed dry (up to 0.01 g of old oil stays
in, as much as the check of dry masses allows for), filled to a target that a hand hits within a drop, closed, weighed
again after each of two days of running, and before it is opened. No oil is lost and no part is changed. The scale
scatters and rounds as its record says; where it has a term from day to day it is off by that on each day. What is
about the scale itself is not counted.

A share is of builds: findings of one kind over the number of builds. What nothing is printed for has no nominal value;
``allowed`` is what this project can live with: of a hundred builds a handful may get one wrong "worth a look", and as
good as none a wrong caution or stop. All cases of one team look at the same years, from a start of their own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator, default_rng
from numpy.typing import NDArray

from bevelbook.facts.renew import renew_touched
from bevelbook.facts.touched_diffs import watch
from bevelbook.plugin.registry import load
from bevelbook.records import BY_NAME
from bevelbook.reports.check import check
from bevelbook.store import entries
from bevelbook.store.opening import new_database
from bevelbook.store.writing import Writer

DIFFS, BUILDS_OF_A_DIFF, RUNS_OF_A_DAY = 4, 10, (3, 2)
BUILDS = DIFFS * BUILDS_OF_A_DIFF
START = 20_260_504
FIRST_DAY = date(2025, 1, 4)
NOW = "2026-01-31T10:00:00.000Z"


class TeamOfTruth(NamedTuple):
    """The scale's step, repeatability and term from day to day in g; whether the oil is weighed by itself as well."""

    step_g: float
    repeatability_g: float
    day_to_day_g: float = 0.0
    oil_by_itself: bool = False


TEAMS = {
    "0.01 g scale": TeamOfTruth(0.01, 0.005),
    "0.01 g scale, oil weighed by itself": TeamOfTruth(0.01, 0.005, oil_by_itself=True),
    "0.01 g scale off 0.01 g from day to day": TeamOfTruth(0.01, 0.005, day_to_day_g=0.01),
    "0.001 g scale": TeamOfTruth(0.001, 0.002),
}
SEVERE = (0.0, 0.01)
MILD = (0.0, 0.05)


def cases() -> Iterator[Case]:
    for name, team in TEAMS.items():
        for severities, said, allowed in (
            (("stop", "caution"), "caution or stop", SEVERE),
            (("worth a look",), "worth a look", MILD),
        ):
            simulate = partial(has_false_finding, team=team, severities=severities)
            yield Case(f"{said} on a build, {name}", "none is due", simulate, allowed)


def has_false_finding(rng: Generator, count: int, team: TeamOfTruth, severities: tuple[str, ...]) -> NDArray[np.bool_]:
    """As many yes as there are findings of these severities, over the builds of as many years as ``count`` needs."""
    years = max(1, round(count / BUILDS))
    found = sum(number for (severity, _), number in findings_of(team, years).items() if severity in severities)
    return np.arange(min(count, years * BUILDS)) < found


@cache
def findings_of(team: TeamOfTruth, years: int) -> Counter[tuple[str, str]]:
    """How many findings there are in so many years, by severity and code."""
    rng, registry = default_rng(START), load()
    found: Counter[tuple[str, str]] = Counter()
    for _ in range(years):
        with TemporaryDirectory() as folder:
            connection = new_database(Path(folder) / "team.db")
            try:
                connection.execute("BEGIN IMMEDIATE")
                entries.begin(connection, asked="a clean year", by="ana")
                watch(connection)
                _write_year(Writer(connection, "ana", lambda: NOW), rng, team)
                renew_touched(connection)
                every = check(connection, registry).every
                found.update((one.severity, one.code) for one in every if one.subject_table != "scales")
            finally:
                connection.rollback()
                connection.close()
    return found


def _write_year(writer: Writer, rng: Generator, team: TeamOfTruth) -> None:
    def add(kind: str, /, **values: object) -> str:
        return writer.insert(BY_NAME[kind], values)

    shifts: dict[date, float] = {}

    def reads(true_g: float, day: date) -> float:
        shift = shifts.setdefault(day, float(rng.normal(0.0, team.day_to_day_g)))
        shown = true_g + shift + rng.normal(0.0, team.repeatability_g)
        return round(round(shown / team.step_g) * team.step_g, 6)

    scale = add(
        "scale", name="bench", step_g=team.step_g, repeatability_g=team.repeatability_g,
        day_to_day_g=team.day_to_day_g, checked_on=str(FIRST_DAY),
    )  # fmt: skip
    oil = add("fluid", label="7k", viscosity_cst=7000.0, viscosity_source="its label")
    bottle = add(
        "bottle", fluid=oil, lot="A", viscosity_cst=6950.0, viscosity_uncertainty_cst=150.0, opened_on=NOW[:10]
    )
    venue = add("venue", name="hall", surface="carpet")
    for number in range(DIFFS):
        label = f"diff-{number}"
        diff = add("diff", label=label, usual_position="rear", housing_material="aluminium", free_volume_cm3=2.3)
        empty, lid = rng.uniform(12.2, 12.6), rng.uniform(8.0, 8.2)
        for place in range(BUILDS_OF_A_DIFF):
            day = FIRST_DAY + timedelta(days=36 * place)
            left_in = rng.uniform(0.0, 0.01)
            dry = reads(empty + left_in, day)
            true_oil = 1.86 + rng.uniform(-0.015, 0.015)
            poured = reads(true_oil, day) if team.oil_by_itself else None
            filled = reads(empty + left_in + true_oil, day)
            closed = empty + left_in + true_oil + lid
            build = add(
                "build", label=f"{label}/{place + 1}", diff=diff, built_on=str(day), kind="rebuild", washed="yes",
                fluid=oil, bottle=bottle, dry_mass_g=dry, target_oil_mass_g=1.86, filled_mass_g=filled,
                oil_mass_g=poured or round(filled - dry, 6), closed_mass_g=reads(closed, day), mass_basis="open half",
                scale=scale, squeeze_out="none",
            )  # fmt: skip
            runs_so_far = 0.0
            for turn, runs in enumerate(RUNS_OF_A_DAY):
                raced = day + timedelta(days=7 * (turn + 1))
                for one in range(runs):
                    run = add(
                        "run", label=f"{raced}/{label}/{one + 1}", run_on=str(raced), venue=venue, grip="medium",
                        runs=1.0, call=str(rng.choice(["keep", "change"])), track_temp_c=24.0,
                    )  # fmt: skip
                    add("run_diff", run=run, build=build, position="rear")
                runs_so_far += runs
                add(
                    "weighing", build=build, weighed_on=str(raced), runs=runs_so_far, mass_g=reads(closed, raced),
                    mass_basis="closed", scale=scale,
                )  # fmt: skip
            if place < BUILDS_OF_A_DIFF - 1:
                opened = day + timedelta(days=21)
                add(
                    "opening", build=build, opened_on=str(opened), reason="routine", scale=scale,
                    closed_mass_g=reads(closed, opened), oil="clear", side_gears="ok", small_gears="ok",
                )  # fmt: skip
