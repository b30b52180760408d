"""The last runs of a book, by which its copies are judged."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple


class LastRuns(NamedTuple):
    """The newest day on which a book has runs, and how many it has of that day; None where it has none."""

    day: str | None = None
    how_many: int = 0


def last_runs(connection: sqlite3.Connection) -> LastRuns:
    """The newest day with runs, and how many they are. Raises sqlite3.Error."""
    day = connection.execute("SELECT max(run_on) FROM main.runs").fetchone()[0]
    if day is None:
        return LastRuns()
    return LastRuns(day, connection.execute("SELECT count(*) FROM main.runs WHERE run_on = ?", (day,)).fetchone()[0])
