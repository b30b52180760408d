"""The events that are still to come, the next one first."""

from __future__ import annotations

import sqlite3
from datetime import date
from typing import Final, NamedTuple

from bevelbook.facts.standing import stands_alone_sql

MOST: Final = 12
"""Events that a page names; those after them are looked up by their name."""
_TO_COME: Final = f"""
SELECT id, name, first_on, last_on FROM events
WHERE coalesce(last_on, first_on) >= ? AND {stands_alone_sql("event")}
ORDER BY coalesce(first_on, last_on), name, id LIMIT ?
"""


class NamedEvent(NamedTuple):
    """An event by id and name, with its days (ISO 8601); ``last_on`` is None for an event of one day."""

    id: str
    name: str
    first_on: str
    last_on: str | None


def events_to_come(connection: sqlite3.Connection, today: date, most: int = MOST) -> list[NamedEvent]:
    """The events whose last day is today or later, the next one first; those without a day are none of them."""
    found = connection.execute(_TO_COME, (today.isoformat(), most)).fetchall()
    return [NamedEvent(row[0], row[1], row[2] or row[3], row[3]) for row in found]
