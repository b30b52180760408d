"""Which event of a name a run of a day is of: a club has a race of one name every month.

It is the one whose days the day is among, else the one without days; an event of other days never.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from bevelbook.reading.labels import folded_label


class EventDays(NamedTuple):
    """An event with its name, its days as far as they are known, and where it is."""

    id: str
    name: str
    first_on: str | None
    last_on: str | None
    venue: str | None

    def holds(self, day: str) -> bool:
        """Whether a day is among its days; an event of one day has no last one."""
        return self.first_on is not None and self.first_on <= day <= (self.last_on or self.first_on)


def events_standing(connection: sqlite3.Connection) -> list[EventDays]:
    """All events but those for which others stand, the oldest record first."""
    found = connection.execute(
        "SELECT id, name, first_on, last_on, venue FROM events WHERE typeof(name) = 'text' "
        "AND id NOT IN (SELECT id FROM one_with WHERE kind = 'event') ORDER BY created_at, id"
    )
    return [EventDays(*row) for row in found]


def events_by_name(connection: sqlite3.Connection) -> Mapping[str, list[EventDays]]:
    """The events that a name may mean, by the name as people mean it (``folded_label``): also by a name that one has
    which is one with it."""
    standing = {one.id: one for one in events_standing(connection)}
    found: dict[str, list[EventDays]] = {}
    stands = "LEFT JOIN one_with o ON o.kind = 'event' AND o.id = e.id WHERE typeof(e.name) = 'text'"
    asked = f"SELECT e.name, coalesce(o.stands, e.id) FROM events e {stands} ORDER BY e.created_at, e.id"
    names = connection.execute(asked)
    for name, row_id in names:
        alike = found.setdefault(folded_label(name), [])
        if row_id in standing and standing[row_id] not in alike:
            alike.append(standing[row_id])
    return found


def of_day(events: Iterable[EventDays], day: str) -> list[EventDays]:
    """Of events of one name those that a run of a day is of: those whose days it is among, else those without days."""
    listed = list(events)
    return [one for one in listed if one.holds(day)] or [one for one in listed if one.first_on is None]


def events_on(connection: sqlite3.Connection, day: str, venue: str | None) -> list[EventDays]:
    """The events whose days a day is among, at a venue: of no other place, where either is not known."""
    return [
        one
        for one in events_standing(connection)
        if one.holds(day) and (venue is None or one.venue is None or one.venue == venue)
    ]
