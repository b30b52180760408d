"""The entry that stands for all that was written before there were entries: named by what it holds, not by chance.

Copies of one older file are brought to this version on several laptops, each time one of them is sent. They must hold
the same then, or nothing would be the same when they meet.
"""

from __future__ import annotations

import json
import sqlite3
from datetime import date
from hashlib import sha256
from typing import Final

from bevelbook.records import KINDS
from bevelbook.store.entry_contents import OF_UPGRADE
from bevelbook.store.ids import content_id
from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.schema import quoted

LAST_STEP_WITHOUT_ENTRIES: Final = 2
_NO_TIME: Final = "1970-01-01T00:00:00.000Z"


def name_entry_of_before(connection: sqlite3.Connection) -> None:
    """Give that entry an id and a time that follow from the records. Runs inside the caller's transaction, without
    triggers, right after the steps made it."""
    found = connection.execute("SELECT id FROM entries WHERE asked = ?", (OF_UPGRADE,)).fetchone()
    if found is None:
        return
    was = str(found[0])
    own = [kind.table for kind in KINDS if kind.own]
    moment = _latest(connection, own)
    made = content_id(moment[:10], _content(connection, own))
    for table in own:
        connection.execute(f"UPDATE {table} SET version = ?1 WHERE version = ?2", (made, was))
    connection.execute(
        "UPDATE history SET replaced_at = ?1 WHERE replaced_in = ?2 AND table_name = 'calculations' AND version <> ?3",
        (moment, was, NOT_VERSIONED),
    )
    connection.execute("UPDATE history SET replaced_in = ?1 WHERE replaced_in = ?2", (made, was))
    connection.execute("UPDATE entries SET id = ?1, made_at = ?2 WHERE id = ?3", (made, moment, was))


def _latest(connection: sqlite3.Connection, tables: list[str]) -> str:
    """The last time at which anything was written, as far as that is a time."""
    asked = " UNION ALL ".join(f"SELECT max(updated_at) AS at FROM {table}" for table in tables)
    found = str(connection.execute(f"SELECT max(at) FROM ({asked})").fetchone()[0] or "")
    try:
        date.fromisoformat(found[:10])
    except ValueError:
        return _NO_TIME
    return found


def _content(connection: sqlite3.Connection, tables: list[str]) -> str:
    """A checksum of all records and their past, but for the entry's own name."""
    total = sha256()
    cursor = connection.cursor()
    cursor.row_factory = None
    for table in tables:
        names = [row[1] for row in cursor.execute(f"PRAGMA table_info({table})") if row[1] != "version"]
        for row in cursor.execute(f"SELECT {', '.join(map(quoted, names))} FROM {table} ORDER BY id"):
            total.update(json.dumps([table, *row], ensure_ascii=False).encode(errors="surrogatepass"))
    for row in cursor.execute("SELECT table_name, row_id, version, parents, content FROM history ORDER BY id"):
        total.update(json.dumps(row, ensure_ascii=False).encode(errors="surrogatepass"))
    return total.hexdigest()
