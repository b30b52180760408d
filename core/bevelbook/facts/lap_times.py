"""The best lap of a run and the mean of its best five: as written, else worked out of the list of its laps; and which.

Where a list is not laps in seconds with blanks between, as old versions and other programs could write it, nothing is
worked out of it: a comma there may be a decimal mark.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

BEST_LAP: Final = "best_lap_s"
BEST_FIVE: Final = "best_five_s"
FIVE: Final = 5
FROM_LAPS: Final = "laps"
"""In the columns that say where a time is from: of the list of laps. Written with the run: ``run``."""
_WORKED_OUT: Final = {BEST_LAP: "the least of the laps listed", BEST_FIVE: "worked out of the laps listed"}
_FROM: Final = {BEST_LAP: "best_lap_from", BEST_FIVE: "best_five_from"}


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
