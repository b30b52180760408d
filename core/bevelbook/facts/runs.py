"""Runs counted: a run without a count is one, and a weighing may know of more runs than are written down."""

from __future__ import annotations

from typing import Final

RUNS_OF_A_RUN: Final = "coalesce(r.runs, 1)"
"""How many runs the row ``r`` of ``runs`` stands for."""
RUN_ORDER: Final = "r.run_on, r.day_order, r.note_line, r.id"
"""The runs of a build in their order."""
_DECIMALS: Final = 6


def without_noise(sql: str) -> str:
    """A sum of runs without the noise of its last digits, so that equal counts are equal: 0.1 + 0.2 is 0.3."""
    return f"round({sql}, {_DECIMALS})"


def runs_of_build_sql(build: str) -> str:
    """Runs of the build whose id ``build`` names: those written down, or those that a weighing tells, the larger."""
    return (
        f"max(coalesce((SELECT {without_noise(f'sum({RUNS_OF_A_RUN})')} FROM run_diffs x JOIN runs r ON r.id = x.run "
        f"WHERE x.build = {build}), 0.0), "
        f"coalesce((SELECT max(told.runs) FROM weighings told WHERE told.build = {build}), 0.0))"
    )


def runs_at_weighing_sql(weighing: str) -> str:
    """Runs since the build at a weighing: as it says, else those written down up to its day or told by then.

    NULL where the weighing has neither runs nor a day: nothing says when it was.
    """
    return (
        f"CASE WHEN {weighing}.runs IS NOT NULL THEN {weighing}.runs WHEN {weighing}.weighed_on IS NULL THEN NULL ELSE "
        f"max(coalesce((SELECT {without_noise(f'sum({RUNS_OF_A_RUN})')} FROM run_diffs x JOIN runs r ON r.id = x.run "
        f"WHERE x.build = {weighing}.build AND r.run_on <= {weighing}.weighed_on), 0.0), "
        f"coalesce((SELECT max(earlier.runs) FROM weighings earlier WHERE earlier.build = {weighing}.build "
        f"AND earlier.weighed_on <= {weighing}.weighed_on), 0.0)) END"
    )


def count_of(runs: float) -> str:
    """``1 run``, ``41 runs``, ``2.5 runs``."""
    return f"{runs:g} run{'' if runs == 1 else 's'}"


def since_opened_words(runs: float) -> str:
    """How long ago the case was open."""
    return "never run since it was opened" if runs == 0 else f"last opened {count_of(runs)} ago"
