"""How long a job takes the team, as somebody typed it: what was typed for this diff, car or place comes before what
holds for all."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import JOBS

REBUILD, WEIGH, LOOK_OVER, OIL_CHANGE, OUT_AND_IN = JOBS
_TYPED: Final = "SELECT job, diff, car, position, minutes, waiting_minutes FROM job_times ORDER BY created_at, id"


class TypedJobTime(NamedTuple):
    """Minutes of hands that somebody typed for a job, and of the waiting that goes with it, None where not typed."""

    hands_min: float
    waiting_min: float | None


class TypedMinutes:
    """The minutes that the team typed for its jobs, looked up by job, diff, car and position."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._by_job: dict[str, list[tuple[Mapping[str, str], TypedJobTime]]] = {}
        for job, diff, car, position, hands_min, waiting_min in connection.execute(_TYPED):
            given = {"diff": diff, "car": car, "position": position}
            only = {name: one for name, one in given.items() if one is not None}
            self._by_job.setdefault(job, []).append((only, TypedJobTime(hands_min, waiting_min)))

    def of(
        self, job: str, diff: str | None = None, car: str | None = None, position: str | None = None
    ) -> float | None:
        """The minutes of a job on a diff in a car (by id) and a place; None where none were typed."""
        found = self.typed(job, diff, car, position)
        return None if found is None else found.hands_min

    def typed(
        self, job: str, diff: str | None = None, car: str | None = None, position: str | None = None
    ) -> TypedJobTime | None:
        """The same with its waiting. What was typed only for some diff, car or place holds there alone; of several
        that hold the one that names most of the three, of equal ones the one written last."""
        asked = {"diff": diff, "car": car, "position": position}
        most, found = -1, None
        for only, minutes in self._by_job.get(job, ()):
            if len(only) >= most and all(asked[name] == one for name, one in only.items()):
                most, found = len(only), minutes
        return found
