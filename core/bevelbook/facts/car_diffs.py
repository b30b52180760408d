"""What sits where in each car: a diff, or a spool or the like in its place.

One row says what was put where and from when on. It holds until another is put there, or until its diff is put anywhere
else: that needs no row of its own, so a diff is never in two cars.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final, NamedTuple

from bevelbook.facts.car_times import FromWhen, RunMoment, holds_at, in_order

_ROWS: Final = """
SELECT c.car, k.name, c.position, c.diff, d.label, c.instead, c.from_on, c.from_at, a.day_order, c.created_at
FROM car_diffs c JOIN cars k ON k.id = c.car LEFT JOIN diffs d ON d.id = c.diff LEFT JOIN runs a ON a.id = c.after_run
ORDER BY c.created_at, c.id
"""


class InCar(NamedTuple):
    """What sits at a place of a car: a diff (id and label), or what is there instead; and since when."""

    car: str
    car_name: str
    position: str
    diff: str | None
    label: str | None
    instead: str | None
    from_when: FromWhen

    @property
    def what(self) -> str:
        """``rear-a``, ``spool``."""
        return self.label or self.instead or ""

    @property
    def since(self) -> str:
        """``as in blue since 2026-05-03``."""
        time = f" {self.from_when.at}" if self.from_when.at else ""
        return f"as in {self.car_name} since {self.from_when.day}{time}"


class SetAtRun(NamedTuple):
    """What is in a car at a run, by place: without the changes of the day of which only a person knows whether they
    were before the run (``before``), and with them (``after``)."""

    before: dict[str, InCar]
    after: dict[str, InCar]

    def unclear(self) -> list[str]:
        """The places where that makes a difference."""
        places = {*self.before, *self.after}
        return sorted(place for place in places if _what(self.before, place) != _what(self.after, place))


def _what(found: dict[str, InCar], place: str) -> tuple[str | None, str | None]:
    return (found[place].diff, found[place].instead) if place in found else (None, None)


def set_at_run(connection: sqlite3.Connection, car: str, run: RunMoment) -> SetAtRun:
    """What is in a car (by id) at a run."""
    rows = _rows(connection)
    before = _replayed(rows, lambda change: bool(holds_at(change, run)))
    after = _replayed(rows, lambda change: holds_at(change, run) is not False)
    return SetAtRun(_of_car(before, car), _of_car(after, car))


def in_cars(connection: sqlite3.Connection, day: str | None = None) -> dict[tuple[str, str], InCar]:
    """What sits where in all cars at the end of a day, or after all changes: by car (id) and place."""
    return _replayed(_rows(connection), lambda change: day is None or change.day <= day)


def _rows(connection: sqlite3.Connection) -> list[InCar]:
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = [
        InCar(car, name, position, diff, label, instead, FromWhen(*when))
        for car, name, position, diff, label, instead, *when in cursor.execute(_ROWS)
    ]
    return [rows[place] for place in in_order([row.from_when for row in rows])]


def _replayed(rows: list[InCar], holds: Callable[[FromWhen], bool]) -> dict[tuple[str, str], InCar]:
    found: dict[tuple[str, str], InCar] = {}
    for row in rows:
        if holds(row.from_when):
            left = [place for place, there in found.items() if row.diff is not None and there.diff == row.diff]
            for place in left:
                del found[place]
            found[row.car, row.position] = row
    return found


def _of_car(found: dict[tuple[str, str], InCar], car: str) -> dict[str, InCar]:
    return {position: there for (in_car, position), there in found.items() if in_car == car}
