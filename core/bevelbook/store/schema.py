"""The schema as the fields declare it: tables with their checks, indexes and full-text indexes.

Bookkeeping columns come before the declared fields, so that a field declared last is a column added last.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from bevelbook.declare.fields import LARGEST, LARGEST_WORKED_OUT, Field
from bevelbook.facts.impossible import impossible_sql
from bevelbook.facts.sql import SQL_TYPE
from bevelbook.records import FACTS, KINDS, Kind
from bevelbook.store.about_table import ABOUT

APPLICATION_ID: Final = 0x62766C6B
"""The four bytes ``bvlk``."""

ALL_KINDS: Final = (*KINDS, *FACTS)
"""Every declared table: records, bookkeeping, and facts."""

STAMPS: Final = ("created_at", "updated_at", "updated_by")
ANOTHER_PROGRAM: Final = "another program"
"""Start of the version of a row written without an entry, by another program; a random number follows."""

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
"""The columns between the id and the fields of a record that people or an import write.

``version`` is the version of the record in this row; ``parents`` lists the versions before it, as JSON, and is empty in
a first version.
"""

_JSON: Final = {"calculation": frozenset({"given", "found", "rows", "uncertainties", "origins", "reasons"})}
"""Texts that are JSON, which the views of results parse: a single invalid one would break them all."""

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
    "CREATE INDEX history_beside ON history (table_name, row_id, id) WHERE content IS NOT NULL AND replaced_at IS NULL",
)
"""Past versions of records, oldest first: ``content`` is the row as JSON without its id, version and parents.

``replaced_in`` is the entry that replaced it, and empty if another program did, until somebody accepts that: then it
says so. A removal is a version without content, not replaced, after the version that was removed. A version that
nothing replaced stands beside the one that the table shows: both were written without knowing of each other.
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
"""Settings for the triggers, in one row that is empty outside a transaction of the tool.

``entry`` is the entry that is being written; ``bulk`` is set while an import fills the search itself; ``placing`` while
only columns that follow from other rows are set, which does not make a version.
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
"""Where triggers copy a record that another program may replace, meanwhile; ``place`` is its rowid."""

KEPT_BYTES: Final = """
CREATE TABLE note_bytes (
    sha256 TEXT PRIMARY KEY NOT NULL,
    packed BLOB NOT NULL
) STRICT
""".strip()
PICTURE_BYTES: Final = """
CREATE TABLE picture_bytes (
    sha256 TEXT PRIMARY KEY NOT NULL,
    thumbnail BLOB NOT NULL,
    jpeg BLOB NOT NULL
) STRICT
""".strip()
"""The small picture comes first: SQLite then reads it without going through the large one."""
AS_WRITTEN: Final = """
CREATE TABLE as_written (
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    column_name TEXT NOT NULL,
    written TEXT NOT NULL,
    PRIMARY KEY (table_name, row_id, column_name)
) STRICT, WITHOUT ROWID
""".strip()
"""What stands in a reference, where the record shows the one that it is one with: nobody's change, so no version."""
ONE_WITH: Final = """
CREATE TABLE one_with (
    kind TEXT NOT NULL,
    id TEXT NOT NULL,
    stands TEXT NOT NULL,
    PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID
""".strip()
"""The records that are one with another, which stands for them: worked out from the joins and the names."""
ALSO_CALLED: Final = """
CREATE TABLE also_called (
    table_name TEXT NOT NULL,
    row_id TEXT NOT NULL,
    label TEXT NOT NULL,
    PRIMARY KEY (table_name, row_id, label)
) STRICT, WITHOUT ROWID
""".strip()
"""Labels that the same record of a note row got in different places; each of them still finds it."""
FILE_TABLES: Final = ("note_bytes", "picture_bytes")
"""The plain tables of bytes of files: not records, so no history, no listing and no export has them."""


def quoted(name: str) -> str:
    """A name quoted for SQL."""
    return '"' + name.replace('"', '""') + '"'


def selected_columns(table: str, names: Iterable[str]) -> str:
    """Columns of a table to select, each with its table: SQLite takes a quoted name alone that the table does not have
    for a text, not for a fault.

    >>> selected_columns("builds", ["id", "label"])
    'builds."id", builds."label"'
    """
    return ", ".join(f"{table}.{quoted(name)}" for name in names)


def literal(text: str) -> str:
    """A text quoted for SQL."""
    return "'" + text.replace("'", "''") + "'"


def columns_of(kind: Kind) -> tuple[str, ...]:
    """All columns of a table, in order."""
    if kind.fact:
        return kind.columns
    return ("id", *(BOOKKEEPING if kind.own else ()), *kind.columns)


def table_sql(kind: Kind, kinds: Sequence[Kind] = KINDS) -> str:
    """CREATE TABLE of one kind of record; ``kinds`` are those that it may refer to."""
    tables = {one.name: one.table for one in kinds}
    if kind.fact:
        key, *others = kind.fields
        lines = [
            _column_sql(key, {}, key=True),
            *(_column_sql(field, {}, largest=LARGEST_WORKED_OUT) for field in others),
        ]
    else:
        lines = ["id TEXT PRIMARY KEY NOT NULL"]
        if kind.own:
            lines += [f"{name} {rest}" for name, rest in BOOKKEEPING.items()]
        json = _JSON.get(kind.name, frozenset())
        lines += [_column_sql(field, tables, is_json=field.name in json) for field in kind.fields]
        if kind.one_of:
            lines.append(f"CHECK ({' + '.join(f'({quoted(name)} IS NOT NULL)' for name in kind.one_of)} = 1)")
    ending = "STRICT, WITHOUT ROWID" if kind.fact else "STRICT"
    return f"CREATE TABLE {kind.table} (\n    " + ",\n    ".join(lines) + f"\n) {ending}"


def _column_sql(
    field: Field, tables: dict[str, str], *, key: bool = False, is_json: bool = False, largest: float = LARGEST
) -> str:
    name = quoted(field.name)
    parts = [name, SQL_TYPE.get(field.kind, "TEXT")]
    if key:
        parts.append("PRIMARY KEY")
    if field.required:
        parts.append("NOT NULL")
    checks = list(_bounds(field, name, largest=largest))
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


def _bounds(field: Field, name: str, *, largest: float) -> Iterator[str]:
    """The bounds of a number, on both sides: so no column takes infinity."""
    if field.kind not in ("quantity", "whole"):
        return
    if field.minimum is None and field.above is None:
        yield f"{name} >= {_exact(-largest)}"
    for bound, sign in ((field.minimum, ">="), (field.maximum, "<="), (field.above, ">"), (field.below, "<")):
        if bound is not None:
            yield f"{name} {sign} {_exact(bound)}"
    if field.maximum is None and field.below is None:
        yield f"{name} <= {_exact(largest)}"


def _exact(bound: float) -> str:
    """A bound with all its digits, whole ones without a point.

    >>> _exact(0.5), _exact(2_000_000.0), _exact(1234567.25)
    ('0.5', '2000000', '1234567.25')
    """
    return str(int(bound)) if bound == int(bound) and abs(bound) <= LARGEST else repr(float(bound))


_ORDERED: Final[dict[tuple[str, str], tuple[str, ...]]] = {
    ("build", "diff"): ("diff", "built_on", "day_order", "created_at", "note_line", "id"),
    ("build", "fluid"): ("fluid", "built_on"),
    ("run", "venue"): ("venue", "run_on"),
}
"""References whose index also has the order of the query: the last build of a diff, the newest
builds with a fluid, the newest runs at a venue."""
FROM_NOTES: Final = frozenset(
    {"bottle", "build", "car", "diff", "event", "fluid", "person", "run", "run_diff", "scale", "venue", "weighing"}
)
"""Kinds of which rows of notes make records: those of other kinds have no file and line to be found by."""
_FOUND_BY_LABEL: Final = ("build", "run")
"""Kinds with so many records that one is found by its label, in whatever case, through an index."""
_ASKED_OF_FACTS: Final[dict[str, tuple[str, ...]]] = {"build_fact": ("leak",)}
"""Fact columns queried besides the key: the builds that were weighed twice are few."""

_OF_RESULTS: Final = (
    ("subject_table", "subject_id", "calculator"),
    ("calculator", "verdict"),
    ("version", "calculator", "fingerprint"),
)
"""The last one does not begin with the calculator: without statistics it would be taken in place of the first one."""


def index_sql(kind: Kind) -> tuple[str, ...]:
    """CREATE INDEX for every reference, the day, the origin of what notes make, and ``_ORDERED``.

    The index of an optional reference leaves out the rows without it, which are most. Nobody queries by person, so
    references to people have no index. Kinds of ``_FOUND_BY_LABEL`` have one of the label, in whatever case. Records
    with impossible numbers have a separate index, mostly empty. A table of
    facts is queried by its key and by ``_ASKED_OF_FACTS``.
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
    if kind.name in FROM_NOTES:
        wanted.append(("note_file", "note_line"))
    if kind.name == "calculation":
        wanted += _OF_RESULTS
    found = tuple(
        f"CREATE INDEX {kind.table}_by_{'_'.join(columns)} ON {kind.table} ({', '.join(map(quoted, columns))})"
        + (f" WHERE {quoted(columns[0])} IS NOT NULL" if columns[0] in optional else "")
        for columns in wanted
    )
    if kind.name in _FOUND_BY_LABEL:
        label = f"{quoted(kind.label or 'id')} COLLATE NOCASE"
        found = (*found, f"CREATE INDEX {kind.table}_by_{kind.label} ON {kind.table} ({label})")
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

    The table's name is in double quotes because programs look for it like that.
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
    """Every statement that makes an empty database from these declarations, without triggers and views."""
    tables = [table_sql(kind, kinds) for kind in kinds]
    indexes = [sql for kind in kinds for sql in index_sql(kind)]
    searches = [search_sql(kind) for kind in kinds if kind.searched]
    plain = (REPLACING, ABOUT, KEPT_BYTES, PICTURE_BYTES, AS_WRITTEN, ONE_WITH, ALSO_CALLED)
    return (*tables, *HISTORY, *WRITING, *plain, *indexes, *searches)


def content_json(values: dict[str, object]) -> str:
    """The canonical text of a row's values, for hashes."""
    return json.dumps(values, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
