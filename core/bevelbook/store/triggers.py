"""The triggers that keep past versions and the search, in plain SQL, so that any program may change the file.

They read the table ``writing``: an entry keeps one past version of each record that it changes, however often.
What is written without an entry, by another program, gets a new version, and the facts that depend on it are marked as
outdated: the next command that writes works them out again. What is the same for all tables is in ``keeping``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bevelbook.facts.touched_diffs import TABLES
from bevelbook.records import Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store.keeping import ADDED, CHANGED, MEETING, REMOVED, ROW, keeping_sql, keeping_view
from bevelbook.store.schema import ALL_KINDS, BOOKKEEPING, literal, quoted, search_table

_NOT_PLACING: Final = "(SELECT placing FROM writing) IS NULL"
_NOT_BULK: Final = "(SELECT bulk FROM writing) IS NULL"
_ELSEWHERE: Final = "entry IS NULL"
"""A condition on ``keeping``: another program writes."""


_AS_WRITTEN: Final = "FROM as_written WHERE table_name = NEW.table_name AND row_id = NEW.row_id"
AS_WRITTEN: Final = (
    "CREATE TRIGGER history_as_written AFTER INSERT ON history "
    f"WHEN NEW.content IS NOT NULL AND {_NOT_PLACING} AND EXISTS (SELECT 1 {_AS_WRITTEN}) BEGIN "
    "UPDATE history SET content = json_patch(content, "
    f"(SELECT json_group_object(column_name, written) {_AS_WRITTEN})) WHERE id = NEW.id; END"
)
"""The history keeps what was written. While ``placing`` is set, whoever adds to the history writes it whole."""


def trigger_sql(kinds: Sequence[Kind] = ALL_KINDS) -> tuple[str, ...]:
    """All triggers, and the two views that they need, each after what it uses."""
    own = [kind for kind in kinds if kind.own]
    without_facts = [kind.table for kind in own if not _follows_from_it(kind)]
    shared = (AS_WRITTEN, *keeping_sql(own, without_facts))
    return (*shared, *(sql for kind in kinds for sql in (*_history_triggers(kind), *_search_triggers(kind))))


def _follows_from_it(kind: Kind) -> bool:
    """Whether facts follow from a table, or which records are one: they are worked out after another program."""
    joins = kind.name == "join" or kind.name in JOINED_KINDS or bool(kind.joined_references)
    return kind.table in TABLES or joins


def content_sql(kind: Kind, row: str = "") -> str:
    """A record's content as JSON: all columns except id, version and parents, numbers to the last bit.

    ``json_object`` alone writes 15 digits of a number; 17 are needed. (Past 1e250 SQLite 3.40 gets the last of them
    wrong.) Infinity, which JSON lacks, is written as a number too large for a float.
    """
    names = [*list(BOOKKEEPING)[2:], *kind.columns]
    reals = {field.name for field in kind.fields if field.kind == "quantity"}
    return f"json_object({', '.join(f'{literal(name)}, {_value(row, name, name in reals)}' for name in names)})"


def _value(row: str, name: str, is_real: bool) -> str:
    column = f"{row}.{quoted(name)}" if row else quoted(name)
    if not is_real:
        return column
    return f"iif({column}, json(replace(printf('%!.17g', {column}), 'Inf', '9e999')), {column})"


def rewritten_sql(kind: Kind) -> str:
    """The statement that forgets what was written where it is changed; empty for a kind that shows all as written."""
    changed = " OR ".join(
        f"column_name = {literal(one)} AND NEW.{quoted(one)} IS NOT OLD.{quoted(one)}" for one in kind.shown_otherwise
    )
    of_it = f"table_name = {literal(kind.table)} AND row_id = OLD.id"
    return f" DELETE FROM as_written WHERE {of_it} AND ({changed});" if changed else ""


def _history_triggers(kind: Kind) -> Iterator[str]:
    if not kind.own:
        return
    table = kind.table
    yield (
        f"CREATE TRIGGER {keeping_view(table)}_{table} INSTEAD OF UPDATE OF {table} ON {keeping_view(table)} BEGIN "
        f"INSERT INTO {ROW} SELECT NEW.step, NEW.was, {literal(table)}, rowid, id, version, parents, "
        f"{content_sql(kind)} FROM {table} WHERE rowid = NEW.{table} OR rowid = NEW.place OR id = NEW.id; "
        f"UPDATE {table} SET version = k.version, parents = k.parents FROM {ROW} k "
        f"WHERE {table}.rowid = k.place; DELETE FROM {ROW}; END"
    )
    yield (
        f"CREATE TRIGGER {table}_changing BEFORE UPDATE ON {table} BEGIN "
        f"UPDATE {keeping_view(table)} SET {table} = OLD.rowid, place = NEW.rowid, id = NEW.id "
        "WHERE entry IS NOT OLD.version AND placing IS NULL; END"
    )
    yield (
        f"CREATE TRIGGER {table}_changed AFTER UPDATE ON {table} BEGIN {_moved(kind)}"
        f"UPDATE {keeping_view(table)} SET {table} = NEW.rowid, was = OLD.rowid, step = '{CHANGED}' "
        f"WHERE {_ELSEWHERE} AND placing IS NULL; END"
    )
    yield (
        f"CREATE TRIGGER {table}_removed BEFORE DELETE ON {table} BEGIN "
        f"UPDATE {keeping_view(table)} SET {table} = OLD.rowid, step = '{REMOVED}' WHERE placing IS NOT {MEETING}; END"
    )
    yield from added_sql(kind)


def added_sql(kind: Kind) -> Iterator[str]:
    """CREATE TRIGGER for all that run for a new row: an import drops them and makes them again.

    What another program replaces is laid aside before. It leaves the search before the new row comes in, which may have
    its place: that is one trigger, as the order of two is not fixed.
    """
    table = kind.table
    if kind.own:
        yield (
            f"CREATE TRIGGER {table}_adding BEFORE INSERT ON {table} BEGIN "
            f"UPDATE {keeping_view(table)} SET {table} = NEW.rowid, id = NEW.id WHERE {_ELSEWHERE}; END"
        )
    search = f"{_replaced_gone(kind)} {_come(kind, _NOT_BULK)} " if kind.searched else ""
    if kind.own or search:
        kept = (
            f"UPDATE {keeping_view(table)} SET {table} = NEW.rowid, step = '{ADDED}' WHERE {_ELSEWHERE}; "
            if kind.own
            else ""
        )
        yield f"CREATE TRIGGER {table}_added AFTER INSERT ON {table} BEGIN {search}{kept}END"


def _moved(kind: Kind) -> str:
    """The statements that have the search follow a row to another rowid, and lose a row whose place or id it took."""
    if not kind.searched:
        return ""
    moved = "NEW.rowid IS NOT OLD.rowid"
    return f"{_gone(kind, moved)} {_replaced_gone(kind, ' AND place IS NOT OLD.rowid')} {_come(kind, moved)} "


def _come(kind: Kind, condition: str = "") -> str:
    columns = ", ".join(map(quoted, kind.searched))
    new = ", ".join(f"NEW.{name}" for name in ("rowid", *map(quoted, kind.searched)))
    rows = f"SELECT {new} WHERE {condition}" if condition else f"VALUES ({new})"
    return f"INSERT INTO {search_table(kind)} (rowid, {columns}) {rows};"


def _gone(kind: Kind, condition: str = "") -> str:
    index = search_table(kind)
    columns = ", ".join(map(quoted, kind.searched))
    old = ", ".join(f"OLD.{name}" for name in ("rowid", *map(quoted, kind.searched)))
    rows = f"SELECT 'delete', {old} WHERE {condition}" if condition else f"VALUES ('delete', {old})"
    return f"INSERT INTO {index} ({index}, rowid, {columns}) {rows};"


def _replaced_gone(kind: Kind, but: str = "") -> str:
    """The statement that takes rows out of the search whose place or id another row took."""
    index = search_table(kind)
    old = ", ".join(f"json_extract(content, {literal(f'$.{name}')})" for name in kind.searched)
    return (
        f"INSERT INTO {index} ({index}, rowid, {', '.join(map(quoted, kind.searched))}) "
        f"SELECT 'delete', place, {old} FROM replacing "
        f"WHERE table_name = {literal(kind.table)} AND (row_id = NEW.id OR place = NEW.rowid){but};"
    )


def _search_triggers(kind: Kind) -> Iterator[str]:
    if not kind.searched:
        return
    table = kind.table
    columns = ", ".join(map(quoted, kind.searched))
    if not kind.own:
        yield from added_sql(kind)
    yield f"CREATE TRIGGER {table}_search_removed AFTER DELETE ON {table} WHEN {_NOT_BULK} BEGIN {_gone(kind)} END"
    yield (
        f"CREATE TRIGGER {table}_search_changed AFTER UPDATE OF {columns} ON {table} "
        f"WHEN {_NOT_BULK} AND NEW.rowid IS OLD.rowid BEGIN {_gone(kind)} {_come(kind)} END"
    )
