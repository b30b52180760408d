"""Where in the car the diff of a note row was, and which of the row's temperatures by place is its own.

The row itself says it, else the usual position of the diff and the car records do; where those two differ, or what was
in the car changed that day before or after the run, nobody knows.
"""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.facts.car_diffs import InCar, in_cars, set_at_run
from bevelbook.facts.car_times import RunMoment
from bevelbook.notes.note_columns import TEMP_AT

_COLUMN_AT: Final = {place: name for name, place in TEMP_AT.items()}
NEAR_C: Final = 0.1
"""Two temperatures of a diff in a row that differ by more are not the same one, rounded or converted."""


class RunOfRow(NamedTuple):
    """What a row says of its run: the ids of its diff and car, its day, time, place in the day and position."""

    diff: str | None
    day: str
    position: str | None = None
    car: str | None = None
    started_at: str | None = None
    day_order: int | None = None


class OwnTemperature(NamedTuple):
    """The place of a row's diff, its temperature if the column of that place has it, and the other cells by place."""

    place: str | None
    temp_c: float | None
    others: dict[str, Any]


class RowPlaces:
    """The places of the diffs of note rows, by what the database says of diffs and cars."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self._usual: dict[str, str | None] = {}
        self._found: dict[RunOfRow, str | None] = {}
        self._holds_cars: bool | None = None

    def place(self, run: RunOfRow) -> str | None:
        """The place of the row's diff; None if it is not known."""
        if run.position is not None or run.diff is None:
            return run.position
        if run not in self._found:
            self._found[run] = self._known_place(run)
        return self._found[run]

    def own_temperature(self, cells: dict[str, Any], run: RunOfRow) -> OwnTemperature:
        """Which of the temperatures by place (``cells``, by column) is that of the row's own diff."""
        place = self.place(run)
        own = None if place is None else _COLUMN_AT[place]
        others = {name: value for name, value in cells.items() if name != own}
        return OwnTemperature(place, None if own is None else cells.get(own), others)

    def _known_place(self, run: RunOfRow) -> str | None:
        assert run.diff is not None
        places = {self._usual_of(run.diff), *self._in_car(run, run.diff)} - {None}
        return places.pop() if len(places) == 1 else None

    def _usual_of(self, diff: str) -> str | None:
        if diff not in self._usual:
            row = self.connection.execute("SELECT usual_position FROM diffs WHERE id = ?", (diff,)).fetchone()
            self._usual[diff] = row[0] if row else None
        return self._usual[diff]

    def _in_car(self, run: RunOfRow, diff: str) -> set[str]:
        """Where the car records have a diff at a run: no place, one, or several where that is unclear."""
        if self._holds_cars is None:
            self._holds_cars = self.connection.execute("SELECT 1 FROM car_diffs LIMIT 1").fetchone() is not None
        if not self._holds_cars:
            return set()
        car = run.car
        if car is None:
            car = next((there.car for there in in_cars(self.connection, run.day).values() if there.diff == diff), None)
        if car is None:
            return set()
        at_run = set_at_run(self.connection, car, RunMoment(run.day, run.started_at, run.day_order))
        sits = {*_places_of(diff, at_run.before), *_places_of(diff, at_run.after)}
        taken = {
            place for place in (self._usual_of(diff),) if place in at_run.after and at_run.after[place].diff != diff
        }
        is_unclear = bool({*sits, *taken} & {*at_run.unclear()})
        return {*POSITIONS} if is_unclear or (taken and not sits) else sits


def _places_of(diff: str, there: dict[str, InCar]) -> set[str]:
    return {place for place, in_place in there.items() if in_place.diff == diff}


def differ(one: float | None, other: float | None) -> bool:
    """Whether two temperatures of one diff in one row contradict each other.

    >>> differ(48.0, 48.1), differ(48.0, 49.0), differ(48.0, None)
    (False, True, False)
    """
    return one is not None and other is not None and abs(one - other) > NEAR_C + 1e-9
