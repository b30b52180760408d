"""Note rows of databases that came together placed in order, also those that become a build or stop being one by it."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import NamedTuple

from bevelbook.calculating.recalculate import Upkeep, depending_on, recalculate_depending
from bevelbook.facts.renew import renew_touched
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.notes.rows_to_turn import diffs_with_rows, rows_to_turn
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
from bevelbook.store.about_table import forget_meeting, has_met
from bevelbook.store.opening import transaction


class PlacedRows(NamedTuple):
    """What placing the rows changed, the changes on the shelf as lines, and kept results worked out again."""

    placed: PlacedAgain
    shelf: tuple[str, ...]
    upkeep: Upkeep | None


def place_rows(
    connection: sqlite3.Connection, path: Path, registry: Registry, *, asked: str, by: str | None
) -> PlacedRows:
    """Place the rows that a meeting left out of order, in an entry of its own; without any nothing is written.

    Raises InputError where a row would be before any build.
    """
    found = rows_to_turn(connection, diffs_with_rows(connection)) if has_met(connection) else []
    diffs = [one.diff for one in found]
    if not diffs:
        return PlacedRows(PlacedAgain(), (), None)
    with transaction(connection, path, asked=asked, by=by):
        depending = depending_on(connection, registry, _builds_of(connection, diffs))
        placed = place_rows_of_touched_builds(connection, by, also=diffs)
        for name, ids in depending_on(connection, registry, _builds_of(connection, diffs)).items():
            depending.setdefault(name, set()).update(ids)
        forget_meeting(connection)
        before = touched_on_shelf(connection)
        renew_touched(connection)
        upkeep = recalculate_depending(connection, registry, depending, by)
        shelf = tuple(one.line() for one in shelf_changes(connection, before))
    return PlacedRows(placed, shelf, upkeep)


def _builds_of(connection: sqlite3.Connection, diffs: list[str]) -> list[tuple[Kind, str]]:
    held = connection.execute(
        "SELECT id FROM builds WHERE diff IN (SELECT value FROM json_each(?)) ORDER BY id", (json.dumps(diffs),)
    )
    return [(BY_NAME["build"], row[0]) for row in held]
