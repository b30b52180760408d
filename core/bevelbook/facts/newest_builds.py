"""The newest builds of each diff: what a report looks at where a book has too many to look at all of them each time.

Nothing can be done any more about what was wrong five years ago, and looking for it would make every check of a large
book a hundred times as long as the next decision needs.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.builds import newest_first

Among = Callable[[str], str]
"""Gives a query with the tables of builds and of what belongs to them cut down to those that are looked at."""
NEWEST: Final = 5
"""Builds of each diff that a report looks at: the one in use, and some to hold it against; our own figure."""
MOST: Final = 3000
"""Builds up to which it looks at all of them; our own figure."""
_BEGIN: Final = late_pattern(r"\A(?:\s+|--[^\n]*\n?|/\*.*?\*/)*+(WITH\s+(?:RECURSIVE\s+)?)?", re.DOTALL | re.IGNORECASE)
_OF_A_BUILD: Final = ("weighings", "openings", "run_diffs")
_CUT: Final = ", ".join(
    (
        "newest_builds AS MATERIALIZED (SELECT b.id FROM main.diffs d CROSS JOIN main.builds b ON b.id IN ("
        f"SELECT n.id FROM main.builds n WHERE n.diff = d.id ORDER BY {newest_first('n')} LIMIT {NEWEST}))",
        "builds AS (SELECT * FROM main.builds WHERE id IN (SELECT id FROM newest_builds))",
        *(
            f"{table} AS (SELECT * FROM main.{table} WHERE build IN (SELECT id FROM newest_builds))"
            for table in _OF_A_BUILD
        ),
    )
)


def all_builds(sql: str) -> str:
    """The query as it is."""
    return sql


def of_newest_builds(sql: str) -> str:
    """The same query about the newest builds of each diff, and what belongs to them, alone.

    >>> of_newest_builds("SELECT id FROM builds")[-23:], of_newest_builds("with x as (select 1) select 2")[-26:]
    (') SELECT id FROM builds', ', x as (select 1) select 2')
    """
    found = _BEGIN.match(sql)
    begin, rest = (found[1] or "WITH ", sql[found.end() :]) if found else ("WITH ", sql)
    return f"{begin}{_CUT}{',' if found and found[1] else ''} {rest}"


def builds_in_all(connection: sqlite3.Connection) -> int:
    """How many builds there are."""
    count: int = connection.execute("SELECT count(*) FROM builds").fetchone()[0]
    return count
