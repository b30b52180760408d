"""Placing note rows again after builds were written, changed or removed by hand: one rule for every way of doing so."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from bevelbook.facts.rows_to_place import are_any_builds_touched, clear, diffs_with_rows_to_place
from bevelbook.notes.before_any_build import refuse_before_any_build
from bevelbook.notes.placed_again import PlacedAgain, place_again
from bevelbook.store.as_written import follow_joins
from bevelbook.store.diffs_of_rows import put_on_builds, rows_kept
from bevelbook.store.take_back import SetAside
from bevelbook.store.writing import placing


def place_rows_of_touched_builds(
    connection: sqlite3.Connection,
    by: str | None,
    *,
    also: Iterable[str] = (),
    aside: Mapping[str, SetAside] = MappingProxyType({}),
) -> PlacedAgain:
    """Place the note rows of every diff again whose builds this transaction touched, where it has rows since then.

    Called inside the transaction, after writing and before the facts are worked out; returns what moved. ``also`` are
    more diffs, by id; for ``aside`` see :func:`place_again`. Raises InputError where a row would be before its build.
    """
    follow_joins(connection)
    diffs = [*diffs_with_rows_to_place(connection), *also]
    if are_any_builds_touched(connection):
        diffs += _put_back(connection)
    placed = PlacedAgain()
    if diffs:
        placed = place_again(connection, diffs, by=by, aside=aside)
        refuse_before_any_build(connection, diffs)
    clear(connection)
    return placed


def _put_back(connection: sqlite3.Connection) -> list[str]:
    """Put rows that are on a build of another diff, since theirs had none or was one with it, on a build of theirs if
    there is one now; returns the diffs, by id, from which and to which any went."""
    with placing(connection):
        builds = put_on_builds(connection, rows_kept(connection))
    found = connection.execute(
        "SELECT DISTINCT diff FROM builds WHERE id IN (SELECT value FROM json_each(?)) ORDER BY diff",
        (json.dumps(sorted(builds)),),
    )
    return [row[0] for row in found]
