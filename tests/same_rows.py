"""All rows of a database as text that is equal for equal rows, whatever ids and times its records were given."""

from __future__ import annotations

import re
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from contextlib import closing
from hashlib import blake2b
from pathlib import Path
from typing import Final

_ID: Final = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[78][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}|\b[0-9a-f]{32}\b")
"""Ids of records, of entries and versions, and the mark of a book."""
_TIME: Final = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|\+00:00)?")
_ROUNDS: Final = 2
_ASIDE: Final = "name NOT GLOB 'sqlite_*' AND name NOT GLOB '*_search*' AND name <> '_sqlite_migrations'"


def same_rows(path: Path, aside: Sequence[str] = ()) -> list[str]:
    """Every row of every table, a line each, sorted; without those that have some words in them.

    An id is named by what the rows say in which it stands, so that two databases have equal lines where one is the
    other with other ids.
    """
    with closing(sqlite3.connect(path)) as connection:
        lines = [line for line in _lines(connection) if not any(one in line for one in aside)]
    names: dict[str, str] = {}
    for _ in range(_ROUNDS):
        seen = defaultdict(list)
        for line in lines:
            said = _named(line, names)
            for place, one in enumerate(_ID.findall(line)):
                seen[one].append(f"{place} {said}")
        names = {one: _short("\n".join(sorted(held))) for one, held in seen.items()}
    return sorted(_named(line, names) for line in lines)


def _named(line: str, names: Mapping[str, str]) -> str:
    return _ID.sub(lambda found: names.get(found[0], "id"), line)


def what_differs(one: list[str], other: list[str], most: int = 3) -> list[str]:
    """The first lines that stand in only one of two lists, or oftener, with a sign for which; the shortest first."""
    missing, more = Counter(one) - Counter(other), Counter(other) - Counter(one)
    found = [f"- {line[:200]}" for line in sorted(missing, key=len)[:most]]
    return [*found, *[f"+ {line[:200]}" for line in sorted(more, key=len)[:most]]]


def _short(text: str) -> str:
    return blake2b(text.encode(), digest_size=8).hexdigest()


def _lines(connection: sqlite3.Connection) -> list[str]:
    tables = [
        str(row[0])
        for row in connection.execute(f"SELECT name FROM sqlite_master WHERE type = 'table' AND {_ASIDE} ORDER BY name")
    ]
    return [
        _TIME.sub("time", f"{table} {tuple(row)!r}")
        for table in tables
        for row in connection.execute(f'SELECT * FROM "{table}"')
    ]
