"""The steps by which SQLite goes about a query: ``EXPLAIN QUERY PLAN`` (https://www.sqlite.org/eqp.html)."""

from __future__ import annotations

import sqlite3
from typing import Final

LAPS: Final = "j VIRTUAL TABLE"
"""In the step that goes through the laps listed in one cell of one row: no more work for a larger book."""


def steps_of_plan(connection: sqlite3.Connection, sql: str) -> list[str]:
    """All steps of the plan of a query."""
    return [row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {sql}")]


def steps_beside_laps(connection: sqlite3.Connection, sql: str) -> list[str]:
    """The steps without those of sub-queries that go through the laps listed in one cell of one row."""
    plan = [tuple(row) for row in connection.execute(f"EXPLAIN QUERY PLAN {sql}")]
    within: dict[int, int] = {}
    for step, above, _, _ in plan:
        within[step] = within.get(above, step)
    of_a_cell = {within[step] for step, _, _, words in plan if LAPS in words and step != within[step]}
    return [words for step, _, _, words in plan if within[step] not in of_a_cell]
