"""Facts of each diff: its last build, where it ran, and its shelf word with the reasons."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import BROKE_CALL, NOT_TO_RUN, is_sound
from bevelbook.facts.bench import given_up_sql, open_job_sql
from bevelbook.facts.builds import last_build_sql
from bevelbook.facts.limits import OwnLimits, TeamLimits
from bevelbook.facts.runs import LAST_RUN_FIRST, SAYS_SOMETHING

UNWEIGHED_RUNS: Final = 6.0
"""From this many runs since the last weighing a diff is to be weighed (our own figure)."""
NOT_BUILT: Final = "not built"
OPENED: Final = "opened"
ON_THE_BENCH: Final = "on the bench"
GIVEN_UP: Final = "given up on the bench"
LOST_TOO_MUCH: Final = "oil lost over the stop limit"
BROKE: Final = "broke in its last run"
NOTCHY: Final = "notchy"
RUNS_REACHED: Final = "runs between openings reached"
WET_ON_PAPER: Final = "wet on paper after it was closed"
LOST_SOME: Final = "oil lost over the limit for a second look"
SEALS_OVER: Final = "seal uses over the limit"
TURNS_BADLY: Final = "turns badly"
NOT_WEIGHED: Final = "not weighed twice on one basis"
CANNOT_TELL: Final = "the weighings cannot tell"
WEIGHED_LONG_AGO: Final = "not weighed for some runs"
WORD_OF: Final = {
    NOT_BUILT: "apart",
    OPENED: "apart",
    ON_THE_BENCH: "apart",
    GIVEN_UP: "apart",
    LOST_TOO_MUCH: "open it",
    BROKE: "open it",
    NOTCHY: "open it",
    RUNS_REACHED: "look at it",
    WET_ON_PAPER: "look at it",
    LOST_SOME: "look at it",
    CANNOT_TELL: "weigh it",
    NOT_WEIGHED: "weigh it",
    WEIGHED_LONG_AGO: "weigh it",
    SEALS_OVER: "look at it",
    TURNS_BADLY: "look at it",
}
"""The shelf word of each reason, the most serious first: a limit that is reached and oil that was lost for certain come
before a weighing that is due."""
OF_OIL_LOST: Final = frozenset({LOST_TOO_MUCH, LOST_SOME, CANNOT_TELL})
"""The reasons that the verdict on the oil lost gives."""
READY: Final = "ready"
APART: Final = "apart"
BETWEEN_REASONS: Final = "; "


class LastBuild(NamedTuple):
    """What decides the shelf word of a diff."""

    build: str | None
    opened_on: str | None
    hand_feel: str | None
    last_call: str | None
    """The last one that was made: a later run without a call takes none back."""
    runs: float
    oil_in_g: float | None
    is_weighed_full: bool
    """Whether it was weighed after it was filled, closed or as it was then."""
    weighed_at_runs: float | None
    leak: str | None
    seal_uses: int | None
    is_on_bench: bool = False
    """Whether a job goes on that opened it, or began to build it."""
    is_given_up: bool = False
    """Whether the job that began to build it was given up."""
    is_wet_on_paper: bool = False
    """Whether the paper under it was wet after it was closed."""
    is_run: bool = False
    """Whether it ran, by a run that says more than that."""


def reasons_of(last: LastBuild, limits: OwnLimits) -> list[str]:
    """Why a diff is not ready, the most serious reason first; empty if it is.

    A diff that has not run since it was filled needs no weighing if its oil is known, or if it was weighed closed:
    later weighings are held against that. One whose job was given up is apart until it was weighed, or ran by a run
    that says more than that. What broke is broken until a later run has another call.
    """
    if last.is_on_bench:
        return [ON_THE_BENCH]
    if last.build is None:
        return [NOT_BUILT]
    if last.opened_on is not None:
        return [OPENED]
    if last.is_given_up and not last.is_run and not last.is_weighed_full:
        return [GIVEN_UP]
    since = last.runs - (last.weighed_at_runs or 0.0)
    holds = {
        LOST_TOO_MUCH: last.leak == "stop",
        BROKE: last.last_call == BROKE_CALL,
        NOTCHY: last.hand_feel in NOT_TO_RUN,
        RUNS_REACHED: limits.runs is not None and last.runs >= limits.runs,
        WET_ON_PAPER: last.is_wet_on_paper,
        LOST_SOME: last.leak == "caution",
        SEALS_OVER: limits.seal_uses is not None and (last.seal_uses or 0) > limits.seal_uses,
        TURNS_BADLY: not is_sound(last.hand_feel) and last.hand_feel not in NOT_TO_RUN,
        NOT_WEIGHED: last.leak is None and (last.runs > 0.0 or (last.oil_in_g is None and not last.is_weighed_full)),
        CANNOT_TELL: last.leak == "unclear",
        WEIGHED_LONG_AGO: last.leak is not None and since >= UNWEIGHED_RUNS,
    }
    return [reason for reason in WORD_OF if holds.get(reason)]


def _of_last_run(column: str, condition: str = "1") -> str:
    """What the last run of the build ``b`` for which a condition holds says, as SQL."""
    return (
        f"(SELECT {column} FROM run_diffs x JOIN runs r ON r.id = x.run WHERE x.build = b.id AND {condition} "
        f"ORDER BY {LAST_RUN_FIRST} LIMIT 1)"
    )


def facts_of_diffs(
    connection: sqlite3.Connection, diffs: str, seal_uses: dict[str, int]
) -> Iterator[tuple[object, ...]]:
    """Rows of ``diff_facts`` for the diffs in ``diffs``, a table or subquery with the column ``diff``.

    ``seal_uses`` are the most uses of a seal in a build, by the build's id. The facts of builds are there already.
    """
    limits = TeamLimits(connection)
    rows = connection.execute(
        f"""
        SELECT d.id, coalesce({_of_last_run("x.position")}, d.usual_position),
               b.id, f.opened_on, b.hand_feel, {_of_last_run("r.call", "r.call IS NOT NULL")},
               coalesce(f.runs, 0.0), f.oil_in_g,
               b.closed_mass_g IS NOT NULL OR EXISTS (SELECT 1 FROM weighings w WHERE w.build = b.id),
               f.weighed_at_runs, f.leak,
               {open_job_sql("d.id", "id")} IS NOT NULL AND (b.id IS NULL OR f.opened_on IS NOT NULL
                   OR b.id IS {open_job_sql("d.id", "build")}),
               {given_up_sql("d.id", "b.id")} IS NOT NULL, b.paper_wet_at IS NOT NULL,
               EXISTS (SELECT 1 FROM run_diffs x JOIN runs r ON r.id = x.run
                   WHERE x.build = b.id AND {SAYS_SOMETHING})
        FROM {diffs} t CROSS JOIN diffs d ON d.id = t.diff
        LEFT JOIN builds b ON b.id = {last_build_sql("d.id")} LEFT JOIN build_facts f ON f.build = b.id
        ORDER BY d.id
        """
    ).fetchall()
    for diff, position, build, opened_on, feel, call, runs, oil_in_g, is_weighed, weighed_at, leak, *more in rows:
        own = limits.of(diff)
        uses = seal_uses.get(build)
        last = LastBuild(
            build, opened_on, feel, call, runs, oil_in_g, bool(is_weighed), weighed_at, leak, uses, *map(bool, more)
        )
        reasons = reasons_of(last, own)
        word = WORD_OF[reasons[0]] if reasons else READY
        yield (diff, build, position, word, BETWEEN_REASONS.join(reasons) or None, uses, *own)
