"""Triggers that keep a record that another program replaces (REPLACE, INSERT OR REPLACE, UPDATE OR REPLACE).

SQLite runs no trigger for the replaced row unless recursive triggers are on, as on the tool's own connections. So a
trigger that runs before the write copies the row to the table ``replacing``, and one that runs after it puts it into
the history and removes it from the search. If nothing was replaced after all (INSERT OR IGNORE), the copy is not
needed: a removal of the row, the next row that is added or the next entry deletes it.

A replaced record is a record removed and added, whether or not recursive triggers are on.
"""

from __future__ import annotations

from typing import Final

from bevelbook.records import Kind
from bevelbook.store.schema import literal, quoted, search_table

_ROWID_NAMES: Final = "rowid, _rowid_, oid"
MOVED: Final = "(NEW.id IS NOT OLD.id OR NEW.rowid IS NOT OLD.rowid)"


def laid_aside_sql(kind: Kind, is_elsewhere: str, content: str) -> str:
    """CREATE TRIGGER that copies a row that a new row would replace.

    ``is_elsewhere`` is the condition for a write by another program, ``content`` the JSON of the row ``r``.
    """
    return _lay_aside(kind, f"{kind.table}_replaced_elsewhere BEFORE INSERT", is_elsewhere, content)


def moved_aside_sql(kind: Kind, is_elsewhere: str, content: str) -> str:
    """CREATE TRIGGER that copies a row whose id or rowid another row takes over."""
    when = f"{kind.table}_overrun_elsewhere BEFORE UPDATE OF id, {_ROWID_NAMES}"
    return _lay_aside(kind, when, f"{is_elsewhere} AND {MOVED}", content, " AND r.rowid IS NOT OLD.rowid")


def _lay_aside(kind: Kind, when: str, condition: str, content: str, but: str = "") -> str:
    table = kind.table
    rows = f"FROM {table} r WHERE (r.id = NEW.id OR r.rowid = NEW.rowid){but}"
    return (
        f"CREATE TRIGGER {when} ON {table} WHEN {condition} AND EXISTS (SELECT 1 {rows}) BEGIN "
        f"{cleared_sql(kind)} INSERT INTO replacing SELECT {literal(table)}, r.rowid, r.id, r.version, r.parents, "
        f"{content} {rows}; END"
    )


def moved_sql(kind: Kind, keep: str, search: str) -> str:
    """CREATE TRIGGER that keeps the record whose id or rowid another one took over.

    ``keep`` and ``search`` are its statements for the history and the search.
    """
    return (
        f"CREATE TRIGGER {kind.table}_moved AFTER UPDATE OF id, {_ROWID_NAMES} ON {kind.table} WHEN {MOVED} BEGIN "
        f"{keep}{search}{cleared_sql(kind)} END"
    )


def kept_trigger_sql(past: str, other: str, now: str) -> str:
    """CREATE TRIGGER that puts a copied row into the history: the version that was there, and its removal.

    ``past`` is the INSERT without its values, ``other`` SQL of a new version, ``now`` SQL of the instant. It is one
    trigger for all tables, since those of each table are read whenever the database is opened.
    """
    return (
        "CREATE TRIGGER replacing_kept AFTER UPDATE ON replacing BEGIN "
        f"{past} VALUES (NEW.table_name, NEW.row_id, NEW.version, NEW.parents, NEW.content, NULL, {now}); "
        f"{past} VALUES (NEW.table_name, NEW.row_id, {other}, json_array(NEW.version), NULL, NULL, NULL); END"
    )


def kept_sql(kind: Kind, but: str = "") -> str:
    """The statement that has the trigger above put the copied row into the history."""
    return f"UPDATE replacing SET place = place {_gone(kind)}{but}; "


def unsearched_sql(kind: Kind, but: str = "") -> str:
    """The statement that removes the copied row from the search; empty if the kind has none."""
    if not kind.searched:
        return ""
    index = search_table(kind)
    old = ", ".join(f"json_extract(content, {literal(f'$.{name}')})" for name in kind.searched)
    return (
        f"INSERT INTO {index} ({index}, rowid, {', '.join(map(quoted, kind.searched))}) "
        f"SELECT 'delete', place, {old} FROM replacing {_gone(kind)}{but}; "
    )


def cleared_sql(kind: Kind, row_id: str | None = None) -> str:
    """The statement that deletes the copies for a table, or for one of its records."""
    return (
        f"DELETE FROM replacing WHERE table_name = {literal(kind.table)}{f' AND row_id = {row_id}' if row_id else ''};"
    )


def follows_sql(kind: Kind, other: str) -> str:
    """The statements that make a new row of a removed record a version after its removal.

    A row that comes with a version keeps it, unless the record had that version before.
    """
    table = kind.table
    of_it = f"FROM history WHERE table_name = {literal(table)} AND row_id = NEW.id"
    removal = f"SELECT version {of_it} AND content IS NULL ORDER BY id DESC LIMIT 1"
    is_known = f"NEW.version IN (SELECT version {of_it})"
    return (
        "UPDATE writing SET placing = 1; "
        f"UPDATE {table} SET version = iif({is_known}, {other}, version), parents = json_array(({removal})) "
        f"WHERE rowid = NEW.rowid AND EXISTS ({removal}) AND (parents IS NULL OR {is_known}); "
        "UPDATE writing SET placing = NULL; "
    )


def _gone(kind: Kind) -> str:
    return f"WHERE table_name = {literal(kind.table)} AND (row_id = NEW.id OR place = NEW.rowid)"
