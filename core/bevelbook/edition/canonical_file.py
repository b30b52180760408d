"""A database file whose bytes follow from its content alone, with one version of SQLite.

Tables are made and filled by name, rows by their key with rowids from 1, then indexes, search and views, all in one
transaction of a fresh file. A copy by the backup of SQLite, or by VACUUM INTO, keeps the order in which rows were once
written. There are no triggers: nobody writes to it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.views import view_sql
from bevelbook.plugin.calculator import Calculator
from bevelbook.store.calculation_views import ensure_views_of_kept
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opening import PAGE_BYTES
from bevelbook.store.schema import ALL_KINDS, APPLICATION_ID, quoted, schema_sql, search_sql, search_table

_MADE: Final = late_pattern(r"CREATE (TABLE|INDEX|UNIQUE INDEX) (\w+)")
_ASIDE: Final = "aside"
_EMPTY: Final = ("about", "replacing", "writing")
"""Tables that are not filled from the copy: what it says of itself, and what only triggers of writing need."""


def write_canonical(
    aside: Path, path: Path, about: Mapping[str, str], calculators: Iterable[Calculator[Any, Any]] = ()
) -> None:
    """Write what the database ``aside`` holds into a new file; ``about`` is what it says of itself, and the kept
    results of ``calculators`` get their views. Raises sqlite3.Error."""
    with closing(sqlite3.connect(path, isolation_level=None)) as made:
        for setting in (
            f"page_size = {PAGE_BYTES}",
            f"application_id = {APPLICATION_ID}",
            f"user_version = {LAST_STEP}",
            "journal_mode = OFF",
            "synchronous = OFF",
            "foreign_keys = OFF",
        ):
            made.execute(f"PRAGMA {setting}")
        made.execute(f"ATTACH DATABASE ? AS {_ASIDE}", (str(aside),))
        made.execute("BEGIN")
        tables, indexes = _statements()
        for name, statement in tables:
            made.execute(statement)
            if name not in _EMPTY:
                _fill(made, name)
        made.executemany("INSERT INTO main.about (name, value) VALUES (?, ?)", sorted(about.items()))
        for _, statement in indexes:
            made.execute(statement)
        for kind in sorted(ALL_KINDS, key=lambda one: one.table):
            if kind.searched:
                index = search_table(kind)
                made.execute(search_sql(kind))
                made.execute(f"INSERT INTO main.{index} ({index}) VALUES ('rebuild')")
                made.execute(f"INSERT INTO main.{index} ({index}) VALUES ('optimize')")
        for statement in view_sql():
            made.execute(statement)
        ensure_views_of_kept(made, calculators)
        made.execute("COMMIT")


def _statements() -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """CREATE of all tables, and of all indexes, each by name."""
    found: dict[str, list[tuple[str, str]]] = {"TABLE": [], "INDEX": []}
    for statement in schema_sql():
        made = _MADE.match(statement)
        if made is not None:
            found[made[1].removeprefix("UNIQUE ")].append((made[2], statement))
    return sorted(found["TABLE"]), sorted(found["INDEX"])


def _fill(made: sqlite3.Connection, table: str) -> None:
    columns = [row[0] for row in made.execute(f"SELECT name FROM pragma_table_info('{table}') ORDER BY cid")]
    keys = [row[0] for row in made.execute(f"SELECT name FROM pragma_table_info('{table}') WHERE pk ORDER BY pk")]
    listed, key = (", ".join(map(quoted, names)) for names in (columns, keys or columns))
    made.execute(f"INSERT INTO main.{table} ({listed}) SELECT {listed} FROM {_ASIDE}.{table} ORDER BY {key}")
