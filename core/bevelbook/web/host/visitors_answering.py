"""In a process for visitors' own SQL: a question is asked on a connection like the server's, with smaller limits.

It has the functions of all plugins that Datasette finds by itself.
"""

from __future__ import annotations

import json
import sqlite3
from typing import Final

from bevelbook.web.host.private_datasette import opened_as_said
from bevelbook.web.host.readonly import TeamDatabase, limited
from bevelbook.web.host.visitors_values import TOO_MUCH_MEMORY, held_value
from bevelbook.web.worker.crossing import Held

_MOST_OPEN: Final = 4
"""Databases that are kept open; a server has one, or a few."""


class AnsweringVisitors:
    """The databases that were asked for, as the server has them."""

    def __init__(self, given: Held) -> None:
        self._open: dict[str, TeamDatabase] = {}

    def answer(self, question: Held) -> Held:
        """The rows, or the fault that SQLite ended with."""
        try:
            database = self._opened(question["database"])
            return database.ask_for_visitor(lambda connection: _asked(connection, question))
        except (sqlite3.Error, sqlite3.Warning) as fault:
            if fault.args == ("interrupted",):
                return {"is_interrupted": True}
            return {"fault": type(fault).__name__, "words": str(fault)}
        except (OverflowError, ValueError, TypeError) as fault:
            return {"fault": "OperationalError", "words": str(fault)}
        except MemoryError:
            return {"fault": "OperationalError", "words": TOO_MUCH_MEMORY, "is_last": True}

    def _opened(self, said: Held) -> TeamDatabase:
        key = json.dumps(said, sort_keys=True)
        found = self._open.pop(key, None)
        if found is None:
            found = opened_as_said(said)
            found.__class__ = TeamDatabase
        self._open[key] = found
        if len(self._open) > _MOST_OPEN:
            self._open.pop(next(iter(self._open))).close()
        return found


def _asked(connection: sqlite3.Connection, question: Held) -> Held:
    most = question["most_rows"]
    with limited(connection, question["within_ms"] / 1000):
        cursor = connection.cursor()
        cursor.execute(question["sql"], question["given"])
        rows = cursor.fetchall() if most is None else cursor.fetchmany(most + 1)
    is_truncated = most is not None and len(rows) > most
    return {
        "columns": None if cursor.description is None else [column[0] for column in cursor.description],
        "rows": [list(map(held_value, row)) for row in rows[:most]],
        "is_truncated": is_truncated,
    }
