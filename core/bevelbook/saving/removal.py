"""A record removed with all that follows from it. History keeps it, and the entry the reason."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.calculating.recalculate import Upkeep, depending_on, recalculate_depending
from bevelbook.entering.scale_figures import scales_before, set_again
from bevelbook.facts.renew import renew_touched
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
from bevelbook.store.ids import now_utc
from bevelbook.taking_back.removal import Removal, removal_of, remove


class RemovedRecord(NamedTuple):
    """A record that was removed, and what came of it: scales with figures worked out again and changes on the shelf, as
    lines, note rows that moved, and kept results worked out again."""

    removal: Removal
    scales: tuple[str, ...]
    placed: PlacedAgain
    shelf: tuple[str, ...]
    upkeep: Upkeep


def remove_record(
    connection: sqlite3.Connection, registry: Registry, kind: Kind, row_id: str, by: str | None
) -> RemovedRecord:
    """Remove a record by its id, inside the caller's transaction. Raises InputError where others use it."""
    removal = removal_of(connection, kind, row_id)
    of_scales = scales_before(connection, kind, row_id, {})
    touched = [(BY_NAME["scale"], one.known.row_id) for one in of_scales]
    depending = depending_on(connection, registry, [(kind, row_id), *removal.parts, *touched])
    placed = remove(connection, removal, by)
    scales = tuple(one.words for one in set_again(connection, of_scales, by, now_utc))
    before = touched_on_shelf(connection)
    renew_touched(connection)
    upkeep = recalculate_depending(connection, registry, depending, by)
    shelf = tuple(one.line() for one in shelf_changes(connection, before))
    return RemovedRecord(removal, scales, placed, shelf, upkeep)
