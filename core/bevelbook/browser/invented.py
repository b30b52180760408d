"""Whether a served database says that all it holds is invented: asked again only after somebody has written to it."""

from __future__ import annotations

import sqlite3

from bevelbook.browser.readonly import TeamDatabase
from bevelbook.store.about import is_invented


class InventedMark:
    """What one database says of itself. It keeps a connection, which tells cheaply whether the file has changed."""

    def __init__(self, database: TeamDatabase) -> None:
        self.database = database
        self.is_set = False
        self._connection = database.connect()
        self._connection.execute("PRAGMA busy_timeout = 0")
        self._version: int | None = None

    def look(self) -> bool:
        """Ask again if the file has changed; whether the answer did. A file that is locked now is asked next time."""
        before = self.is_set
        try:
            version = self._connection.execute("PRAGMA data_version").fetchone()[0]
            if version != self._version:
                self.is_set = is_invented(self._connection)
                self._version = version
        except sqlite3.OperationalError:
            return False
        return self.is_set != before
