"""An event as a plan takes it: where and when, the forecast, the cars that go and the runs planned for each."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Final, NamedTuple

from bevelbook.facts.sql import Row, rows

_EVENT: Final = """
SELECT e.*, v.name AS venue_name FROM events e LEFT JOIN venues v ON v.id = e.venue WHERE e.id = ?
"""
_CARS: Final = """
SELECT c.id, c.name, max(g.runs) AS runs FROM event_cars g JOIN cars c ON c.id = g.car WHERE g.event = ?
GROUP BY c.id ORDER BY c.name, c.id
"""
_CARS_IN_USE: Final = """
SELECT c.id, c.name, NULL AS runs FROM cars c WHERE EXISTS (
    SELECT 1 FROM runs r WHERE r.car = c.id
    AND r.run_on >= (SELECT date(max(run_on), '-6 months') FROM runs WHERE car IS NOT NULL)
) OR (EXISTS (SELECT 1 FROM car_diffs d WHERE d.car = c.id) AND NOT EXISTS (SELECT 1 FROM runs r WHERE r.car = c.id))
ORDER BY c.name, c.id
"""
"""Where nobody wrote which cars go: those that ran in the six months before the last run (our own figure), and those
that never ran and have something written down as being in them."""


class DayRange(NamedTuple):
    """A temperature expected, from the lowest to the highest, in °C; either end may be unknown."""

    low_c: float | None
    high_c: float | None

    @property
    def is_known(self) -> bool:
        """Whether either end is known."""
        return self.low_c is not None or self.high_c is not None

    @property
    def ends(self) -> tuple[float, ...]:
        """The ends that are known, each once, the lower first.

        >>> DayRange(12.0, 18.0).ends, DayRange(None, 18.0).ends, DayRange(15.0, 15.0).ends
        ((12.0, 18.0), (18.0,), (15.0,))
        """
        return tuple(sorted({one for one in (self.low_c, self.high_c) if one is not None}))

    @property
    def words(self) -> str:
        """As it is said; empty where nothing is known.

        >>> DayRange(12.0, 18.0).words, DayRange(15.0, None).words, DayRange(None, None).words
        ('12 to 18 °C', '15 °C', '')
        """
        return f"{' to '.join(f'{one:g}' for one in self.ends)} °C" if self.ends else ""


class CarToGo(NamedTuple):
    """A car that goes to an event, by id and name, and the runs planned for it on all days together."""

    car: str
    name: str
    runs: float | None


class EventToCome(NamedTuple):
    """An event: its id and name, where (id and name) and when, what is expected, and the cars that go, by name.

    ``are_cars_said`` is whether somebody wrote which cars go.
    """

    event: str
    name: str
    venue: str | None
    venue_name: str | None
    first_on: str | None
    last_on: str | None
    air: DayRange
    track: DayRange
    grip: str | None
    cars: tuple[CarToGo, ...]
    are_cars_said: bool
    note: str | None = None

    @property
    def has_forecast(self) -> bool:
        """Whether air or track is expected at all."""
        return self.air.is_known or self.track.is_known


def event_to_come(connection: sqlite3.Connection, event: str) -> EventToCome:
    """An event by its id. Where it names no cars, those that the team uses go. Raises LookupError if it is gone."""
    found = rows(connection, _EVENT, (event,))
    if not found:
        raise LookupError(event)
    row = found[0]
    said = rows(connection, _CARS, (event,))
    return EventToCome(
        event,
        row["name"],
        row["venue"],
        row["venue_name"],
        row["first_on"],
        row["last_on"] or row["first_on"],
        DayRange(row["air_low_c"], row["air_high_c"]),
        DayRange(row["track_low_c"], row["track_high_c"]),
        row["grip"],
        _to_go(said, row["runs_per_car"]) if said else cars_in_use(connection, row["runs_per_car"]),
        bool(said),
        row["note"],
    )


def cars_in_use(connection: sqlite3.Connection, runs: float | None = None) -> tuple[CarToGo, ...]:
    """The cars that the team uses, by name, with so many runs planned for each."""
    return _to_go(rows(connection, _CARS_IN_USE), runs)


def _to_go(cars: Sequence[Row], runs_per_car: float | None) -> tuple[CarToGo, ...]:
    return tuple(
        CarToGo(one["id"], one["name"], one["runs"] if one["runs"] is not None else runs_per_car) for one in cars
    )
