"""Which diff is where in which car, car by car and front to rear, and which diffs are spare: the lines of a plan."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.facts.car_diffs import InCar, in_cars
from bevelbook.facts.places import PLACE
from bevelbook.facts.runs import LAST_RUN_FIRST
from bevelbook.facts.sql import Row, rows
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.planning.event_to_come import CarToGo

_RAN_LAST: Final = f"""
SELECT b.diff, r.run_on FROM runs r CROSS JOIN run_diffs x ON x.run = r.id
CROSS JOIN builds b ON b.id = x.build CROSS JOIN diffs d ON d.id = b.diff
WHERE r.car = ? AND {PLACE} = ? ORDER BY {LAST_RUN_FIRST}, x.id LIMIT 1
"""
_DIFFS: Final = f"""
SELECT d.id AS diff, d.label, d.mark, s.current_build AS build, b.label AS build_label,
       coalesce(s.position, d.usual_position) AS position
FROM diffs d LEFT JOIN diff_facts s ON s.diff = d.id LEFT JOIN builds b ON b.id = s.current_build
WHERE {stands_alone_sql("diff", "d.id")} ORDER BY d.label, d.id
"""


class DiffInPlace(NamedTuple):
    """A diff with its last build, by id and label, and where it is at an event: a car (id and name) and a place.

    A spare is in no car that goes; ``position`` is where it ran last or usually runs. ``runs_planned`` are those of all
    cars that share it, None where not all are known; ``shared_with`` are the other cars by name.
    """

    diff: str
    label: str
    mark: str | None
    build: str | None
    build_label: str | None
    car: str | None
    car_name: str | None
    position: str | None
    runs_planned: float | None
    is_spare: bool
    shared_with: tuple[str, ...] = ()


class NoDiffThere(NamedTuple):
    """A place of a car without a diff: what is there ``instead``, or None where nobody wrote what is there."""

    car: str
    car_name: str
    position: str | None
    instead: str | None


class DiffsInPlace(NamedTuple):
    """Each diff once, car by car, front to rear, then the spares by label; and places that have none."""

    diffs: tuple[DiffInPlace, ...]
    without: tuple[NoDiffThere, ...]

    @property
    def spares(self) -> tuple[DiffInPlace, ...]:
        """The diffs that are in no car that goes."""
        return tuple(one for one in self.diffs if one.is_spare)


class _PlaceInCar(NamedTuple):
    car: CarToGo
    position: str


def diffs_in_place(connection: sqlite3.Connection, cars: Sequence[CarToGo]) -> DiffsInPlace:
    """Where each diff of the team is if these cars go: as written for the car, else as the car ran last.

    A car of which nothing is known at all is among ``without``, without a position.
    """
    put = in_cars(connection)
    put_by_diff = {there.diff: there for there in put.values() if there.diff is not None}
    places: dict[str, list[_PlaceInCar]] = {}
    without: list[NoDiffThere] = []
    for car in cars:
        found, is_known = [], False
        for position in POSITIONS:
            there = put.get((car.car, position))
            if there is not None:
                is_known = True
                if there.diff is None:
                    found.append(NoDiffThere(car.car, car.name, position, there.instead))
                    continue
            diff = there.diff if there is not None else _ran_last(connection, car.car, position, put_by_diff)
            if diff is not None:
                is_known = True
                places.setdefault(diff, []).append(_PlaceInCar(car, position))
        without += found if is_known else [NoDiffThere(car.car, car.name, None, None)]
    rows_by_diff = {row["diff"]: row for row in rows(connection, _DIFFS)}
    lines = [_in_place(rows_by_diff[diff], there) for diff, there in places.items()]
    lines += [_spare(row) for diff, row in rows_by_diff.items() if diff not in places]
    return DiffsInPlace(tuple(lines), tuple(without))


def _ran_last(connection: sqlite3.Connection, car: str, position: str, put: Mapping[str, InCar]) -> str | None:
    """The diff (by id) that a car ran last at a place, unless it was put into a car on a later day."""
    row = connection.execute(_RAN_LAST, (car, position)).fetchone()
    if row is None:
        return None
    there = put.get(row[0])
    return None if there is not None and there.from_when.day > row[1] else str(row[0])


def _in_place(row: Row, there: Sequence[_PlaceInCar]) -> DiffInPlace:
    first, *others = there
    planned = [one.car.runs for one in there]
    known = [runs for runs in planned if runs is not None]
    return DiffInPlace(
        row["diff"],
        row["label"],
        row["mark"],
        row["build"],
        row["build_label"],
        first.car.car,
        first.car.name,
        first.position,
        sum(known) if len(known) == len(planned) else None,
        False,
        tuple(one.car.name for one in others),
    )


def _spare(row: Row) -> DiffInPlace:
    return DiffInPlace(
        row["diff"],
        row["label"],
        row["mark"],
        row["build"],
        row["build_label"],
        None,
        None,
        row["position"],
        None,
        True,
    )
