"""How many runs a diff usually does on a day of this team."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.facts.runs import SAYS_SOMETHING
from bevelbook.stats.spread import median

RUNS_OF_A_DAY: Final = 4.0
"""So many where no day has runs to go by (this project's proposal)."""
_DAYS: Final = 10
"""Newest days from which the usual number is taken (this project's proposal)."""
_NEWEST: Final = f"""
SELECT sum(n.runs_after - n.runs_before)
FROM (SELECT DISTINCT r.run_on FROM runs r WHERE {SAYS_SOMETHING} ORDER BY r.run_on DESC LIMIT {_DAYS}) d
CROSS JOIN runs r ON r.run_on = d.run_on CROSS JOIN run_diffs x ON x.run = r.id
CROSS JOIN run_diff_facts n ON n.run_diff = x.id
GROUP BY r.run_on, x.build HAVING max({SAYS_SOMETHING})
"""
_MOST: Final = """
SELECT max(runs) FROM (
    SELECT sum(n.runs_after - n.runs_before) AS runs FROM run_diff_facts n CROSS JOIN run_diffs x ON x.id = n.run_diff
    CROSS JOIN runs r ON r.id = x.run GROUP BY r.run_on, x.build)
"""


def usual_runs(connection: sqlite3.Connection) -> float:
    """The median of what each diff did on each of the newest days on which it has a run that says more than that it
    ran: a call, a grip, laps or a time.

    A run that says no more only adds to its day, so that writing one down never makes the usual day shorter. Where all
    runs are such, it is the most that any diff did on a day, and at least ``RUNS_OF_A_DAY``.
    """
    of_each = [row[0] for row in connection.execute(_NEWEST)]
    if of_each:
        return float(median(of_each))
    return max(RUNS_OF_A_DAY, connection.execute(_MOST).fetchone()[0] or 0.0)
