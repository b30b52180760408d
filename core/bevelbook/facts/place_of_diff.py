"""Where a diff is in a car, for a calculation about it or one of its builds, and what says so."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.car_diffs import in_cars
from bevelbook.facts.places import PLACE, PLACE_FROM, USUAL
from bevelbook.facts.runs import LAST_RUN_FIRST

_LAST_RUN: Final = f"""
SELECT x.position, r.label, r.run_on, b.label FROM run_diffs x JOIN runs r ON r.id = x.run
JOIN builds b ON b.id = x.build
WHERE x.position IS NOT NULL AND x.build {{of}} ORDER BY {LAST_RUN_FIRST}, x.id LIMIT 1
"""
_OF_BUILD: Final = "= ?"
_OF_DIFF: Final = "IN (SELECT id FROM builds WHERE diff = ?)"


class KnownPlace(NamedTuple):
    """Front, centre or rear, and what says so, ``as in run 2026-05-03/2``, with the label of the build in that run."""

    position: str
    origin: str
    build: str | None = None


def place_of_build(connection: sqlite3.Connection, build: str) -> KnownPlace | None:
    """Where the diff of a build (by id) is; of a build with others after it, where that build ran last."""
    row = connection.execute(
        "SELECT b.diff, f.current_build FROM builds b LEFT JOIN diff_facts f ON f.diff = b.diff WHERE b.id = ?",
        (build,),
    ).fetchone()
    if row is None:
        return None
    ran = connection.execute(_LAST_RUN.format(of=_OF_BUILD), (build,)).fetchone()
    if ran is not None and row[1] != build:
        return KnownPlace(ran[0], f"as in run {ran[1]}", ran[3])
    return place_of_diff(connection, row[0]) if row[0] else None


def place_of_diff(connection: sqlite3.Connection, diff: str) -> KnownPlace | None:
    """Where a diff (by id) ran last, or has been put in a car since; else where it usually runs."""
    ran = connection.execute(_LAST_RUN.format(of=_OF_DIFF), (diff,)).fetchone()
    put = next((there for there in in_cars(connection).values() if there.diff == diff), None)
    if put is not None and (ran is None or put.from_when.day > ran[2]):
        return KnownPlace(put.position, put.since)
    if ran is not None:
        return KnownPlace(ran[0], f"as in run {ran[1]}", ran[3])
    usual = connection.execute("SELECT usual_position FROM diffs WHERE id = ?", (diff,)).fetchone()
    return KnownPlace(usual[0], "its usual place") if usual and usual[0] else None


def place_in_run(connection: sqlite3.Connection, run_diff: str) -> KnownPlace | None:
    """Where a diff was in a run (by the id of the diff in the run), else where it usually runs."""
    row = connection.execute(
        f"SELECT {PLACE}, {PLACE_FROM} FROM run_diffs x LEFT JOIN builds b ON b.id = x.build "
        "LEFT JOIN diffs d ON d.id = b.diff WHERE x.id = ?",
        (run_diff,),
    ).fetchone()
    if row is None or row[0] is None:
        return None
    return KnownPlace(row[0], "its usual place" if row[1] == USUAL else "as in that run")
