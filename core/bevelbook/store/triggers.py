"""The triggers that keep past versions and the search, in plain SQL, so that any program may change the file.

They read the table ``writing``: an entry keeps one past version of each record that it changes, however often.
What is written without an entry, by another program, gets a new version, and the facts that depend on it are marked as
outdated: the next command that writes works them out again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bevelbook.facts.touched_diffs import TABLES
from bevelbook.records import Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store import replace_triggers
from bevelbook.store.about_table import CHANGED_ELSEWHERE, FACTS
from bevelbook.store.schema import ALL_KINDS, ANOTHER_PROGRAM, BOOKKEEPING, literal, quoted, search_table

_ENTRY: Final = "(SELECT entry FROM writing)"
MEETING: Final = 2
"""What ``placing`` is while records of another database come in: they bring their own history."""
_IS_ELSEWHERE: Final = f"{_ENTRY} IS NULL"
_NOT_PLACING: Final = "(SELECT placing FROM writing) IS NULL"
_NOT_MEETING: Final = f"(SELECT placing FROM writing) IS NOT {MEETING}"
_NOT_BULK: Final = "(SELECT bulk FROM writing) IS NULL"
_NOW: Final = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
_OTHER: Final = f"'{ANOTHER_PROGRAM} ' || lower(hex(randomblob(8)))"
_PAST: Final = "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at)"


_AS_WRITTEN: Final = "FROM as_written WHERE table_name = NEW.table_name AND row_id = NEW.row_id"
AS_WRITTEN: Final = (
    "CREATE TRIGGER history_as_written AFTER INSERT ON history "
    f"WHEN NEW.content IS NOT NULL AND {_NOT_PLACING} AND EXISTS (SELECT 1 {_AS_WRITTEN}) BEGIN "
    "UPDATE history SET content = json_patch(content, "
    f"(SELECT json_group_object(column_name, written) {_AS_WRITTEN})) WHERE id = NEW.id; END"
)
"""The history keeps what was written. It is one trigger for all tables, since those of each table are
read whenever the database is opened. While ``placing`` is set, whoever adds to the history writes it whole."""
_FACTS_ARE_OLD: Final = f"UPDATE about SET value = '{CHANGED_ELSEWHERE}' WHERE name = '{FACTS}'"


def trigger_sql(kinds: Sequence[Kind] = ALL_KINDS) -> tuple[str, ...]:
    """All triggers."""
    kept = replace_triggers.kept_trigger_sql(_PAST, _OTHER, _NOW)
    return (AS_WRITTEN, kept, *(sql for kind in kinds for sql in (*_history_triggers(kind), *_search_triggers(kind))))


def _follows_from_it(kind: Kind) -> bool:
    """Whether facts follow from a table, or which records are one: they are worked out after another program."""
    joins = kind.name == "join" or kind.name in JOINED_KINDS or bool(kind.joined_references)
    return kind.table in TABLES or joins


def content_sql(kind: Kind, row: str = "OLD") -> str:
    """A record's content as JSON: all columns except id, version and parents, numbers to the last bit.

    ``json_object`` alone writes 15 digits of a number; 17 are needed. (Past 1e250 SQLite 3.40 gets the last of them
    wrong.) Infinity, which JSON lacks, is written as a number too large for a float.
    """
    names = [*list(BOOKKEEPING)[2:], *kind.columns]
    reals = {field.name for field in kind.fields if field.kind == "quantity"}
    return f"json_object({', '.join(f'{literal(name)}, {_value(row, name, name in reals)}' for name in names)})"


def _value(row: str, name: str, is_real: bool) -> str:
    column = f"{row}.{quoted(name)}"
    if not is_real:
        return column
    return f"iif({column} IS NULL, NULL, json(replace(printf('%!.17g', {column}), 'Inf', '9e999')))"


def rewritten_sql(kind: Kind, when: str = "") -> str:
    """The statement that forgets what was written where it is changed; empty for a kind that shows all as written."""
    changed = " OR ".join(
        f"column_name = {literal(one)} AND NEW.{quoted(one)} IS NOT OLD.{quoted(one)}" for one in kind.shown_otherwise
    )
    return f" DELETE FROM as_written WHERE {_of_row(kind, 'OLD.id')}{when} AND ({changed});" if changed else ""


def _not_written_sql(kind: Kind, row_id: str) -> str:
    """The statement that forgets what stands in a record that goes; empty for a kind that shows all as written."""
    return f" DELETE FROM as_written WHERE {_of_row(kind, row_id)};" if kind.shown_otherwise else ""


def _of_row(kind: Kind, row_id: str) -> str:
    return f"table_name = {literal(kind.table)} AND row_id = {row_id}"


def _history_triggers(kind: Kind) -> Iterator[str]:
    if not kind.own:
        return
    table = kind.table
    rests = _follows_from_it(kind)
    old_now = f"{_FACTS_ARE_OLD}; " if rests else ""
    old_if_elsewhere = f"{_FACTS_ARE_OLD} AND {_ENTRY} IS NULL; " if rests else ""
    past = f"{literal(table)}, OLD.id, OLD.version, OLD.parents, {content_sql(kind)}, {_ENTRY}, {_NOW}"
    yield (
        f"CREATE TRIGGER {table}_changed AFTER UPDATE ON {table} "
        f"WHEN OLD.version IS NOT {_ENTRY} AND {_NOT_PLACING} BEGIN {_PAST} VALUES ({past});{rewritten_sql(kind)} END"
    )
    yield (
        f"CREATE TRIGGER {table}_changed_elsewhere AFTER UPDATE ON {table} "
        f"WHEN {_ENTRY} IS NULL AND {_NOT_PLACING} AND NEW.version IS OLD.version BEGIN "
        f"{old_now}UPDATE writing SET placing = 1; "
        f"UPDATE {table} SET version = {_OTHER}, parents = json_array(OLD.version) WHERE rowid = NEW.rowid; "
        "UPDATE writing SET placing = NULL; END"
    )
    yield (
        f"CREATE TRIGGER {table}_removed AFTER DELETE ON {table} WHEN {_NOT_MEETING} BEGIN "
        f"{_PAST} SELECT {past} WHERE OLD.version IS NOT {_ENTRY}; "
        f"{_PAST} SELECT {literal(table)}, OLD.id, coalesce({_ENTRY}, {_OTHER}), "
        f"iif(OLD.version IS {_ENTRY}, OLD.parents, json_array(OLD.version)), NULL, NULL, NULL "
        f"WHERE OLD.version IS NOT {_ENTRY} OR OLD.parents IS NOT NULL; "
        f"{replace_triggers.cleared_sql(kind, 'OLD.id')}{_not_written_sql(kind, 'OLD.id')} {old_if_elsewhere}END"
    )
    yield replaced_elsewhere_sql(kind)
    yield added_elsewhere_sql(kind)
    yield replace_triggers.moved_aside_sql(kind, _IS_ELSEWHERE, content_sql(kind, "r"))
    yield _moved_sql(kind)


def added_sql(kind: Kind) -> Iterator[str]:
    """CREATE TRIGGER for all that run for a new row: an import drops them and makes them again."""
    yield replaced_elsewhere_sql(kind)
    yield added_elsewhere_sql(kind)
    if kind.searched:
        yield search_added_sql(kind)


def replaced_elsewhere_sql(kind: Kind) -> str:
    """CREATE TRIGGER for those that copy what another program may replace."""
    return replace_triggers.laid_aside_sql(kind, _IS_ELSEWHERE, content_sql(kind, "r"))


def added_elsewhere_sql(kind: Kind) -> str:
    """CREATE TRIGGER that handles rows added by another program, and keeps what they replace.

    It adds them to the search itself, after removing what they replace: the order of two triggers is not fixed.
    """
    table = kind.table
    facts = f"{_FACTS_ARE_OLD}; " if _follows_from_it(kind) else ""
    come = f"{_come(kind, 'SELECT {} WHERE ' + _NOT_BULK)} " if kind.searched else ""
    return (
        f"CREATE TRIGGER {table}_added_elsewhere AFTER INSERT ON {table} WHEN {_IS_ELSEWHERE} BEGIN "
        f"{facts}{replace_triggers.kept_sql(kind)}{replace_triggers.unsearched_sql(kind)}{come}"
        f"{replace_triggers.cleared_sql(kind)}{_not_written_sql(kind, 'NEW.id')} "
        f"{replace_triggers.follows_sql(kind, _OTHER)}END"
    )


def search_added_sql(kind: Kind) -> str:
    """CREATE TRIGGER that adds new rows of an entry to a table's search."""
    when = f"{_NOT_BULK} AND {_ENTRY} IS NOT NULL" if kind.own else _NOT_BULK
    return f"CREATE TRIGGER {kind.table}_search_added AFTER INSERT ON {kind.table} WHEN {when} BEGIN {_come(kind)} END"


def _moved_sql(kind: Kind) -> str:
    but = " AND place IS NOT OLD.rowid"
    search = ""
    if kind.searched:
        where_moved = "SELECT {} WHERE NEW.rowid IS NOT OLD.rowid"
        out_of_it = replace_triggers.unsearched_sql(kind, but)
        search = f"{_gone(kind, where_moved)} {out_of_it}{_come(kind, where_moved)} "
    return replace_triggers.moved_sql(kind, replace_triggers.kept_sql(kind, but), search)


def _come(kind: Kind, rows: str = "VALUES ({})") -> str:
    columns = ", ".join(map(quoted, kind.searched))
    new = ", ".join(f"NEW.{name}" for name in ("rowid", *map(quoted, kind.searched)))
    return f"INSERT INTO {search_table(kind)} (rowid, {columns}) {rows.format(new)};"


def _gone(kind: Kind, rows: str = "VALUES ({})") -> str:
    index = search_table(kind)
    columns = ", ".join(map(quoted, kind.searched))
    old = ", ".join(f"OLD.{name}" for name in ("rowid", *map(quoted, kind.searched)))
    rows = rows.format(f"'delete', {old}")
    return f"INSERT INTO {index} ({index}, rowid, {columns}) {rows};"


def _search_triggers(kind: Kind) -> Iterator[str]:
    if not kind.searched:
        return
    table = kind.table
    columns = ", ".join(map(quoted, kind.searched))
    yield search_added_sql(kind)
    yield f"CREATE TRIGGER {table}_search_removed AFTER DELETE ON {table} WHEN {_NOT_BULK} BEGIN {_gone(kind)} END"
    yield (
        f"CREATE TRIGGER {table}_search_changed AFTER UPDATE OF {columns} ON {table} "
        f"WHEN {_NOT_BULK} AND NEW.rowid IS OLD.rowid BEGIN {_gone(kind)} {_come(kind)} END"
    )
