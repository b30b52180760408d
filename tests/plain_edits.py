"""Edits of a team's records in plain SQL, drawn by a seed: rows added, changed, moved, replaced and removed."""

from __future__ import annotations

import sqlite3
from random import Random
from typing import Any, Final

from bevelbook.declare.fields import Field
from bevelbook.records import BY_NAME, BY_TABLE

DIFFS: Final = 10
TABLES: Final = (
    *("scales", "fluids", "bottles", "diffs", "builds", "weighings", "runs", "run_diffs", "openings", "limits"),
    *("blend_parts", "seal_fittings", "build_parts", "bench_jobs"),
)
"""Tables that are edited, each after those that its rows point to."""
_WEIGHTS: Final = {"builds": 3, "weighings": 8, "run_diffs": 12, "runs": 4, "openings": 2, "limits": 2}
_VALUES: Final[dict[str, tuple[Any, ...]]] = {
    "builds.mass_basis": ("open half", "open half", None),
    "builds.viscosity_cst": (None, None, None, 7000.0),
    "bottles.viscosity_cst": (None, None, 6150.0),
    "mass_basis": (*("closed",) * 8, "open half", None),
    "step_g": (0.001, 0.01, 0.1),
    "repeatability_g": (None, 0.0, 0.004, 0.02),
    "day_to_day_g": (None, None, 0.004),
    "viscosity_cst": (None, 5000.0, 7000.0, 10000.0),
    "viscosity_from": (None, "note", "blend"),
    "dry_mass_g": (None, 12.4, 12.42),
    "oil_mass_g": (None, 1.5, 1.86, 2.1),
    "filled_mass_g": (None, 14.26, 14.3),
    "builds.closed_mass_g": (None, 22.4, 22.4, 22.4, 22.38),
    "openings.closed_mass_g": (None, 22.4, 22.3, 22.1),
    "blend_parts.mass_g": (0.5, 1.0, 2.0),
    "mass_g": (22.4, 22.39, 22.39, 22.37, 22.3, 22.25, 22.2, 22.0, 22.0, 1.0),
    "runs": (None, 0.0, 0.1, 0.2, 1.0, 2.5, 6.0, 13.0),
    "value": (0.0, 0.03, 0.06, 0.15, 2.0, 8.0),
    "diff_temp_c": (None, 25.0, 45.0, -300.0),
    "hand_feel": (None, "smooth", "loose"),
    "done_at": (None, None, "2026-01-02"),
    "given_up": (None, None, "no gasket"),
    "reason": ("routine", "leak", "notchy"),
    "mark": (None, "red", "blue"),
    "day_order": (None, 1, 2, 3),
    "note_line": (None, 0, 2, 10),
    "note_file": (*(None,) * 6, "first", "second"),
    "created_at": ("2026-01-01", "2026-01-02", "2026-01-03"),
}
"""What a column may hold, of one table or of any."""
_BOOKKEEPING: Final = ("created_at", "note_line", "note_file")


class Edits:
    """Draws edits and carries them out; ``log`` is what was done, for the message of a test that fails.

    Where names are equal, so that several records are one thing, there are three for each kind."""

    def __init__(self, connection: sqlite3.Connection, seed: int, *, are_names_equal: bool = False) -> None:
        self.connection, self.random = connection, Random(seed)
        self.seed, self.count, self.names, self.are_names_equal = seed, 0, 0, are_names_equal
        self.log: list[str] = []

    def fill(self) -> None:
        """A team to begin with: rows in every table."""
        for label in "ab":
            self._run("INSERT INTO seals (id, created_at, updated_at, label) VALUES (?1, 't', 't', ?1)", (label,))
        for name in ("first", "second"):
            self._run(
                "INSERT INTO note_files (id, name, sha256, byte_count, read_at, accepted, rejected, skipped) "
                "VALUES (?1, ?1, ?1, 0, 't', 0, 0, 0)",
                (name,),
            )
        for table, count in dict.fromkeys(TABLES, 8).items():
            for _ in range(DIFFS if table == "diffs" else count * _WEIGHTS.get(table, 1)):
                self.insert(table)

    def one(self, table: str | None = None) -> None:
        """One edit, of a table or of any."""
        table = table or self.random.choices(TABLES, [_WEIGHTS.get(one, 1) for one in TABLES])[0]
        self.random.choices((self.insert, self.update, self.update_many, self.delete, self.replace), (4, 5, 1, 2, 1))[
            0
        ](table)

    def insert(self, table: str) -> None:
        self.count += 1
        row = {"id": f"{table} {self.seed}.{self.count:04}", **self._row(table)}
        self._run(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({_marks(row)})", tuple(row.values()))

    def replace(self, table: str) -> None:
        """Another row in place of one, by one statement."""
        row_id = self._any(table)
        if row_id is not None:
            row = {"id": row_id, **self._row(table)}
            self._run(f"INSERT OR REPLACE INTO {table} ({', '.join(row)}) VALUES ({_marks(row)})", tuple(row.values()))

    def update(self, table: str, columns: tuple[str, ...] | None = None) -> None:
        row_id = self._any(table)
        if row_id is None:
            return
        names = columns or tuple(self.random.sample(self._columns(table), 1))
        row = {name: self._other(table, name, row_id) for name in names}
        self._run(f"UPDATE {table} SET {_sets(row)} WHERE id = ?", (*row.values(), row_id))

    def update_many(self, table: str) -> None:
        """All rows of a table that look alike, by one statement."""
        name = self.random.choice(self._columns(table))
        self._run(
            f"UPDATE {table} SET {name} = ? WHERE {name} IS ?", (self._value(table, name), self._value(table, name))
        )

    def rename(self, table: str) -> None:
        """Another id for a row that nothing points to."""
        row_id = self._any(table)
        self.count += 1
        self._run(f"UPDATE {table} SET id = ? WHERE id = ?", (f"renamed {self.count:04}", row_id))

    def delete(self, table: str) -> None:
        self._run(f"DELETE FROM {table} WHERE id = ?", (self._any(table),))

    def _columns(self, table: str) -> list[str]:
        return [*_BOOKKEEPING, *(name for name in BY_TABLE[table].columns if name not in ("label", "name"))]

    def _row(self, table: str) -> dict[str, Any]:
        kind = BY_TABLE[table]
        wanted = [field.name for field in kind.fields if field.required or field.name in _VALUES or _is_way(field)]
        row = {"created_at": "t", "updated_at": "t", **{name: self._value(table, name) for name in wanted}}
        return row | {name: self._value(table, name) for name in _BOOKKEEPING}

    def _value(self, table: str, name: str) -> Any:
        values = _VALUES.get(f"{table}.{name}", _VALUES.get(name))
        if values is not None:
            required = name in BY_TABLE[table].columns and BY_TABLE[table].field(name).required
            return self.random.choice([one for one in values if one is not None] if required else values)
        field = BY_TABLE[table].field(name)
        if field.kind == "reference":
            return self._any(BY_NAME[field.target or ""].table, none=not field.required)
        if field.kind == "date":
            return self.random.choice([f"2026-02-0{day}" for day in range(1, 10)])
        if field.kind == "choice":
            return self.random.choice(field.choices)
        if field.kind != "text":
            return self.random.randrange(1, 9)
        drawn = f"{name} {self.random.randrange(3)}"
        if self.are_names_equal or name != BY_TABLE[table].label:
            return drawn
        self.names += 1
        return f"{drawn}.{self.names}"

    def _other(self, table: str, name: str, row_id: str) -> Any:
        """A value that a row does not have already, where a few draws find one."""
        (held,) = self.connection.execute(f"SELECT {name} FROM {table} WHERE id = ?", (row_id,)).fetchone()
        drawn = (self._value(table, name) for _ in range(6))
        return next((value for value in drawn if value != held), held)

    def _any(self, table: str, *, none: bool = False) -> str | None:
        """The id of some row; now and then none, where that may be."""
        ids = [row[0] for row in self.connection.execute(f"SELECT id FROM {table} ORDER BY id")]
        return None if not ids or (none and self.random.random() < 0.3) else self.random.choice(ids)

    def _run(self, sql: str, values: tuple[Any, ...]) -> None:
        """An edit that does not fit (a row that others point to, a bound) changes nothing."""
        try:
            self.connection.execute(sql, values)
            self.log.append(f"{sql} {values}")
        except sqlite3.IntegrityError as fault:
            self.log.append(f"refused ({fault}): {sql} {values}")


def _is_way(field: Field) -> bool:
    """Whether a reference leads to what facts rest on; those to people and venues do not."""
    return field.kind == "reference" and field.target in ("scale", "fluid", "bottle", "diff", "build", "seal")


def _marks(row: dict[str, Any]) -> str:
    return ", ".join("?" * len(row))


def _sets(row: dict[str, Any]) -> str:
    return ", ".join(f"{name} = ?" for name in row)
