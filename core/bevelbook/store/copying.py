"""A copy of a database on which something can be tried; it is gone with its connection."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from bevelbook.store.bounded_reading import distrust
from bevelbook.store.folder_aside import no_temporary_file
from bevelbook.store.migrate import renew_where_other
from bevelbook.store.sqlite_errors import explained


def copy_aside(connection: sqlite3.Connection, path: Path) -> sqlite3.Connection:
    """A copy in a temporary file that nobody else sees, set up for writing. Raises DatabaseError."""
    copy = sqlite3.connect("", isolation_level=None)
    try:
        connection.backup(copy)
        copy.row_factory = sqlite3.Row
        distrust(copy)
        copy.execute("PRAGMA foreign_keys = ON")
        copy.execute("PRAGMA recursive_triggers = ON")
        renew_where_other(copy)
    except sqlite3.Error as fault:
        copy.close()
        said = explained(fault, path)
        raise (no_temporary_file(str(fault)) if said.code == "disk_full" else said) from fault
    return copy
