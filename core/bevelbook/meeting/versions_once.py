"""Each version of a record once in the past of a database that came from outside.

A record that came back as it was, and was changed then, leaves the same version twice. Of two that say the same, that
holds which says when it was replaced, the earliest of these, and the least entry.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from bevelbook.meeting.refusing import refuse_row
from bevelbook.store.kept_past import NOT_VERSIONED


def keep_versions_once(connection: sqlite3.Connection, path: Path) -> None:
    """Remove what is there twice. Raises DatabaseError where one version of a record has two contents."""
    twice = connection.execute(
        "SELECT table_name, row_id, version, count(DISTINCT content) FROM history WHERE version <> ?1 "
        "GROUP BY table_name, row_id, version, content IS NULL HAVING count(*) > 1",
        (NOT_VERSIONED,),
    ).fetchall()
    for table, row_id, version, contents in twice:
        if contents > 1:
            last = connection.execute(
                "SELECT max(id) FROM history WHERE table_name = ? AND row_id = ? AND version = ?",
                (table, row_id, version),
            ).fetchone()[0]
            what = "has two past versions under one name"
            raise refuse_row(path, table, row_id, what, found=version, held=("history", last))
        connection.execute(
            "DELETE FROM history WHERE table_name = ?1 AND row_id = ?2 AND version = ?3 AND id NOT IN ("
            "SELECT first_value(id) OVER (PARTITION BY content IS NULL ORDER BY replaced_at IS NULL, replaced_at, "
            "replaced_in, id) FROM history WHERE table_name = ?1 AND row_id = ?2 AND version = ?3)",
            (table, row_id, version),
        )
