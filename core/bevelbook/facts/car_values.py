"""What holds of a car at a run besides its diffs: motor, gearing, tyres, springs; and what changed since the last run.

Each is written down once and holds until it is written again; one written without a value is out of the car.
"""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.car_times import FromWhen, RunMoment, holds_at, in_order, moment_of

_ROWS: Final = """
SELECT v.what, v.value, v.from_on, v.from_at, a.day_order, v.created_at
FROM car_values v LEFT JOIN runs a ON a.id = v.after_run WHERE v.car = ? ORDER BY v.created_at, v.id
"""
_RUN_BEFORE: Final = """
SELECT o.id FROM runs r JOIN runs o ON o.car = r.car AND o.id <> r.id
WHERE r.id = ? AND (o.run_on, coalesce(o.day_order, -1), o.created_at, o.id)
                 < (r.run_on, coalesce(r.day_order, -1), r.created_at, r.id)
ORDER BY o.run_on DESC, coalesce(o.day_order, -1) DESC, o.created_at DESC, o.id DESC LIMIT 1
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


def values_at(connection: sqlite3.Connection, car: str, run: RunMoment) -> dict[str, str]:
    """What holds of a car (by id) at a run, by what it is."""
    cursor = connection.cursor()
    cursor.row_factory = None
    rows = cursor.execute(_ROWS, (car,)).fetchall()
    whens = [FromWhen(*row[2:]) for row in rows]
    found: dict[str, tuple[str, str | None]] = {}
    for place in in_order(whens):
        if holds_at(whens[place], run) is not False:
            what, value = rows[place][:2]
            found[what.casefold()] = (what, value)
    return {what: value for what, value in found.values() if value}


def changes_since_last_run(connection: sqlite3.Connection, run: str) -> list[ValueChange]:
    """What differs in the car of a run (by id) from the run of that car before it; empty for its first run."""
    row = connection.execute(_RUN_BEFORE, (run,)).fetchone()
    if row is None:
        return []
    (car,) = connection.execute("SELECT car FROM runs WHERE id = ?", (run,)).fetchone()
    before = values_at(connection, car, moment_of(connection, row[0]))
    return differences(before, values_at(connection, car, moment_of(connection, run)))


def differences(before: dict[str, str], now: dict[str, str]) -> list[ValueChange]:
    """What differs between two sets of values, by name."""
    old = {what.casefold(): value for what, value in before.items()}
    new = {what.casefold(): value for what, value in now.items()}
    names = {what.casefold(): what for what in (*before, *now)}
    return [
        ValueChange(names[key], old.get(key), new.get(key)) for key in sorted(names) if old.get(key) != new.get(key)
    ]
