"""The events that are to come, and on which days an event ran."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.runs import RUNS_OF_A_RUN, without_noise
from bevelbook.facts.sql import Row, rows
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.records import BY_NAME
from bevelbook.store.record_names import names_of

MOST_AHEAD: Final = 5
_AHEAD: Final = f"""
SELECT e.id, e.venue, v.name AS venue_name, e.first_on, e.last_on FROM events e LEFT JOIN venues v ON v.id = e.venue
WHERE coalesce(e.last_on, e.first_on) >= ?1 AND (?2 IS NULL OR e.venue = ?2) AND {stands_alone_sql("event", "e.id")}
ORDER BY e.first_on, e.id LIMIT {MOST_AHEAD}
"""
DAYS_AFTER: Final = 7
"""So many days after an event the first page still leads to what is missing of it; our own figure."""
_JUST_OVER: Final = f"""
SELECT e.id, e.venue, v.name AS venue_name, e.first_on, e.last_on FROM events e LEFT JOIN venues v ON v.id = e.venue
WHERE coalesce(e.last_on, e.first_on) < ?1 AND coalesce(e.last_on, e.first_on) >= date(?1, '-{DAYS_AFTER} days')
AND EXISTS (SELECT 1 FROM runs r WHERE r.event = e.id) AND {stands_alone_sql("event", "e.id")}
ORDER BY coalesce(e.last_on, e.first_on) DESC, e.id LIMIT 1
"""
_DAYS: Final = f"""
SELECT r.run_on AS day, count(*) AS notes, {without_noise(f"sum({RUNS_OF_A_RUN})")} AS runs
FROM runs r WHERE r.event = ? GROUP BY r.run_on ORDER BY r.run_on
"""


class EventAhead(NamedTuple):
    """An event that is not over, or just over: its id and name, where (id and name), and its days."""

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
    return _named(connection, rows(connection, _AHEAD, (day, venue)))


def event_just_over(connection: sqlite3.Connection, day: str) -> EventAhead | None:
    """The event with runs that ended last, at most ``DAYS_AFTER`` days before a day."""
    return next(iter(_named(connection, rows(connection, _JUST_OVER, (day,)))), None)


def _named(connection: sqlite3.Connection, found: list[Row]) -> list[EventAhead]:
    names = names_of(connection, BY_NAME["event"], [row["id"] for row in found])
    return [
        EventAhead(row["id"], names[row["id"]], row["venue"], row["venue_name"], row["first_on"], row["last_on"])
        for row in found
    ]


def days_of_event(connection: sqlite3.Connection, event: str) -> list[DayOfEvent]:
    """The days with runs of an event (by id), in their order."""
    return [DayOfEvent(row["day"], row["notes"], row["runs"]) for row in rows(connection, _DAYS, (event,))]
