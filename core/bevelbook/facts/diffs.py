"""Where each diff stands: its last build, where it ran, and one word for the shelf with the reason for it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.facts.builds import last_build_sql
from bevelbook.facts.limits import OwnLimits, TeamLimits
from bevelbook.records.vocabulary import is_sound

UNWEIGHED_RUNS: Final = 6.0
"""Runs since the last weighing from which a diff is to be weighed (this project's proposal)."""
WORD_OF: Final = {
    None: "ready",
    "not built": "apart",
    "opened": "apart",
    "oil lost over the stop limit": "open it",
    "runs between openings reached": "open it",
    "oil lost over the limit for a second look": "look at it",
    "seal uses over the limit": "look at it",
    "turns badly": "look at it",
    "not weighed twice on one basis": "weigh it",
    "the weighings cannot tell": "weigh it",
    "not weighed for some runs": "weigh it",
}
"""The shelf word of each reason, the gravest reason first."""


class LastBuild(NamedTuple):
    """What the shelf word of a diff rests on."""

    build: str | None
    opened_on: str | None
    hand_feel: str | None
    runs: float
    oil_in_g: float | None
    weighed_at_runs: float | None
    leak: str | None
    seal_uses: int | None


def reason_of(last: LastBuild, limits: OwnLimits) -> str | None:
    """Why a diff is not ready, the gravest reason; None where it is.

    A diff that has not run since it was filled needs no weighing where its fill is known.
    """
    if last.build is None:
        return "not built"
    if last.opened_on is not None:
        return "opened"
    since = last.runs - (last.weighed_at_runs or 0.0)
    has_run = last.runs > 0.0 or last.oil_in_g is None
    cases = {
        "oil lost over the stop limit": last.leak == "stop",
        "runs between openings reached": limits.runs is not None and last.runs >= limits.runs,
        "oil lost over the limit for a second look": last.leak == "caution",
        "seal uses over the limit": None not in (limits.seal_uses, last.seal_uses)
        and (last.seal_uses or 0) > (limits.seal_uses or 0.0),
        "turns badly": not is_sound(last.hand_feel),
        "not weighed twice on one basis": last.leak is None and has_run,
        "the weighings cannot tell": last.leak == "unclear",
        "not weighed for some runs": last.leak is not None and since >= UNWEIGHED_RUNS,
    }
    return next((reason for reason, holds in cases.items() if holds), None)


def facts_of_diffs(
    connection: sqlite3.Connection, diffs: str, seal_uses: dict[str, int]
) -> Iterator[tuple[object, ...]]:
    """Rows of ``diff_facts`` for the diffs in ``diffs``, a table or subquery with the column ``diff``.

    ``seal_uses`` are the most uses of a seal in a build, by the build's id. The facts of builds are there already.
    """
    limits = TeamLimits(connection)
    rows = connection.execute(
        f"""
        SELECT d.id, coalesce((SELECT x.position FROM run_diffs x JOIN runs r ON r.id = x.run WHERE x.build = b.id
                               ORDER BY r.run_on DESC, r.day_order DESC, r.id DESC LIMIT 1), d.usual_position),
               b.id, f.opened_on, b.hand_feel, coalesce(f.runs, 0.0), f.oil_in_g, f.weighed_at_runs, f.leak
        FROM {diffs} t CROSS JOIN diffs d ON d.id = t.diff
        LEFT JOIN builds b ON b.id = {last_build_sql("d.id")} LEFT JOIN build_facts f ON f.build = b.id
        ORDER BY d.id
        """
    ).fetchall()
    for diff, position, build, *behind in rows:
        own = limits.of(diff)
        uses = seal_uses.get(build)
        reason = reason_of(LastBuild(build, *behind, uses), own)
        yield (diff, build, position, WORD_OF[reason], reason, uses, *own)
