"""Run counts: a run without a count is one, and a weighing may have more runs than are written down.

What a weighing knows beyond the runs written down before it counts from then on: runs written down after it are added
to those that it states. Of several the one that knows most holds, of a build, at a weighing and for each run alike.
Runs of its own day are among those that it states, unless it and they were written down that day, it first, or stand
above them in one sheet: what is written down on another day comes in any order.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.facts.day_order import first_run_first, last_run_first, written_that_day_sql
from bevelbook.facts.same_day import was_before_sql

RUNS_OF_A_RUN: Final = "coalesce(r.runs, 1)"
"""How many runs are in the row ``r`` of ``runs``."""
RUN_ORDER: Final = first_run_first()
"""The runs of a build in their order."""
LAST_RUN_FIRST: Final = last_run_first()
"""Runs ``r``, the last one first."""
SAYS_SOMETHING: Final = "coalesce(r.call, r.grip, r.laps, r.lap_times, r.best_lap_s, r.best_five_s) IS NOT NULL"
"""Whether the row ``r`` of ``runs`` says more than that something ran: a call, a grip, laps or a time. One that does
not never makes what is due lighter."""
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
    """Runs of the build whose id ``build`` names: those written down, and the most that any of its weighings knows
    beyond them."""
    written = f"coalesce((SELECT {runs.total} FROM {runs.rows} WHERE {runs.build} = {build}), 0.0)"
    return without_noise(f"{written} + {_most_beyond_sql(f'stated.build = {build}', runs)}")


def runs_at_weighing_sql(weighing: str, runs: RunsFrom = RECORDS) -> str:
    """Runs since the build at a weighing: as it says, else those written down before it, and the most that any weighing
    before it knows beyond them.

    NULL if the weighing has neither runs nor a day: it is unknown when it was.
    """
    day = f"{weighing}.weighed_on"
    earlier = (
        f"stated.build = {weighing}.build AND stated.weighed_on <= {day} "
        f"AND (stated.weighed_on < {day} OR {was_before_sql('stated', weighing)})"
    )
    total = without_noise(f"{_written_before_sql(weighing, runs)} + {_most_beyond_sql(earlier, runs)}")
    return f"CASE WHEN {weighing}.runs IS NOT NULL THEN {weighing}.runs WHEN {day} IS NULL THEN NULL ELSE {total} END"


def _most_beyond_sql(stated: str, runs: RunsFrom) -> str:
    """The most that the weighings ``stated`` for which the condition holds know beyond what was written down before
    them; 0.0 where none does."""
    beyond = f"max(stated.runs - {_written_before_sql('stated', runs, _IS_STATED)})"
    return (
        f"max(0.0, coalesce((SELECT {beyond} FROM weighings stated WHERE {stated} AND stated.runs IS NOT NULL), 0.0))"
    )


def _written_before_sql(weighing: str, runs: RunsFrom, of_its_day: str | None = None) -> str:
    """Runs of its build written down before a weighing; all of them where it has no day. ``of_its_day`` is whether the
    row ``r`` of its own day is among them."""
    day = f"{weighing}.weighed_on"
    before = runs.of_run.format(of_its_day or was_before_sql("r", weighing))
    return (
        f"coalesce((SELECT {runs.total} FROM {runs.rows} WHERE {runs.build} = {weighing}.build "
        f"AND ({day} IS NULL OR ({runs.day} <= {day} AND ({runs.day} < {day} OR {before})))), 0.0)"
    )


_IS_STATED: Final = (
    f"({was_before_sql('r', 'stated')} OR (r.note_file IS NULL AND stated.note_file IS NULL "
    f"AND NOT ({written_that_day_sql('r', 'run_on')} AND {written_that_day_sql('stated', 'weighed_on')})))"
)
"""Whether the row ``r`` of the day of the weighing ``stated`` is among the runs that it states."""
ADD_BEYOND: Final = f"""
WITH knows AS MATERIALIZED (
    SELECT stated.build, stated.weighed_on, stated.note_file, stated.note_line, stated.created_at,
           stated.runs - {_written_before_sql("stated", LAID_OUT, _IS_STATED)} AS beyond
    FROM (SELECT DISTINCT build FROM temp.driven) b CROSS JOIN weighings stated ON stated.build = b.build
    WHERE stated.runs IS NOT NULL AND stated.weighed_on IS NOT NULL
)
UPDATE temp.driven SET runs_after = {without_noise("runs_after + known.beyond")}
FROM (
    SELECT n.build, n.place, max(stated.beyond) AS beyond
    FROM knows stated CROSS JOIN temp.driven n ON n.build = stated.build
    WHERE stated.beyond > 0.0 AND (n.run_on > stated.weighed_on OR (n.run_on = stated.weighed_on
        AND NOT {LAID_OUT.of_run.format(_IS_STATED)}))
    GROUP BY n.build, n.place
) known
WHERE driven.build = known.build AND driven.place = known.place
"""
"""What the weighings before each diff in each run know beyond the runs written down, added to the rows of
:data:`LAY_OUT`."""


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


def since_filled_words(runs: float) -> str:
    """How long ago a diff was filled, which is when its case was last open. Not "opened": that would be said of the
    build before, and the runs are those of this one.

    >>> since_filled_words(13.0), since_filled_words(0.0)
    ('filled 13 runs ago', 'not run since it was closed')
    """
    if runs == 0:
        return "not run since it was closed"
    return f"filled {count_of(runs)} ago"
