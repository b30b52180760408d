"""What holds of a car at a run besides its diffs: motor, gearing, tyres, springs; and what changed since the last run.

Each is written down once and holds until it is written again; one written without a value is out of the car.
"""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.car_times import (
    BEFORE,
    MOMENT,
    FromWhen,
    RunMoment,
    before_last_change,
    from_when_sql,
    holds_at,
    in_order,
    moment_of,
    written_moment,
)
from bevelbook.facts.day_order import run_before
from bevelbook.facts.runs import RUN_ORDER, RUNS_OF_A_RUN

_ROWS: Final = f"""
SELECT v.what, v.value, {from_when_sql("v")}
FROM car_values v LEFT JOIN runs a ON a.id = v.after_run WHERE v.car = ? ORDER BY v.created_at, v.id
"""


class ValueChange(NamedTuple):
    """One value of a car that differs from the run before; None where it was not there."""

    what: str
    before: str | None
    now: str | None

    @property
    def words(self) -> str:
        """``motor: 13.5, was 17.5``."""
        if self.before is None:
            return f"{self.what}: {self.now}, new"
        return f"{self.what}: {self.now}, was {self.before}" if self.now else f"{self.what}: out, was {self.before}"


def values_at(connection: sqlite3.Connection, car: str, run: RunMoment, *, unclear: bool = True) -> dict[str, str]:
    """What holds of a car (by id) at a run, by what it is; ``unclear`` is whether the last change of the day counts if
    only a person knows whether it was before the run."""
    if not unclear or run.swap_said == BEFORE:
        run = before_last_change(connection, car, run)
    return _held(_written(connection, car), run)


def values_in_runs(connection: sqlite3.Connection, build: str) -> dict[str, list[str]]:
    """What held of the car in the runs of a build (by id), by what it is: each value once, in order of the runs."""
    runs = connection.execute(
        f"SELECT r.car, {MOMENT} FROM run_diffs x JOIN runs r ON r.id = x.run "
        f"WHERE x.build = ? AND r.car IN (SELECT car FROM car_values) ORDER BY {RUN_ORDER}",
        (build,),
    ).fetchall()
    written = {car: _written(connection, car) for car in {row[0] for row in runs}}
    found: dict[str, list[str]] = {}
    for car, *when in runs:
        run = written_moment(*when)
        if run.swap_said == BEFORE:
            run = before_last_change(connection, car, run)
        for what, value in _held(written[car], run).items():
            values = found.setdefault(what, [])
            if value not in values:
                values.append(value)
    return found


def runs_by_value(connection: sqlite3.Connection, diff: str, what: str) -> dict[str, dict[str, float]]:
    """The runs of each build (by id) of a diff by what the car had then, such as its motor; runs of a car of which that
    is not written are left out."""
    if connection.execute("SELECT 1 FROM car_values LIMIT 1").fetchone() is None:
        return {}
    runs = connection.execute(
        f"SELECT x.build, r.car, {RUNS_OF_A_RUN}, {MOMENT} FROM builds b CROSS JOIN run_diffs x ON x.build = b.id "
        "CROSS JOIN runs r ON r.id = x.run WHERE b.diff = ? AND r.car IN (SELECT car FROM car_values) "
        f"ORDER BY {RUN_ORDER}",
        (diff,),
    ).fetchall()
    written = {car: _written(connection, car) for car in {row[1] for row in runs}}
    found: dict[str, dict[str, float]] = {}
    for build, car, count, *when in runs:
        run = written_moment(*when)
        if run.swap_said == BEFORE:
            run = before_last_change(connection, car, run)
        held = {name.casefold(): value for name, value in _held(written[car], run).items()}
        if (value := held.get(what.casefold())) is not None:
            of_build = found.setdefault(build, {})
            of_build[value] = of_build.get(value, 0.0) + count
    return found


_Written = list[tuple[str, str | None, FromWhen]]
"""What, value, and from when on, in the order of time."""


def _written(connection: sqlite3.Connection, car: str) -> _Written:
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(_ROWS, (car,)).fetchall()
    whens = [FromWhen(*row[2:]) for row in rows]
    return [(rows[place][0], rows[place][1], whens[place]) for place in in_order(whens)]


def _held(written: _Written, run: RunMoment) -> dict[str, str]:
    found: dict[str, tuple[str, str | None]] = {}
    for what, value, when in written:
        if holds_at(when, run) is not False:
            found[what.casefold()] = (what, value)
    return {what: value for what, value in found.values() if value}


def changes_since_last_run(connection: sqlite3.Connection, run: str) -> list[ValueChange]:
    """What differs in the car of a run (by id) from the run of that car before it; empty for its first run."""
    last = run_before(connection, run)
    if last is None:
        return []
    (car,) = connection.execute("SELECT car FROM runs WHERE id = ?", (run,)).fetchone()
    return changes_between_runs(connection, car, last, run)


def changes_between_runs(connection: sqlite3.Connection, car: str, before: str, now: str) -> list[ValueChange]:
    """What differs in a car (by id) from one of its runs to another."""
    values = values_at(connection, car, moment_of(connection, before))
    return differences(values, values_at(connection, car, moment_of(connection, now)))


def differences(before: dict[str, str], now: dict[str, str]) -> list[ValueChange]:
    """What differs between two sets of values, by name."""
    old = {what.casefold(): value for what, value in before.items()}
    new = {what.casefold(): value for what, value in now.items()}
    names = {what.casefold(): what for what in (*before, *now)}
    return [
        ValueChange(names[key], old.get(key), new.get(key)) for key in sorted(names) if old.get(key) != new.get(key)
    ]
