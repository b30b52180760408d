"""A database as somebody may have made it who knows how it is kept: rows changed, swapped, doubled and dropped,
versions that follow each other in a ring or nothing at all. Every row by itself may be sound."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from random import Random

from bevelbook.meeting.their_schema import tables_of_step

_VALUES = (0, 1, -1, 1.5, "x", "", "2026-05-03", "2026-05-03T12:10:00.000Z", "[]", "{}", "rear", "yes")
_PLACED = {("history", "id"), ("run_diffs", "build"), ("weighings", "build"), ("weighings", "mass_basis")}
"""What follows from other rows is worked out where the file comes in; of rows of notes only this says which diff."""
_LEFT = ("about", "entries", "note_bytes", "picture_bytes")


def edit_rows(path: Path, draw: Random) -> list[str]:
    """Change a few rows of a database without triggers, drawn; returns what was done, to be said of a failure."""
    done = []
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        if draw.random() < 0.3:
            connection.execute("PRAGMA ignore_check_constraints = ON")
        filled = [
            name
            for name in tables_of_step(connection.execute("PRAGMA user_version").fetchone()[0])
            if name not in _LEFT and connection.execute(f"SELECT 1 FROM {name} LIMIT 1").fetchone()
        ]
        connection.execute("BEGIN")
        for _ in range(draw.choice((1, 1, 2, 5))):
            table = draw.choice([*filled, "history", "history", "history"])
            statement, values = _edit(connection, table, draw)
            try:
                connection.execute(statement, values)
                done.append(f"{statement} {values}")
            except sqlite3.IntegrityError:
                continue
        connection.execute("COMMIT")
    return done


def _edit(connection: sqlite3.Connection, table: str, draw: Random) -> tuple[str, tuple[object, ...]]:
    columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
    has_rowid = table not in ("as_written", "also_called")
    if not has_rowid:
        return f"DELETE FROM {table}", ()
    one, other = (_some_row(connection, table, draw) for _ in range(2))
    column = draw.choice([name for name in columns if (table, name) not in _PLACED])
    way = draw.randrange(8)
    if way == 0:
        return f"DELETE FROM {table} WHERE rowid = ?", (one,)
    if way == 1:
        return f'UPDATE {table} SET "{column}" = NULL WHERE rowid = ?', (one,)
    if way == 2 and "parents" in columns:
        versions = [row[0] for row in connection.execute(f"SELECT version FROM {table} ORDER BY rowid")]
        parents = draw.sample(versions, min(len(versions), draw.randint(0, 3)))
        if draw.random() < 0.3:
            parents = [connection.execute(f"SELECT version FROM {table} WHERE rowid = ?", (one,)).fetchone()[0]]
        return f"UPDATE {table} SET parents = ? WHERE rowid = ?", (json.dumps(parents, separators=(",", ":")), one)
    if way == 3:
        named = ", ".join(f'"{name}"' for name in columns if name != "id" or table != "history")
        picked = named if table == "history" else named.replace('"id"', "'0198' || lower(hex(randomblob(8)))")
        return f"INSERT INTO {table} ({named}) SELECT {picked} FROM {table} WHERE rowid = ?", (one,)
    if way == 4 and "replaced_at" in columns:
        at = draw.choice((None, "2026-05-03T12:10:00.000Z", "1999-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999Z"))
        return "UPDATE history SET replaced_at = ? WHERE id = ?", (at, one)
    if way == 5 and "content" in columns:
        content = connection.execute("SELECT content FROM history WHERE id = ?", (one,)).fetchone()[0]
        held = json.loads(content) if content else None
        if isinstance(held, dict) and held:
            name = draw.choice(sorted(held))
            if draw.random() < 0.5:
                del held[name]
            else:
                held[name] = draw.choice((None, 1, 1.5, "x", "", "2026-05-03", "rear", 9e999))
            return "UPDATE history SET content = ? WHERE id = ?", (json.dumps(held).replace("Infinity", "9e999"), one)
    if way == 6:
        value = draw.choice(
            (0, 1, -1, 1.5, "x", "", "2026-05-03", "2026-05-03T12:10:00.000Z", "[]", "{}", "rear", "yes")
        )
        return f'UPDATE {table} SET "{column}" = ? WHERE rowid = ?', (value, one)
    return (
        f'UPDATE {table} SET "{column}" = (SELECT "{column}" FROM {table} WHERE rowid = ?) WHERE rowid = ?',
        (other, one),
    )


def _some_row(connection: sqlite3.Connection, table: str, draw: Random) -> int:
    rows = [row[0] for row in connection.execute(f"SELECT rowid FROM {table} ORDER BY rowid")]
    return int(draw.choice(rows)) if rows else 0
