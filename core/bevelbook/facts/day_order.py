"""The place of each run in its day: as it was written down, else by the time of day, else by its label.

The label ``2026-05-03/2`` says the order only of runs that were written down on that day: later they come in any order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from bevelbook.facts.car_times import minutes

_HOURS: Final = (("[0-1][0-9]", ""), ("2[0-3]", ""), ("[0-9]", "0"))
"""The hours that a time may begin with, and what is put before."""
_FROM_EAST: Final = "-14 hours"
_TO_WEST: Final = "+36 hours"
"""A day on earth, in UTC: it begins 14 hours before the day of UTC, and ends 12 hours after it."""


def time_sql(runs: str = "r") -> str:
    """The time of day of a run as ``14:05``, NULL where none is written or it is not one.

    Before there was a field of times, any text could be written: ``9:05`` and ``14.05`` count as well.
    """
    time = f"replace({runs}.started_at, '.', ':')"
    cases = " ".join(f"WHEN {time} GLOB '{hours}:[0-5][0-9]' THEN '{before}' || {time}" for hours, before in _HOURS)
    return f"CASE WHEN {runs}.started_at IS NULL THEN NULL {cases} END"


def label_number_sql(runs: str = "r") -> str:
    """The number in the label of a run that was written down by hand on its day, NULL for others."""
    number = f"CAST(substr({runs}.label, length({runs}.run_on) + 2) AS INTEGER)"
    return (
        f"CASE WHEN {runs}.note_file IS NULL AND {runs}.label = {runs}.run_on || '/' || {number} "
        f"AND datetime({runs}.created_at) BETWEEN datetime({runs}.run_on, '{_FROM_EAST}') "
        f"AND datetime({runs}.run_on, '{_TO_WEST}') THEN {number} END"
    )


def places_in_day(runs: Iterable[Mapping[str, Any]]) -> dict[str, int]:
    """The place of each run in its day, by the run's id; a run whose place is not known is left out.

    ``runs`` have ``run``, ``run_on``, ``day_order``, ``started_at`` and ``label_number``. A day goes by the places
    written down; by the times of day if more of its runs have one, equal times in the order of the rows; by the labels
    if there is neither. These are not mixed within a day, since nothing says how they go together.

    >>> day = {"run_on": "2026-05-03", "day_order": None, "label_number": None}
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
            found |= {one: run["label_number"] for one, run in of_day.items() if run["label_number"] is not None}
    return found
