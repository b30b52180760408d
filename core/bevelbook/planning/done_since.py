"""What was done since a plan was made: a build after it, a weighing, an opening, a finding put by."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import LEAVE_IT, LOOK_AT_IT, UNCLEAR_WHAT, WEIGH_IT
from bevelbook.display.days import day_in_words

_BUILT: Final = """
SELECT b.label, b.built_on FROM diff_facts s CROSS JOIN builds b ON b.id = s.current_build
WHERE s.diff = :diff AND b.id IS NOT :build AND (b.created_at > :made_at OR b.built_on > substr(:made_at, 1, 10))
AND NOT EXISTS (SELECT 1 FROM bench_jobs j WHERE j.build = b.id AND j.done_at IS NULL)
"""
"""A build that a job at the bench goes on making, or was given up over, is not done."""
_OPENED: Final = """
SELECT b.label, o.opened_on FROM openings o CROSS JOIN builds b ON b.id = o.build
WHERE b.diff = :diff AND o.created_at > :made_at AND o.opened_on >= date(:made_at, '-1 day')
ORDER BY o.opened_on DESC, o.id DESC LIMIT 1
"""
_WEIGHED: Final = """
SELECT b.label, w.weighed_on FROM weighings w CROSS JOIN builds b ON b.id = w.build
WHERE b.diff = :diff AND w.created_at > :made_at
AND (w.weighed_on IS NULL OR w.weighed_on >= date(:made_at, '-1 day'))
ORDER BY w.weighed_on DESC, w.id DESC LIMIT 1
"""
_PUT_BY: Final = """
SELECT p.reason, p.put_by_on FROM findings_put_by p
WHERE p.created_at > :made_at AND (p.subject_id = :build OR p.subject_id = :diff)
ORDER BY p.put_by_on DESC, p.id DESC LIMIT 1
"""
"""A day of the record counts from the day before the plan on: a plan is stamped in UTC, a record with the day at home.
So an old sheet that is imported afterwards does not tick anything."""


class AskedOfDiff(NamedTuple):
    """What a plan said of a diff: the act, and the build that was in it."""

    act: str
    build: str | None


def done_since(connection: sqlite3.Connection, made_at: str, asked: Mapping[str, AskedOfDiff]) -> dict[str, str]:
    """What was done since a plan was made (UTC, as the database keeps times), in words by diff (id).

    Whatever was asked for, a build after the plan does it. A weighing does *weigh it*; an opening, or a finding put by,
    does *look at it*. Diffs of which nothing was done are left out, and so are those with nothing to do.
    """
    found: dict[str, str] = {}
    for diff, one in asked.items():
        given = {"diff": diff, "build": one.build, "made_at": made_at}
        words = "" if one.act == LEAVE_IT else _done(connection, one.act, given)
        if words:
            found[diff] = f"done: {words}"
    return found


def _done(connection: sqlite3.Connection, act: str, given: Mapping[str, str | None]) -> str:
    if (row := connection.execute(_BUILT, given).fetchone()) is not None:
        return f"{row[0]} built on {day_in_words(row[1])}"
    if act in (LOOK_AT_IT, UNCLEAR_WHAT) and (row := connection.execute(_OPENED, given).fetchone()) is not None:
        return f"{row[0]} opened on {day_in_words(row[1])}"
    if act in (WEIGH_IT, UNCLEAR_WHAT) and (row := connection.execute(_WEIGHED, given).fetchone()) is not None:
        return f"{row[0]} weighed{f' on {day_in_words(row[1])}' if row[1] else ''}"
    if act == LOOK_AT_IT and (row := connection.execute(_PUT_BY, given).fetchone()) is not None:
        return f"put by on {day_in_words(row[1])}: {row[0]}" if row[1] else f"put by: {row[0]}"
    return ""
