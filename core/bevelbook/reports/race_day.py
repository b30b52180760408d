"""The runs of a day in their order, each with its diffs and with what changed in the car since the run before."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.facts.car_values import ValueChange, changes_between_runs
from bevelbook.facts.day_order import (
    AS_WRITTEN,
    day_in_turn,
    label_number_sql,
    noted_at_sql,
    places_in_day,
    run_before,
    runs_before,
)
from bevelbook.facts.lap_times import lap_columns_sql
from bevelbook.facts.sql import Row, rows
from bevelbook.reports import questions
from bevelbook.store.sqlite_errors import unread_record

MOST_RUNS: Final = 200
"""Runs of a day that are looked at, the first ones first."""
_RECORDS: Final = f"""
SELECT r.*, r.id AS run, e.name AS event_name, v.name AS venue_name, c.name AS car_name, p.name AS driver_name,
       {label_number_sql()} AS label_number, {noted_at_sql()} AS noted_at, {lap_columns_sql()}
FROM runs r LEFT JOIN events e ON e.id = r.event LEFT JOIN venues v ON v.id = r.venue
LEFT JOIN cars c ON c.id = r.car LEFT JOIN people p ON p.id = r.driver
"""


class OtherBuild(NamedTuple):
    """A place of the car with another build than in the run before: the two diffs in runs."""

    place: str
    before: Row
    now: Row


class RunAndChanges(NamedTuple):
    """A run: its record with the names in it, its place in the day if that is known, its diffs by their place in the
    car, and what changed since the run of the same car before."""

    record: Row
    place: int | None
    diffs: tuple[Row, ...]
    other_builds: tuple[OtherBuild, ...]
    values: tuple[ValueChange, ...]


class RaceDay(NamedTuple):
    """A day with its runs in their order, ``left_out`` more of them, and the days with runs before and after it."""

    day: str
    runs: tuple[RunAndChanges, ...]
    left_out: int
    before: str | None
    after: str | None

    @property
    def diffs(self) -> list[Row]:
        """The diffs in all of its runs."""
        return [diff for run in self.runs for diff in run.diffs]


class RunInItsDay(NamedTuple):
    """A run with the runs right before and after it on that day, as (id, label)."""

    run: RunAndChanges
    before: tuple[str, str] | None
    after: tuple[str, str] | None


def race_day(connection: sqlite3.Connection, day: str) -> RaceDay:
    """The runs of a day; none for a day without a run."""
    records = _of_day(connection, day)
    shown = records[:MOST_RUNS]
    before_each = runs_before(connection, day)
    looked_at = {*(one["run"] for one in shown), *before_each.values()}
    diffs = questions.diffs_in_runs(connection, sorted(looked_at))
    places = places_in_day(records)
    return RaceDay(
        day,
        tuple(_run(connection, one, places, before_each.get(one["run"]), diffs) for one in shown),
        len(records) - len(shown),
        _nearest_day(connection, day, "max", "<"),
        _nearest_day(connection, day, "min", ">"),
    )


def run_in_its_day(connection: sqlite3.Connection, run: str) -> RunInItsDay:
    """One run by its id, with its neighbours. Raises DatabaseError where it cannot be read."""
    found = rows(connection, f"{_RECORDS} WHERE r.id = ?", (run,))
    if not found:
        raise unread_record("run")
    of_day = _of_day(connection, found[0]["run_on"])
    at = next(place for place, one in enumerate(of_day) if one["run"] == run)
    before = run_before(connection, run)
    diffs = questions.diffs_in_runs(connection, [run, *([before] if before else [])])
    return RunInItsDay(
        _run(connection, found[0], places_in_day(of_day), before, diffs),
        _named(of_day[at - 1 : at]) if at else None,
        _named(of_day[at + 1 : at + 2]),
    )


def near_days(connection: sqlite3.Connection, day: str) -> list[str]:
    """The days with runs before and after a day; for any other text, and where there is none, the last ones."""
    near = [found for which in (("max", "<"), ("min", ">")) if (found := _nearest_day(connection, day, *which))]
    if day[:4].isdecimal() and near:
        return near
    last = connection.execute("SELECT DISTINCT run_on FROM runs ORDER BY run_on DESC LIMIT 2").fetchall()
    return sorted(row[0] for row in last)


def _named(found: Sequence[Row]) -> tuple[str, str] | None:
    return (found[0]["run"], found[0]["label"]) if found else None


def _nearest_day(connection: sqlite3.Connection, day: str, most: str, than: str) -> str | None:
    found: str | None = connection.execute(f"SELECT {most}(run_on) FROM runs WHERE run_on {than} ?", (day,)).fetchone()[
        0
    ]
    return found


def _of_day(connection: sqlite3.Connection, day: str) -> list[Row]:
    """The records of a day's runs, in their order."""
    found = {
        one["run"]: one for one in rows(connection, f"{_RECORDS} WHERE r.run_on = ? ORDER BY {AS_WRITTEN}", (day,))
    }
    return [found[run] for run in day_in_turn(found.values())]


def _run(
    connection: sqlite3.Connection,
    record: Row,
    places: Mapping[str, int],
    before: str | None,
    diffs: Mapping[str, Sequence[Row]],
) -> RunAndChanges:
    own = diffs[record["run"]]
    return RunAndChanges(
        record,
        places.get(record["run"]),
        tuple(own),
        tuple(_other_builds(diffs[before], own)) if before else (),
        tuple(changes_between_runs(connection, record["car"], before, record["run"])) if before else (),
    )


def _other_builds(before: Iterable[Row], now: Iterable[Row]) -> list[OtherBuild]:
    """The places that are noted for both runs, with another build in the later one."""
    old = {row["place"]: row for row in before if row["place"]}
    return [
        OtherBuild(row["place"], old[row["place"]], row)
        for row in now
        if row["place"] in old and old[row["place"]]["build"] != row["build"]
    ]
