"""Having the bytes of what was erased be gone from the file of the database: from its free pages, the pages of the
search, and the log beside it.

Until that is done a row of ``about`` says so, and whoever erases something again finishes it.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from bevelbook.facts.renew import renew_all
from bevelbook.store.schema import ALL_KINDS, search_table
from bevelbook.store.searching import fill_search, wrong_searches
from bevelbook.store.sqlite_errors import in_words

TO_WIPE: Final = "erased, and still in free pages of the file"
"""The name of the row of ``about``; it is never sent along."""
_READER_WAITED_FOR_MS: Final = 2_000


def note_to_wipe(connection: sqlite3.Connection) -> None:
    """Note, inside the caller's transaction, that something was erased whose bytes may still be in the file."""
    connection.execute("INSERT OR IGNORE INTO about (name, value) VALUES (?, 'yes')", (TO_WIPE,))


def is_to_wipe(connection: sqlite3.Connection) -> bool:
    """Whether something was erased of which the bytes may still be in the file."""
    return connection.execute("SELECT 1 FROM main.about WHERE name = ?", (TO_WIPE,)).fetchone() is not None


def wipe(connection: sqlite3.Connection, path: Path) -> bool:
    """Write the whole file again where anything is to go, outside any transaction; returns whether all of it is gone.

    It is not while another program has the database open, since that one still needs the log beside it. Raises
    DatabaseError where there is no room, or the file cannot be written.
    """
    if not is_to_wipe(connection):
        return True
    with in_words(path):
        connection.execute("PRAGMA secure_delete = ON")
        _make_search_again(connection)
        connection.execute("VACUUM main")
        _fill_where_wrong(connection)
        if not _is_log_empty(connection):
            return False
        connection.execute("DELETE FROM about WHERE name = ?", (TO_WIPE,))
        return _is_log_empty(connection)


def _make_search_again(connection: sqlite3.Connection) -> None:
    """Make each search again from its records: words of before stay in its pages otherwise; and work the facts out."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        for kind in ALL_KINDS:
            if kind.searched:
                index = search_table(kind)
                fill_search(connection, kind)
                connection.execute(f"INSERT INTO {index} ({index}) VALUES ('optimize')")
        renew_all(connection)
        connection.commit()
    except BaseException:
        connection.rollback()
        raise


def _fill_where_wrong(connection: sqlite3.Connection) -> None:
    """VACUUM may renumber rows whose key is a text (sqlite.org/lang_vacuum.html); the search goes by these numbers."""
    for kind in wrong_searches(connection):
        connection.execute("BEGIN IMMEDIATE")
        try:
            fill_search(connection, kind)
            connection.commit()
        except BaseException:
            connection.rollback()
            raise


def _is_log_empty(connection: sqlite3.Connection) -> bool:
    """Move the log into the file and cut it to nothing; no where another program still reads from it, for longer than a
    page takes."""
    waits_ms = connection.execute("PRAGMA busy_timeout").fetchone()[0]
    connection.execute(f"PRAGMA busy_timeout = {min(waits_ms, _READER_WAITED_FOR_MS)}")
    try:
        busy = connection.execute("PRAGMA main.wal_checkpoint(TRUNCATE)").fetchone()[0]
    finally:
        connection.execute(f"PRAGMA busy_timeout = {waits_ms}")
    return not busy
