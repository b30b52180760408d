"""The place of each run in its day: as it was written down, else by the time of day, else by its label.

The label ``2026-05-03/2`` says the order only of runs that were written down on that day: later they come in any order.
A run that waited on a phone has its label from when it was handed over, and its place from when it was noted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.sql import rows

if TYPE_CHECKING:
    import sqlite3

_TIME: Final = late_pattern(r"\s*(\d{1,2})[:.](\d{2})")
_HOURS: Final = (("[0-1][0-9]", ""), ("2[0-3]", ""), ("[0-9]", "0"))
"""The hours that a time may begin with, and what is put before."""
_FROM_EAST: Final = "-14 hours"
_TO_WEST: Final = "+36 hours"
"""A day on earth, in UTC: it begins 14 hours before the day of UTC, and ends 12 hours after it."""


def minutes(time: str | None) -> int | None:
    """Minutes since midnight of ``14:05``; None for any other text.

    >>> minutes("14:05"), minutes("after lunch"), minutes("25:10")
    (845, None, None)
    """
    found = _TIME.match(time or "")
    if found is None:
        return None
    hour, minute = int(found[1]), int(found[2])
    return hour * 60 + minute if hour < 24 and minute < 60 else None


def time_sql(runs: str = "r") -> str:
    """The time of day of a run as ``14:05``, NULL where none is written or it is not one.

    Before there was a field of times, any text could be written: ``9:05`` and ``14.05`` count as well.
    """
    time = f"replace({runs}.started_at, '.', ':')"
    cases = " ".join(f"WHEN {time} GLOB '{hours}:[0-5][0-9]' THEN '{before}' || {time}" for hours, before in _HOURS)
    return f"CASE WHEN {runs}.started_at IS NULL THEN NULL {cases} END"


def first_run_first(runs: str = "r") -> str:
    """ORDER BY terms for runs: by day, a day as it was written down, then by the time of day, then as in its sheet."""
    return f"{runs}.run_on, {runs}.day_order, {time_sql(runs)}, {runs}.note_line, {runs}.id"


def last_run_first(runs: str = "r") -> str:
    """The same, the last run first."""
    return f"{runs}.run_on DESC, {runs}.day_order DESC, {time_sql(runs)} DESC, {runs}.note_line DESC, {runs}.id DESC"


def label_number_sql(runs: str = "r") -> str:
    """The number in the label of a run that was written down by hand on its day, NULL for others; a label that two have
    shows who wrote it, behind the number."""
    number = f"CAST(substr({runs}.label, length({runs}.run_on) + 2) AS INTEGER)"
    made = f"{runs}.run_on || '/' || {number}"
    shown = f"substr({runs}.label, 1, length({made}) + 4) = {made} || ' of '"
    return (
        f"CASE WHEN {runs}.note_file IS NULL AND ({runs}.label = {made} OR {shown}) "
        f"AND {written_that_day_sql(runs, 'run_on')} THEN {number} END"
    )


def written_that_day_sql(row: str, day: str) -> str:
    """Whether a row was written down on the day in its column ``day``: only then the order of writing says anything."""
    return (
        f"datetime({row}.created_at) BETWEEN datetime({row}.{day}, '{_FROM_EAST}') "
        f"AND datetime({row}.{day}, '{_TO_WEST}')"
    )


def noted_at_sql(runs: str = "r") -> str:
    """When a run was noted that has its label from this tool; NULL where somebody typed the label."""
    return f"iif(json_extract({runs}.entered, '$.label') IS NULL, {runs}.created_at, NULL)"


def place_columns_sql(runs: str = "r") -> str:
    """The columns of a run by which :func:`places_in_day` finds its place, besides ``run``."""
    return (
        f"{runs}.run_on, {runs}.day_order, {runs}.started_at, {label_number_sql(runs)} AS label_number, "
        f"{noted_at_sql(runs)} AS noted_at"
    )


def how_many_placed_sql(runs: str = "r") -> str:
    """How many of the runs of a group, which are those of a day, have a place in it, as :func:`places_in_day` says."""
    order, time = f"count({runs}.day_order)", f"count({time_sql(runs)})"
    return f"coalesce(nullif(iif({order} < {time}, {time}, {order}), 0), count({label_number_sql(runs)}))"


def places_in_day(runs: Iterable[Mapping[str, Any]]) -> dict[str, int]:
    """The place of each run in its day, by the run's id; a run whose place is not known is left out.

    ``runs`` have ``run``, ``run_on``, ``day_order``, ``started_at``, ``label_number`` and ``noted_at``. A day goes by
    the places written down; by the times of day if more of its runs have one, equal times in the order of the rows; by
    the labels if there is neither, each in the order in which the runs were noted unless somebody typed one. These are
    not mixed within a day, since nothing says how they go together.

    >>> day = {"run_on": "2026-05-03", "day_order": None, "label_number": None, "noted_at": None}
    >>> places_in_day([{**day, "run": "b", "started_at": "14:10"}, {**day, "run": "a", "started_at": "9.30"}])
    {'a': 1, 'b': 2}
    """
    by_day: dict[str, dict[str, Mapping[str, Any]]] = {}
    for run in runs:
        by_day.setdefault(run["run_on"], {})[run["run"]] = run
    found: dict[str, int] = {}
    for of_day in by_day.values():
        written = {one: run["day_order"] for one, run in of_day.items() if run["day_order"] is not None}
        times = {one: at for one, run in of_day.items() if (at := minutes(run["started_at"])) is not None}
        if len(written) < len(times):
            found |= {one: place for place, one in enumerate(sorted(times, key=lambda one: times[one]), start=1)}
        elif written:
            found |= written
        else:
            found |= _by_label({one: run for one, run in of_day.items() if run["label_number"] is not None})
    return found


def _by_label(of_day: Mapping[str, Mapping[str, Any]]) -> dict[str, int]:
    """The places by the labels: the numbers of the day in the order of noting, or as typed where somebody did."""
    numbers = sorted(run["label_number"] for run in of_day.values())
    if any(run["noted_at"] is None for run in of_day.values()):
        return {one: run["label_number"] for one, run in of_day.items()}
    in_turn = sorted(of_day, key=lambda one: (of_day[one]["noted_at"], of_day[one]["label_number"]))
    return dict(zip(in_turn, numbers, strict=True))


def day_in_turn(runs: Iterable[Mapping[str, Any]]) -> list[str]:
    """All runs of one day, by id, in their order; ``runs`` are as for :func:`places_in_day`, in the order of writing.

    A run whose place is not known comes right after the last one of those written before it.

    >>> day = {"run_on": "2026-05-03", "day_order": None, "label_number": None, "noted_at": None}
    >>> times = {"a": "12:00", "b": None, "c": "10:00"}
    >>> day_in_turn({**day, "run": run, "started_at": time} for run, time in times.items())
    ['c', 'a', 'b']
    """
    rows = list(runs)
    places = places_in_day(rows)
    last = 0
    found: list[tuple[int, int, str]] = []
    for number, row in enumerate(rows):
        place = places.get(row["run"], last)
        last = max(last, place)
        found.append((place, number, row["run"]))
    return [run for _, _, run in sorted(found)]


AS_WRITTEN: Final = "r.created_at, r.note_line, r.id"
"""ORDER BY terms for runs ``r`` of one day: as they were written down."""


def runs_of_day(connection: sqlite3.Connection, car: str, day: str) -> list[str]:
    """The runs of a car (by id) on a day, the first one first, as :func:`day_in_turn` has them."""
    found = rows(
        connection,
        f"SELECT r.id AS run, {place_columns_sql()} FROM runs r WHERE r.car = ? AND r.run_on = ? ORDER BY {AS_WRITTEN}",
        (car, day),
    )
    return day_in_turn(found)


def last_run_of_day(connection: sqlite3.Connection, car: str, day: str) -> str | None:
    """The last run of a car (by id) written down for a day: what is put in then holds from the run after it."""
    of_day = runs_of_day(connection, car, day)
    return of_day[-1] if of_day else None


def run_before(connection: sqlite3.Connection, run: str) -> str | None:
    """The run of the same car before a run (by id); None for its first run, and for a run that names no car."""
    car, day = connection.execute("SELECT car, run_on FROM runs WHERE id = ?", (run,)).fetchone()
    if car is None:
        return None
    of_day = runs_of_day(connection, car, day)
    place = of_day.index(run)
    return of_day[place - 1] if place > 0 else last_run_before(connection, car, day)


def last_run_before(connection: sqlite3.Connection, car: str, day: str) -> str | None:
    """The last run of a car (by id) before a day."""
    earlier = connection.execute("SELECT max(run_on) FROM runs WHERE car = ? AND run_on < ?", (car, day)).fetchone()[0]
    return None if earlier is None else last_run_of_day(connection, car, earlier)


def runs_before(connection: sqlite3.Connection, day: str) -> dict[str, str]:
    """The run of the same car before each run of a day, by id; a car's first run, and one that names no car, have
    none."""
    found: dict[str, str] = {}
    for (car,) in connection.execute(
        "SELECT DISTINCT car FROM runs WHERE run_on = ? AND car IS NOT NULL", (day,)
    ).fetchall():
        last = last_run_before(connection, car, day)
        for run in runs_of_day(connection, car, day):
            if last is not None:
                found[run] = last
            last = run
    return found
