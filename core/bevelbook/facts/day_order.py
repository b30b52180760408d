"""The place of each run in its day: as it was written down, else by the time of day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from bevelbook.facts.car_times import minutes


def places_in_day(runs: Iterable[Mapping[str, Any]]) -> dict[str, int]:
    """The place of each run in its day, by the run's id; a run whose place is not known is left out.

    ``runs`` have ``run``, ``run_on``, ``day_order`` and ``started_at``. A day goes by the places written down; by the
    times of day if more of its runs have one, equal times in the order of the rows. Places and times are not mixed
    within a day, since nothing says how they go together.

    >>> day = {"run_on": "2026-05-03", "day_order": None}
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
        else:
            found |= written
    return found
