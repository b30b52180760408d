"""After how many runs a weighing counts, where the records of its day decide it: said, so that it can be corrected."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.facts.runs import count_of, runs_at_weighing_sql

_COUNTED: Final = f"""
SELECT {runs_at_weighing_sql("w")} FROM weighings w
WHERE w.id = ? AND w.runs IS NULL AND EXISTS (
    SELECT 1 FROM run_diffs x JOIN runs r ON r.id = x.run WHERE x.build = w.build AND r.run_on = w.weighed_on)
"""


def counted_after_line(connection: sqlite3.Connection, weighing: str) -> str | None:
    """Said of a weighing (by id) without runs on a day on which its build was run; None for all others."""
    row = connection.execute(_COUNTED, (weighing,)).fetchone()
    if row is None:
        return None
    return f"Counted as weighed after {count_of(row[0])}; if that is not so, give its runs"
