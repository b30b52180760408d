"""The events that are to come, and on which days an event ran."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.runs import RUNS_OF_A_RUN, without_noise
from bevelbook.facts.sql import rows
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.records import BY_NAME
from bevelbook.store.record_names import names_of

MOST_AHEAD: Final = 5
_AHEAD: Final = f"""
SELECT e.id, e.venue, v.name AS venue_name, e.first_on, e.last_on FROM events e LEFT JOIN venues v ON v.id = e.venue
WHERE coalesce(e.last_on, e.first_on) >= ?1 AND (?2 IS NULL OR e.venue = ?2) AND {stands_alone_sql("event", "e.id")}
ORDER BY e.first_on, e.id LIMIT {MOST_AHEAD}
"""
_DAYS: Final = f"""
SELECT r.run_on AS day, count(*) AS notes, {without_noise(f"sum({RUNS_OF_A_RUN})")} AS runs
FROM runs r WHERE r.event = ? GROUP BY r.run_on ORDER BY r.run_on
"""


class EventAhead(NamedTuple):
    """An event that is not over: its id and name, where (id and name), and its days."""

    event: str
    name: str
    venue: str | None
    venue_name: str | None
    first_on: str
    last_on: str | None


class DayOfEvent(NamedTuple):
    """A day on which an event ran: how many notes of runs there are, and how many runs these are."""

    day: str
    notes: int
    runs: float


def events_ahead(connection: sqlite3.Connection, day: str, venue: str | None = None) -> list[EventAhead]:
    """The next events that are not over before a day, at most ``MOST_AHEAD``; of all venues, or of one (by id)."""
    found = rows(connection, _AHEAD, (day, venue))
    names = names_of(connection, BY_NAME["event"], [row["id"] for row in found])
    return [
        EventAhead(row["id"], names[row["id"]], row["venue"], row["venue_name"], row["first_on"], row["last_on"])
        for row in found
    ]


def days_of_event(connection: sqlite3.Connection, event: str) -> list[DayOfEvent]:
    """The days with runs of an event (by id), in their order."""
    return [DayOfEvent(row["day"], row["notes"], row["runs"]) for row in rows(connection, _DAYS, (event,))]
