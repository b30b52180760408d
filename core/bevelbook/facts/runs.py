"""Run counts: a run without a count is one, and a weighing may have more runs than are written down."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.facts.day_order import first_run_first, last_run_first
from bevelbook.facts.same_day import was_before_sql

RUNS_OF_A_RUN: Final = "coalesce(r.runs, 1)"
"""How many runs are in the row ``r`` of ``runs``."""
RUN_ORDER: Final = first_run_first()
"""The runs of a build in their order."""
LAST_RUN_FIRST: Final = last_run_first()
"""Runs ``r``, the last one first."""
_DECIMALS: Final = 6


def without_noise(sql: str) -> str:
    """A sum of runs without rounding noise, so that equal counts are equal: 0.1 + 0.2 is 0.3."""
    return f"round({sql}, {_DECIMALS})"


class RunsFrom(NamedTuple):
    """Where the runs of a build are read: a FROM item, and its columns for the build, the day and the count.

    ``of_run`` makes SQL about the row ``r`` of ``runs`` one about the row of ``rows``.
    """

    rows: str
    build: str
    day: str
    how_many: str
    of_run: str

    @property
    def total(self) -> str:
        """How many runs in all."""
        return without_noise(f"sum({self.how_many})")


RECORDS: Final = RunsFrom("run_diffs x JOIN runs r ON r.id = x.run", "x.build", "r.run_on", RUNS_OF_A_RUN, "{}")
LAID_OUT: Final = RunsFrom(
    "temp.driven n",
    "n.build",
    "n.run_on",
    "n.runs",
    "(SELECT {} FROM run_diffs x CROSS JOIN runs r ON r.id = x.run WHERE x.id = n.run_diff)",
)
"""The same rows in the table that :data:`LAY_OUT` fills: one pass is several times faster than build by build.
"""
LAY_OUT: Final = f"""
INSERT INTO temp.driven
SELECT x.build, row_number() OVER before, r.run_on, {RUNS_OF_A_RUN},
       {without_noise(f"sum({RUNS_OF_A_RUN}) OVER before")}, x.id, x.diff_temp_c
FROM {{run_diffs}} CROSS JOIN runs r ON r.id = x.run
WINDOW before AS (PARTITION BY x.build ORDER BY {RUN_ORDER} ROWS UNBOUNDED PRECEDING)
"""
"""Each diff in each run, in the order of builds and runs; ``run_diffs`` is a FROM item with the row ``x``."""
DRIVEN: Final = """
CREATE TEMP TABLE IF NOT EXISTS driven (
    build TEXT NOT NULL,
    place INTEGER NOT NULL,
    run_on TEXT,
    runs REAL NOT NULL,
    runs_after REAL NOT NULL,
    run_diff TEXT NOT NULL,
    diff_temp_c REAL,
    PRIMARY KEY (build, place)
) WITHOUT ROWID
"""


def runs_of_build_sql(build: str, runs: RunsFrom = RECORDS) -> str:
    """Runs of the build whose id ``build`` names: those written down, or those that a weighing gives, the larger."""
    return (
        f"max(coalesce((SELECT {runs.total} FROM {runs.rows} WHERE {runs.build} = {build}), 0.0), "
        f"coalesce((SELECT max(weighed.runs) FROM weighings weighed WHERE weighed.build = {build}), 0.0))"
    )


def runs_at_weighing_sql(weighing: str, runs: RunsFrom = RECORDS) -> str:
    """Runs since the build at a weighing: as it says, else those written down or weighed before it.

    NULL if the weighing has neither runs nor a day: it is unknown when it was.
    """
    day = f"{weighing}.weighed_on"
    before = runs.of_run.format(was_before_sql("r", weighing))
    return (
        f"CASE WHEN {weighing}.runs IS NOT NULL THEN {weighing}.runs WHEN {day} IS NULL THEN NULL ELSE "
        f"max(coalesce((SELECT {runs.total} FROM {runs.rows} WHERE {runs.build} = {weighing}.build "
        f"AND {runs.day} <= {day} AND ({runs.day} < {day} OR {before})), 0.0), "
        f"coalesce((SELECT max(earlier.runs) FROM weighings earlier WHERE earlier.build = {weighing}.build "
        f"AND earlier.weighed_on <= {day} "
        f"AND (earlier.weighed_on < {day} OR {was_before_sql('earlier', weighing)})), 0.0)) END"
    )


def runs_of_row(row: Mapping[str, Any]) -> float:
    """How many runs are in a row with the column ``runs`` of the table of that name.

    >>> runs_of_row({"runs": 4.0}), runs_of_row({"runs": None})
    (4.0, 1.0)
    """
    return 1.0 if row["runs"] is None else float(row["runs"])


def notes_and_runs(notes: int, runs: float) -> str:
    """``12 runs`` where each note is one run, else ``4 notes, 12 runs``.

    >>> notes_and_runs(12, 12.0), notes_and_runs(1, 5.0)
    ('12 runs', '1 note, 5 runs')
    """
    return count_of(runs) if notes == runs else f"{counted(notes, 'note')}, {count_of(runs)}"


def count_of(runs: float) -> str:
    """``1 run``, ``41 runs``, ``2.5 runs``."""
    return counted(runs, "run")


def since_opened_words(runs: float) -> str:
    """How long ago the case was open."""
    return "not run since it was closed" if runs == 0 else f"opened {count_of(runs)} ago"
