"""The best lap of a run and the mean of its best five: as written, else worked out of the list of its laps; and which.

Where a list is not laps in seconds with blanks between, as old versions and other programs could write it, nothing is
worked out of it: a comma there may be a decimal mark.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

BEST_LAP: Final = "best_lap_s"
LISTED: Final = "lap_times"
BEST_FIVE: Final = "best_five_s"
FIVE: Final = 5
FROM_LAPS: Final = "laps"
"""In the columns that say where a time is from: of the list of laps. Written with the run: ``run``."""
_WORKED_OUT: Final = {BEST_LAP: "the least of the laps listed", BEST_FIVE: "worked out of the laps listed"}
_FROM: Final = {BEST_LAP: "best_lap_from", BEST_FIVE: "best_five_from"}
_BOTH: Final = "r.lap_times IS NOT NULL AND r.best_lap_s IS NOT NULL"


class OddBestLap(NamedTuple):
    """A run, by id and name, with a best lap that is not the least of its laps, beyond what rounding explains."""

    run: str
    label: str
    best_s: float
    least_s: float


class UnreadLaps(NamedTuple):
    """A run, by id and name, with a list of laps of which nothing is worked out."""

    run: str
    label: str
    listed: str


def is_listed_sql(runs: str = "r") -> str:
    """Whether a run has its laps in a list that can be read: numbers in seconds, with blanks between."""
    return f"({runs}.lap_times NOT GLOB '*[^0-9. ]*' AND json_valid({_array(runs)}))"


def best_lap_sql(runs: str = "r") -> str:
    """Best lap in s: as written, else the least of the laps listed; NULL where neither is there."""
    return f"CAST(coalesce({runs}.best_lap_s, {least_lap_sql(runs)}) AS REAL)"


def best_five_sql(runs: str = "r") -> str:
    """Mean of the best five laps in s: as written, else that of the five least of the laps listed.

    NULL where fewer than five are listed, and where laps are known to be missing in the list: the run had more, or its
    best lap is less than any listed.
    """
    return f"CAST(coalesce({runs}.best_five_s, {_mean_of_five(runs)}) AS REAL)"


def laps_from_sql(runs: str = "r") -> str:
    """The columns that say where the two are from: ``run``, ``laps``, or NULL where there is none."""
    return ", ".join(
        f"CASE WHEN {runs}.{name} IS NOT NULL THEN 'run' "
        f"WHEN {made} IS NOT NULL THEN '{FROM_LAPS}' END AS {_FROM[name]}"
        for name, made in ((BEST_FIVE, _mean_of_five(runs)), (BEST_LAP, least_lap_sql(runs)))
    )


def lap_columns_sql(runs: str = "r") -> str:
    """Both times under the names of their fields, and where each is from."""
    return f"{best_five_sql(runs)} AS {BEST_FIVE}, {best_lap_sql(runs)} AS {BEST_LAP}, {laps_from_sql(runs)}"


def is_timed_sql(runs: str = "r") -> str:
    """Whether a run has any of the two. Of five laps listed the least is known, so that the list is asked once."""
    return f"({runs}.best_five_s IS NOT NULL OR {best_lap_sql(runs)} IS NOT NULL)"


def worked_out_words(row: Mapping[str, Any], name: str) -> str:
    """That a time of a row with these columns is worked out of its laps; empty where it was written down.

    >>> worked_out_words({"best_lap_from": "laps"}, BEST_LAP), worked_out_words({"best_lap_from": "run"}, BEST_LAP)
    ('the least of the laps listed', '')
    """
    return _WORKED_OUT[name] if row[_FROM[name]] == FROM_LAPS else ""


def worked_out_beside(row: Mapping[str, Any], name: str) -> str:
    """The same in brackets, to stand right behind the time.

    >>> worked_out_beside({"best_lap_from": "laps"}, BEST_LAP), worked_out_beside({"best_lap_from": "run"}, BEST_LAP)
    (' (the least of the laps listed)', '')
    """
    words = worked_out_words(row, name)
    return f" ({words})" if words else ""


def is_rounded(one_s: float, other_s: float) -> bool:
    """Whether two times are one time, one of them rounded to the decimals that it has.

    >>> is_rounded(18.4, 18.39), is_rounded(18.4, 18.34), is_rounded(18.39, 18.39), is_rounded(18.41, 18.39)
    (True, False, True, False)
    """
    decimals = min(len(f"{time_s:.6f}".rstrip("0").partition(".")[2]) for time_s in (one_s, other_s))
    return abs(one_s - other_s) <= 0.5 * 10.0**-decimals + 1e-9


def least_laps(connection: sqlite3.Connection, lists: Sequence[object]) -> list[float | None]:
    """The least lap of each list, in s; None for one that cannot be read, or is none."""
    cursor = connection.cursor()
    cursor.row_factory = None
    least = f"SELECT {least_lap_sql()} FROM (SELECT key, value AS lap_times FROM json_each(?)) r ORDER BY r.key"
    return [row[0] for row in cursor.execute(least, (json.dumps(lists),))]


def odd_best_laps(connection: sqlite3.Connection) -> Iterator[OddBestLap]:
    """The runs with a best lap that is not the least of their laps, the newest first."""
    cursor = connection.cursor()
    cursor.row_factory = None
    asked = (
        f"SELECT * FROM (SELECT r.id, r.label, r.best_lap_s, {least_lap_sql()} AS least_s, r.run_on "
        f"FROM runs r WHERE {_BOTH}) WHERE least_s <> best_lap_s ORDER BY run_on DESC, label, id"
    )
    for run, label, best_s, least_s, _ in cursor.execute(asked).fetchall():
        if not is_rounded(best_s, least_s):
            yield OddBestLap(run, label, best_s, least_s)


def unread_laps(connection: sqlite3.Connection) -> list[UnreadLaps]:
    """The runs with a list of laps that is not laps in seconds with blanks between, the newest first."""
    cursor = connection.cursor()
    cursor.row_factory = None
    asked = (
        "SELECT r.id, r.label, r.lap_times FROM runs r "
        f"WHERE r.lap_times IS NOT NULL AND NOT {is_listed_sql()} ORDER BY r.run_on DESC, r.label, r.id"
    )
    return [UnreadLaps(*row) for row in cursor.execute(asked)]


def _array(runs: str) -> str:
    return f"'[' || replace({runs}.lap_times, ' ', ',') || ']'"


def least_lap_sql(runs: str = "r") -> str:
    """The least of the laps listed, in s; NULL where there is no list that can be read."""
    laps = f"(SELECT min(j.value) FROM json_each({_array(runs)}) j)"
    return f"CASE WHEN {is_listed_sql(runs)} THEN {laps} END"


def _mean_of_five(runs: str) -> str:
    laps = f"SELECT j.value FROM json_each({_array(runs)}) j ORDER BY j.value, j.key LIMIT {FIVE}"
    is_whole = (
        f"json_array_length({_array(runs)}) >= max({FIVE}, ifnull({runs}.laps, 0)) "
        f"AND ({runs}.best_lap_s IS NULL OR {runs}.best_lap_s >= {least_lap_sql(runs)})"
    )
    return (
        f"CASE WHEN {is_listed_sql(runs)} THEN CASE WHEN {is_whole} "
        f"THEN (SELECT round(avg(value), 6) FROM ({laps})) END END"
    )
