"""What 'check --deep' does not see, by hand:

    nice -n 10 python tests/trials/try_unseen.py [--only builds] [--seed 1]

The demo with a sheet, a photograph, a join, records changed and removed is changed as a program does that knows nothing
of the tool: without triggers, one value of each column of each table, then one row of each table removed, then one
added. Each change is made alone, and the file is proved. Prints what nothing was found of; what cannot be known
is in 'bevelbook help backup'.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any, Final, NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from exported import SHEET
from photographed import picture
from trials.try_damaged import run

from bevelbook.plugin.registry import Registry, load
from bevelbook.records import BY_TABLE, KINDS
from bevelbook.reports.proof import prove
from bevelbook.store.schema import BOOKKEEPING, quoted

COMMANDS: Final = (
    ("demo",),
    ("import", "sheet.csv"),
    ("record", "photo", "--file", "groove.jpg", "build=rear-a/1", "piece=outdrive"),
    ("record", "venue", "name=The Loft"),
    ("record", "venue", "The Loft", "note=narrow"),
    ("record", "venue", "name=The Barn", "note=cold"),
    ("record", "venue", "The Barn", "--remove", "pulled down"),
    ("record", "diff", "label=rear-x"),
    ("record", "build", "diff=rear-x", "fluid=club 5000", "dry_mass=12.4g", "oil_mass=1.85g", "filled_mass=14.25g"),
    ("record", "weighing", "build=rear-x/1", "mass=14.22g"),
    ("join", "fluid", "club 7000", "club 5000"),
    ("calc", "fill-target", "--for", "rear-x/1", "--keep"),
)
"""The commands that make the file."""
_PLAIN: Final = ("history", "about", "as_written", "one_with", "also_called", "writing", "note_bytes", "picture_bytes")


class PlainChange(NamedTuple):
    """One change by another program."""

    table: str
    what: str
    statement: str
    values: tuple[Any, ...]


def made(folder: Path) -> bytes:
    """The file."""
    (folder / "sheet.csv").write_text(SHEET, encoding="utf-8", newline="")
    (folder / "groove.jpg").write_bytes(picture())
    path = folder / "team.db"
    for words in COMMANDS:
        done = run(path, *(folder / one if "." in one and (folder / one).exists() else one for one in words))
        assert done.code in (0, 1), (words, done)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    return path.read_bytes()


def opened(whole: bytes) -> sqlite3.Connection:
    """The file in memory, without triggers, checks and foreign keys."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.deserialize(whole)
    connection.row_factory = sqlite3.Row
    return connection


def spoil(connection: sqlite3.Connection, change: PlainChange) -> int:
    """Make a change past all triggers, which are there again afterwards; how many rows it changed."""
    connection.execute("PRAGMA ignore_check_constraints = ON")
    triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        connection.execute(f"DROP TRIGGER {quoted(name)}")
    changed = connection.execute(change.statement, change.values).rowcount
    for _, sql in triggers:
        connection.execute(sql)
    connection.execute("PRAGMA ignore_check_constraints = OFF")
    return changed


def changes(connection: sqlite3.Connection, draw: Random) -> Iterator[PlainChange]:
    """A change of each column of each table that has a row, a row less and a row more."""
    for table in (*(kind.table for kind in KINDS), *_PLAIN):
        rows = connection.execute(
            f"SELECT rowid AS place, * FROM {table}" if table not in _WITHOUT_ROWID else f"SELECT * FROM {table}"
        ).fetchall()
        if not rows:
            continue
        names = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        key = [row[1] for row in connection.execute(f"PRAGMA table_info({table})") if row[5]]
        for name in names:
            filled = [row for row in rows if row[name] is not None]
            for row in draw.sample(filled, min(1, len(filled))):
                where, values = _where(row, key)
                for other in _others(connection, table, name, row, draw):
                    statement = f"UPDATE {table} SET {quoted(name)} = ? WHERE {where}"
                    shown = repr(other)[:30]
                    yield PlainChange(table, f"{name}: {repr(row[name])[:30]} -> {shown}", statement, (other, *values))
        row = draw.choice(rows)
        where, values = _where(row, key)
        yield PlainChange(table, "a row less", f"DELETE FROM {table} WHERE {where}", values)
        new = {name: row[name] for name in names}
        changed = key[-1]
        new[changed] = f"{row[changed]}"[:-3] + "fff" if isinstance(row[changed], str) else row[changed] + 100_000
        marks = ", ".join("?" * len(names))
        listed = ", ".join(map(quoted, names))
        yield PlainChange(table, "a row more", f"INSERT INTO {table} ({listed}) VALUES ({marks})", tuple(new.values()))


_OF_THE_FILE: Final = "the file"
"""The part that is about the file on the disk, which a copy in memory does not change."""
_WITHOUT_ROWID: Final = frozenset({"about", "as_written", "one_with", "also_called"})


def _where(row: sqlite3.Row, key: list[str]) -> tuple[str, tuple[Any, ...]]:
    return " AND ".join(f"{quoted(name)} IS ?" for name in key), tuple(row[name] for name in key)


def _others(connection: sqlite3.Connection, table: str, name: str, row: sqlite3.Row, draw: Random) -> Iterator[Any]:
    """Another value that the column takes, and none where it may be empty."""
    value = row[name]
    kind = BY_TABLE.get(table)
    field = next((one for one in kind.fields if one.name == name), None) if kind else None
    if (
        (field is not None and not field.required)
        or (name in BOOKKEEPING and name not in ("version", "created_at", "updated_at"))
        or (table == "history" and name in ("parents", "content", "replaced_in", "replaced_at"))
    ):
        yield None
    if field is not None and field.kind == "choice":
        yield draw.choice([one for one in field.choices if one != value])
    elif (field is not None and field.kind == "reference") or name == "note_file":
        target = next(one for one in KINDS if one.name == (field.target if field else "note_file"))
        others = [
            r[0] for r in connection.execute(f"SELECT id FROM {target.table} WHERE id <> ? ORDER BY id", (value,))
        ]
        if others:
            yield draw.choice(others)
    elif isinstance(value, float):
        yield round(value * 1.1 + 0.01, 3)
    elif isinstance(value, int):
        yield value + 1
    elif isinstance(value, bytes):
        yield value[:-1] + bytes([value[-1] ^ 1])
    elif name.endswith("_at") and value[:4].isdecimal():
        yield f"{int(value[:4]) - 1}{value[4:]}"
    elif len(value) == 10 and value[4:5] == "-":
        yield f"{value[:4]}-{'01' if value[5:7] != '01' else '02'}-{value[8:]}"
    elif value[:1] in "{[":
        changed = value.replace("1", "2", 1)
        yield changed if changed != value else value.replace("a", "b", 1)
    else:
        yield f"{value}x"


def main() -> None:
    """Try all changes, and print those of which nothing is found."""
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--only", nargs="*", default=None)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = str(Path(folder) / "settings")
        whole = made(Path(folder))
        registry = load()
        path = Path(folder) / "team.db"
        with closing(opened(whole)) as connection:
            assert prove(connection, path, registry).is_in_order
            wanted = [
                one for one in changes(connection, Random(given.seed)) if not given.only or one.table in given.only
            ]
        unseen = tried = 0
        for change in wanted:
            found = seen(whole, path, registry, change)
            tried += found is not None
            if found == []:
                unseen += 1
                print(f"{change.table}: {change.what}", flush=True)
        print(f"{tried} changes, {unseen} of them unseen")


def seen(whole: bytes, path: Path, registry: Registry, change: PlainChange) -> list[str] | None:
    """In which parts of the proof a change is seen; None where it could not be made."""
    with closing(opened(whole)) as connection:
        try:
            if not spoil(connection, change):
                return None
        except sqlite3.IntegrityError:
            return None
        parts = prove(connection, path, registry).parts
        return [one.what for one in parts if not one.is_in_order and one.what != _OF_THE_FILE]


if __name__ == "__main__":
    main()
