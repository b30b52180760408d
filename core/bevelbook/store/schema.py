"""The schema as the fields declare it: tables with their checks, indexes, search, and the triggers of history."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Final

from bevelbook.fields import Field
from bevelbook.records import BY_NAME, KINDS, Kind

APPLICATION_ID: Final = 0x62766C6B
"""The four bytes ``bvlk``."""

STAMPS: Final = ("created_at", "updated_at", "updated_by")
SQL_TYPE: Final = {"quantity": "REAL", "whole": "INTEGER"}

HISTORY: Final = """
CREATE TABLE history (
    id INTEGER PRIMARY KEY,
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    what TEXT NOT NULL CHECK (what IN ('changed', 'removed')),
    old TEXT NOT NULL,
    content_hash TEXT NOT NULL,
    replaced_at TEXT NOT NULL,
    replaced_by TEXT
) STRICT
""".strip()

KEPT_BYTES: Final = """
CREATE TABLE note_bytes (
    sha256 TEXT PRIMARY KEY NOT NULL,
    packed BLOB NOT NULL
) STRICT
""".strip()


def quoted(name: str) -> str:
    """A name as SQL takes it."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """A text as SQL takes it."""
    return "'" + text.replace("'", "''") + "'"


def extra_columns(kind: Kind) -> tuple[str, ...]:
    """Columns of a table beside the declared fields, in order after them."""
    if not kind.own:
        return ()
    return ("entered", "note_file", "note_line", *STAMPS)


def columns_of(kind: Kind) -> tuple[str, ...]:
    """All columns of a table, in order."""
    return ("id", *kind.columns, *extra_columns(kind))


def table_sql(kind: Kind) -> str:
    """CREATE TABLE of one kind of record."""
    lines = ["id TEXT PRIMARY KEY NOT NULL"]
    lines += [_column_sql(field) for field in kind.fields]
    if kind.own:
        lines += [
            "entered TEXT CHECK (entered IS NULL OR json_valid(entered))",
            "note_file TEXT REFERENCES note_files(id)",
            "note_line INTEGER",
            "created_at TEXT NOT NULL",
            "updated_at TEXT NOT NULL",
            "updated_by TEXT",
        ]
    return f"CREATE TABLE {kind.table} (\n    " + ",\n    ".join(lines) + "\n) STRICT"


def _column_sql(field: Field) -> str:
    name = quoted(field.name)
    parts = [name, SQL_TYPE.get(field.kind, "TEXT")]
    if field.required:
        parts.append("NOT NULL")
    checks = list(_bounds(field, name))
    if field.kind == "date":
        checks.append(f"{name} IS date({name}, '+0 days')")
    elif field.kind == "choice":
        known = " OR ".join(f"{name} = {literal(one)}" for one in field.choices)
        checks.append(known if field.required else f"{name} IS NULL OR {known}")
    if checks:
        parts.append(f"CHECK ({' AND '.join(checks)})")
    if field.kind == "reference" and field.target:
        parts.append(f"REFERENCES {BY_NAME[field.target].table}(id)")
    return " ".join(parts)


def _bounds(field: Field, name: str) -> Iterator[str]:
    for bound, sign in ((field.minimum, ">="), (field.maximum, "<="), (field.above, ">"), (field.below, "<")):
        if bound is not None:
            yield f"{name} {sign} {bound:g}"


_ORDERED: Final[dict[tuple[str, str], tuple[str, ...]]] = {
    ("build", "diff"): ("diff", "built_on", "note_line", "created_at", "id")
}
"""References whose index also holds the order in which the rows are asked for: the last build of a diff."""


def index_sql(kind: Kind) -> tuple[str, ...]:
    """CREATE INDEX of every reference, of the day, of where an imported row came from, and what ``_ORDERED`` says.

    The index of an optional reference leaves out the rows that have none: most rows have none of most.
    """
    references = [field for field in kind.fields if field.kind == "reference"]
    wanted: list[tuple[str, ...]] = [_ORDERED.get((kind.name, field.name), (field.name,)) for field in references]
    optional = {field.name for field in references if not field.required}
    if kind.day:
        wanted.append((kind.day,))
    if kind.own:
        wanted.append(("note_file", "note_line"))
    if kind.name == "calculation":
        wanted += [("subject_table", "subject_id"), ("calculator", "verdict")]
    return tuple(
        f"CREATE INDEX {kind.table}_by_{'_'.join(columns)} ON {kind.table} ({', '.join(map(quoted, columns))})"
        + (f" WHERE {quoted(columns[0])} IS NOT NULL" if columns[0] in optional else "")
        for columns in wanted
    )


def search_table(kind: Kind) -> str:
    """The name of a table's full-text index."""
    return f"{kind.table}_search"


def search_sql(kind: Kind) -> str:
    """CREATE VIRTUAL TABLE of the full-text index over a table's words."""
    columns = ", ".join(map(quoted, kind.searched))
    return (
        f"CREATE VIRTUAL TABLE {search_table(kind)} USING fts5("
        f"{columns}, content={literal(kind.table)}, tokenize='unicode61 remove_diacritics 2')"
    )


def search_fill_sql(kind: Kind, where: str = "") -> str:
    """INSERT ... SELECT that puts rows of a table into its full-text index."""
    columns = ", ".join(map(quoted, kind.searched))
    return (
        f"INSERT INTO {search_table(kind)} (rowid, {columns}) SELECT rowid, {columns} FROM {kind.table} {where}".strip()
    )


def trigger_sql() -> tuple[str, ...]:
    """All triggers: history and search keep up with updates and deletes; who inserts fills the search itself."""
    return tuple(sql for kind in KINDS for sql in (*_history_triggers(kind), *_search_triggers(kind)))


def _history_triggers(kind: Kind) -> Iterator[str]:
    if not kind.own:
        return
    row = ", ".join(f"{literal(name)}, OLD.{quoted(name)}" for name in columns_of(kind))
    content = ", ".join(f"{literal(name)}, OLD.{quoted(name)}" for name in columns_of(kind) if name not in STAMPS)
    for event, what, by in (("UPDATE", "changed", "NEW.updated_by"), ("DELETE", "removed", "NULL")):
        yield (
            f"CREATE TRIGGER {kind.table}_{what} AFTER {event} ON {kind.table} BEGIN "
            "INSERT INTO history (table_name, row_id, what, old, content_hash, replaced_at, replaced_by) VALUES ("
            f"{literal(kind.table)}, OLD.id, {literal(what)}, json_object({row}), "
            f"bevelbook_hash(json_object({content})), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), {by}); END"
        )


def _search_triggers(kind: Kind) -> Iterator[str]:
    if not kind.searched:
        return
    table, index = kind.table, search_table(kind)
    columns = ", ".join(map(quoted, kind.searched))
    old = ", ".join(f"OLD.{quoted(name)}" for name in kind.searched)
    new = ", ".join(f"NEW.{quoted(name)}" for name in kind.searched)
    gone = f"INSERT INTO {index} ({index}, rowid, {columns}) VALUES ('delete', OLD.rowid, {old});"
    yield f"CREATE TRIGGER {table}_search_removed AFTER DELETE ON {table} BEGIN {gone} END"
    yield (
        f"CREATE TRIGGER {table}_search_changed AFTER UPDATE OF {columns} ON {table} BEGIN {gone} "
        f"INSERT INTO {index} (rowid, {columns}) VALUES (NEW.rowid, {new}); END"
    )


def schema_sql() -> tuple[str, ...]:
    """Every statement that makes an empty database of today's declarations, views left out."""
    tables = [table_sql(kind) for kind in KINDS]
    indexes = [sql for kind in KINDS for sql in index_sql(kind)]
    searches = [search_sql(kind) for kind in KINDS if kind.searched]
    return (*tables, HISTORY, KEPT_BYTES, *indexes, *searches)


def content_json(values: dict[str, object]) -> str:
    """The canonical text of a row's values, for hashes."""
    return json.dumps(values, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
