"""A build that turns out to be of another diff: the note rows that were placed on it stay with the diff they name."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place
from bevelbook.records import BY_NAME
from bevelbook.store.diffs_of_rows import rows_kept_of
from bevelbook.store.lookup import label_of
from bevelbook.store.take_back import SetAside, is_placed, rows_stay_with_diff
from bevelbook.store.users import users_of


def leave_note_rows(connection: sqlite3.Connection, build: str, diff: object) -> Mapping[str, SetAside]:
    """Before a build gets ``diff`` (by id, None if that does not change): put its note rows on another build.

    Returns them, by id, to be placed again; the row that made the build goes with it, and so do those that are of its
    new diff. Raises InputError if there is no other build.
    """
    (before,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()
    if diff in (None, before):
        return {}
    aside = rows_stay_with_diff(connection, build, diff)
    go_along = rows_kept_of(connection, diff)
    left = [
        use
        for use in users_of(connection, {"builds": {build}})
        if is_placed(connection, use) and use.row_id[:-1] != build[:-1] and use.row_id not in go_along
    ]
    if left:
        name, old = label_of(connection, BY_NAME["build"], build), label_of(connection, BY_NAME["diff"], before)
        rows = counted(len({use.row_id[:-1] for use in left}), "note row")
        raise InputError(
            f"{rows} of {old} would have no build without {name}",
            code="record_in_use",
            place=Place(field="diff"),
            found=name,
            remedy=f"Write the build of {old} that was in use then first. Nothing was changed.",
        )
    return aside
