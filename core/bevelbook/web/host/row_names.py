"""The names of the rows that ids point to."""

from __future__ import annotations

import sqlite3

from bevelbook.records import BY_TABLE
from bevelbook.store.record_names import title_of
from bevelbook.web.host.cached_answers import cached_answer
from bevelbook.web.host.readonly import TeamDatabase


async def name(database: TeamDatabase, table: str, row_id: str) -> str | None:
    """The name of a row, read again after two seconds; None where the row does not exist."""
    found: str | None = await cached_answer(database, table, row_id, _name)
    return found


def _name(connection: sqlite3.Connection, table: str, row_id: str) -> str | None:
    return title_of(connection, BY_TABLE[table], row_id)
