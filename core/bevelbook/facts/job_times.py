"""How long a job takes the team: one for a diff overrides the general one; of several the last written down."""

from __future__ import annotations

import sqlite3

from bevelbook.declare.vocabulary import JOBS

REBUILD, WEIGH, LOOK_OVER, OIL_CHANGE, OUT_AND_IN = JOBS


class TypedMinutes:
    """The minutes that the team typed for its jobs, looked up by job and diff."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        rows = connection.execute("SELECT job, diff, minutes FROM job_times ORDER BY created_at, id")
        self._last: dict[tuple[str, str | None], float] = {(row[0], row[1]): row[2] for row in rows}

    def of(self, job: str, diff: str) -> float | None:
        """The minutes of a job on a diff, by its id; None where none were typed."""
        return self._last.get((job, diff), self._last.get((job, None)))
