"""Whether a served database is invented or large, and which book it is, read again only after somebody wrote to it or
put another file in its place."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.store.book_mark import known_mark
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.numbered_days_mark import numbered_up_to
from bevelbook.web.host.readonly import TeamDatabase, file_at

LARGE: Final = 20_000
"""Diffs in runs from which a database is large: a page then counts no facets of a view over all of them."""


class DatabaseMarks:
    """Whether one database is invented or large, what an edition was made without, and the mark of its book. It keeps
    a connection, which shows cheaply if the file changed."""

    def __init__(self, database: TeamDatabase) -> None:
        self.database = database
        self.is_invented = False
        self.is_large = False
        self.edition: frozenset[str] | None = None
        self.book: str | None = None
        self.numbered_up_to: str | None = None
        self._version: int | None = None
        self._connect()

    def _connect(self) -> None:
        self._file = file_at(self.database.path)
        self._connection = self.database.connect()
        self._connection.execute("PRAGMA busy_timeout = 0")

    def look(self) -> bool:
        """Ask again if the file has changed; whether the answer did. A file that is locked now is asked next time."""
        before = (self.is_invented, self.is_large, self.edition, self.book)
        try:
            if file_at(self.database.path) not in (None, self._file):
                self._version = None
                self._connect()
            version = self._connection.execute("PRAGMA data_version").fetchone()[0]
            if version != self._version:
                self.is_invented = is_invented(self._connection)
                self.is_large = _is_large(self._connection)
                self.edition = edition_of(self._connection)
                self.book = known_mark(self._connection)
                self.numbered_up_to = numbered_up_to(self._connection)
                self._version = version
        except sqlite3.OperationalError:
            return False
        return (self.is_invented, self.is_large, self.edition, self.book) != before


def _is_large(connection: sqlite3.Connection) -> bool:
    return connection.execute("SELECT 1 FROM run_diffs LIMIT 1 OFFSET ?", (LARGE,)).fetchone() is not None
