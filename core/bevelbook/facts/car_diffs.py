"""What sits where in each car: a diff, or a spool or the like in its place.

One row says what was put where and from when on. It holds until another is put there, or until its diff is put anywhere
else: that needs no row of its own, so a diff is never in two cars.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final, NamedTuple

from bevelbook.facts.car_times import (
    BEFORE,
    FromWhen,
    RunMoment,
    before_last_change,
    from_when_sql,
    holds_at,
    in_order,
)

_ROWS: Final = f"""
SELECT c.car, k.name, c.position, c.diff, d.label, c.instead, {from_when_sql("c")}
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


class Left(NamedTuple):
    """Where the diff was put that was at a place of a car; ``is_there`` is whether it is still there."""

    now: InCar
    is_there: bool


class SetAtRun(NamedTuple):
    """What is in a car at a run, by place: without the last change of the day of which only a person knows whether it
    was before the run (``before``), and with it (``after``).

    ``left`` is by place what became of the diff that was there last, if nothing was put there since.
    """

    before: dict[str, InCar]
    after: dict[str, InCar]
    left: dict[str, Left]

    def unclear(self) -> list[str]:
        """The places where that makes a difference."""
        places = {*self.before, *self.after}
        return sorted(place for place in places if _what(self.before, place) != _what(self.after, place))


def _what(found: dict[str, InCar], place: str) -> tuple[str | None, str | None]:
    return (found[place].diff, found[place].instead) if place in found else (None, None)


def set_at_run(connection: sqlite3.Connection, car: str, run: RunMoment) -> SetAtRun:
    """What is in a car (by id) at a run."""
    rows = _rows(connection)
    earlier = before_last_change(connection, car, run)
    if run.swap_said == BEFORE:
        run = earlier
    before, _ = _replayed(rows, lambda change: holds_at(change, earlier) is not False)
    after, left = _replayed(rows, lambda change: holds_at(change, run) is not False)
    gone = {
        place: Left(now, after.get((now.car, now.position)) is now)
        for (of_car, place), now in left.items()
        if of_car == car
    }
    return SetAtRun(_of_car(before, car), _of_car(after, car), gone)


def in_cars(connection: sqlite3.Connection, day: str | None = None) -> dict[tuple[str, str], InCar]:
    """What sits where in all cars at the end of a day, or after all changes: by car (id) and place."""
    return _replayed(_rows(connection), lambda change: day is None or change.day <= day)[0]


def _rows(connection: sqlite3.Connection) -> list[InCar]:
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = [
        InCar(car, name, position, diff, label, instead, FromWhen(*when))
        for car, name, position, diff, label, instead, *when in cursor.execute(_ROWS)
    ]
    return [rows[place] for place in in_order([row.from_when for row in rows])]


_ByPlace = dict[tuple[str, str], InCar]


def _replayed(rows: list[InCar], holds: Callable[[FromWhen], bool]) -> tuple[_ByPlace, _ByPlace]:
    """What sits where, by car and place; and for each place that a diff has left, where that diff was put last."""
    found: _ByPlace = {}
    left: _ByPlace = {}
    for row in rows:
        if holds(row.from_when):
            old = [place for place, there in found.items() if row.diff is not None and there.diff == row.diff]
            for place in old:
                del found[place]
            found[row.car, row.position] = row
            moved = [place for place, there in left.items() if row.diff is not None and there.diff == row.diff]
            left |= dict.fromkeys((*old, *moved), row)
            left.pop((row.car, row.position), None)
    return found, left


def _of_car(found: dict[tuple[str, str], InCar], car: str) -> dict[str, InCar]:
    return {position: there for (in_car, position), there in found.items() if in_car == car}
