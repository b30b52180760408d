"""The schema as the fields declare it: tables with their checks, indexes and full-text indexes.

Bookkeeping columns stand before the declared fields, so that a field declared last is a column added last.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.facts.impossible import impossible_sql
from bevelbook.records import FACTS, KINDS, Kind
from bevelbook.store.about import ABOUT

APPLICATION_ID: Final = 0x62766C6B
"""The four bytes ``bvlk``."""

ALL_KINDS: Final = (*KINDS, *FACTS)
"""Every declared table: records, what the tool keeps, and what follows from the records."""

STAMPS: Final = ("created_at", "updated_at", "updated_by")
ANOTHER_PROGRAM: Final = "another program"
"""How the version begins of what was written without an entry, by another program; a random number follows."""

BOOKKEEPING: Final = {
    "version": f"TEXT NOT NULL DEFAULT ('{ANOTHER_PROGRAM} ' || lower(hex(randomblob(8))))",
    "parents": "TEXT CHECK (parents IS NULL OR json_valid(parents))",
    "entered": "TEXT CHECK (entered IS NULL OR json_valid(entered))",
    "note_file": "TEXT REFERENCES note_files(id)",
    "note_line": "INTEGER",
    "created_at": "TEXT NOT NULL",
    "updated_at": "TEXT NOT NULL",
    "updated_by": "TEXT",
}
"""The columns of a record that people or an import write, between its id and its fields.

``version`` says which version of the record the row is; ``parents`` lists the versions it follows, as JSON, and is
empty in a first version.
"""

_JSON: Final = {"calculation": frozenset({"given", "found", "rows", "uncertainties", "origins", "reasons"})}
"""Texts that are JSON, which the views of results take apart: a single one that is not would end them all."""

SQL_TYPE: Final = {"quantity": "REAL", "whole": "INTEGER"}

HISTORY: Final = (
    """
CREATE TABLE history (
    id INTEGER PRIMARY KEY,
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    version TEXT NOT NULL,
    parents TEXT,
    content TEXT,
    replaced_in TEXT,
    replaced_at TEXT
) STRICT
""".strip(),
    "CREATE INDEX history_by_table_name_row_id_id ON history (table_name, row_id, id)",
    "CREATE INDEX history_of_removals ON history (table_name, row_id, id) WHERE content IS NULL",
)
"""Past versions of records, oldest first: ``content`` is the row as JSON without its id, version and parents.

``replaced_in`` is the entry that replaced it, and empty where another program did. A removal is a version without
content that nothing has replaced, after the version that was removed.
"""

WRITING: Final = (
    """
CREATE TABLE writing (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    entry TEXT,
    bulk INTEGER,
    placing INTEGER
) STRICT
""".strip(),
    "INSERT INTO writing (one) VALUES (1)",
)
"""What the triggers are told, always in one row that is empty outside a transaction of ours.

``entry`` is the entry that is being written; ``bulk`` is set while an import fills the search itself; ``placing``
while only what follows from other rows is set in a record, which makes no version of it.
"""

REPLACING: Final = """
CREATE TABLE replacing (
    table_name TEXT NOT NULL,
    place INTEGER NOT NULL,
    row_id TEXT NOT NULL,
    version TEXT NOT NULL,
    parents TEXT,
    content TEXT NOT NULL
) STRICT
""".strip()
"""Where triggers lay a record aside that another program may replace, while it does; ``place`` is its rowid."""

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


def columns_of(kind: Kind) -> tuple[str, ...]:
    """All columns of a table, in order."""
    if kind.fact:
        return kind.columns
    return ("id", *(BOOKKEEPING if kind.own else ()), *kind.columns)


def table_sql(kind: Kind, kinds: Sequence[Kind] = KINDS) -> str:
    """CREATE TABLE of one kind of record; ``kinds`` are those that its references may point to."""
    tables = {one.name: one.table for one in kinds}
    if kind.fact:
        key, *others = kind.fields
        lines = [_column_sql(key, {}, key=True), *(_column_sql(field, {}) for field in others)]
    else:
        lines = ["id TEXT PRIMARY KEY NOT NULL"]
        if kind.own:
            lines += [f"{name} {rest}" for name, rest in BOOKKEEPING.items()]
        json = _JSON.get(kind.name, frozenset())
        lines += [_column_sql(field, tables, is_json=field.name in json) for field in kind.fields]
    ending = "STRICT, WITHOUT ROWID" if kind.fact else "STRICT"
    return f"CREATE TABLE {kind.table} (\n    " + ",\n    ".join(lines) + f"\n) {ending}"


def _column_sql(field: Field, tables: dict[str, str], *, key: bool = False, is_json: bool = False) -> str:
    name = quoted(field.name)
    parts = [name, SQL_TYPE.get(field.kind, "TEXT")]
    if key:
        parts.append("PRIMARY KEY")
    if field.required:
        parts.append("NOT NULL")
    checks = list(_bounds(field, name))
    if is_json:
        checks.append(f"json_valid({name})" if field.required else f"{name} IS NULL OR json_valid({name})")
    if field.kind == "date":
        checks.append(f"{name} IS date({name}, '+0 days')")
    elif field.kind == "choice":
        known = " OR ".join(f"{name} = {literal(one)}" for one in field.choices)
        checks.append(known if field.required else f"{name} IS NULL OR {known}")
    if checks:
        parts.append(f"CHECK ({' AND '.join(checks)})")
    if field.kind == "reference" and field.target and tables:
        parts.append(f"REFERENCES {tables[field.target]}(id)")
    return " ".join(parts)


def _bounds(field: Field, name: str) -> Iterator[str]:
    for bound, sign in ((field.minimum, ">="), (field.maximum, "<="), (field.above, ">"), (field.below, "<")):
        if bound is not None:
            yield f"{name} {sign} {_exact(bound)}"


def _exact(bound: float) -> str:
    """A bound to its last digit, whole ones without a point.

    >>> _exact(0.5), _exact(2_000_000.0), _exact(1234567.25)
    ('0.5', '2000000', '1234567.25')
    """
    return str(int(bound)) if bound == int(bound) else repr(float(bound))


_ORDERED: Final[dict[tuple[str, str], tuple[str, ...]]] = {
    ("build", "diff"): ("diff", "built_on", "created_at", "note_line", "id"),
    ("build", "fluid"): ("fluid", "built_on"),
    ("run", "venue"): ("venue", "run_on"),
}
"""References whose index also holds the order in which the rows are asked for: the last build of a diff, the newest
builds with a fluid, the newest runs at a venue."""
_ASKED_OF_FACTS: Final[dict[str, tuple[str, ...]]] = {"build_fact": ("leak",)}
"""What facts are asked for beside their key: the builds that were weighed twice, few among those that were not."""


def index_sql(kind: Kind) -> tuple[str, ...]:
    """CREATE INDEX of every reference, of the day, of where an imported row came from, and what ``_ORDERED`` says.

    The index of an optional reference leaves out the rows that have none: most rows have none of most. Nobody asks for
    what a person wrote, so references to people have none. The records whose numbers cannot be are in an index of their
    own, mostly empty. A table of facts is asked for by its key and by what
    ``_ASKED_OF_FACTS`` says.
    """
    asked = _ASKED_OF_FACTS.get(kind.name, ())
    fields = [
        field
        for field in kind.fields
        if (field.name in asked if kind.fact else field.kind == "reference" and field.target != "person")
    ]
    wanted: list[tuple[str, ...]] = [_ORDERED.get((kind.name, field.name), (field.name,)) for field in fields]
    optional = {field.name for field in fields if not field.required}
    if kind.day:
        wanted.append((kind.day,))
    if kind.own:
        wanted.append(("note_file", "note_line"))
    if kind.name == "calculation":
        wanted += [("subject_table", "subject_id"), ("calculator", "verdict")]
    found = tuple(
        f"CREATE INDEX {kind.table}_by_{'_'.join(columns)} ON {kind.table} ({', '.join(map(quoted, columns))})"
        + (f" WHERE {quoted(columns[0])} IS NOT NULL" if columns[0] in optional else "")
        for columns in wanted
    )
    condition = impossible_sql(kind)
    return (
        found
        if condition is None
        else (*found, f"CREATE INDEX {kind.table}_impossible ON {kind.table} (id) WHERE {condition}")
    )


def search_table(kind: Kind) -> str:
    """The name of a table's full-text index."""
    return f"{kind.table}_search"


def search_sql(kind: Kind) -> str:
    """CREATE VIRTUAL TABLE of the full-text index over a table's words.

    The table's name stands in double quotes because programs look for it like that.
    """
    columns = ", ".join(map(quoted, kind.searched))
    return (
        f"CREATE VIRTUAL TABLE {search_table(kind)} USING fts5("
        f"{columns}, content={quoted(kind.table)}, tokenize='unicode61 remove_diacritics 2')"
    )


def search_fill_sql(kind: Kind, where: str = "") -> str:
    """INSERT ... SELECT that puts rows of a table into its full-text index."""
    columns = ", ".join(map(quoted, kind.searched))
    return (
        f"INSERT INTO {search_table(kind)} (rowid, {columns}) SELECT rowid, {columns} FROM {kind.table} {where}".strip()
    )


def schema_sql(kinds: Sequence[Kind] = ALL_KINDS) -> tuple[str, ...]:
    """Every statement that makes an empty database of these declarations, triggers and views left out."""
    tables = [table_sql(kind, kinds) for kind in kinds]
    indexes = [sql for kind in kinds for sql in index_sql(kind)]
    searches = [search_sql(kind) for kind in kinds if kind.searched]
    return (*tables, *HISTORY, *WRITING, REPLACING, ABOUT, KEPT_BYTES, *indexes, *searches)


def content_json(values: dict[str, object]) -> str:
    """The canonical text of a row's values, for hashes."""
    return json.dumps(values, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
