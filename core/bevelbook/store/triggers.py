"""The triggers that keep past versions and the search, in plain SQL, so that any program may change the file.

They read the table ``writing``: an entry keeps one past version of each record that it changes, however often it does.
What is written without an entry, by another program, gets a version of its own, and the facts that rest on it are
noted as no longer right: the next command that writes works them out again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bevelbook.facts.touched import TABLES
from bevelbook.records import Kind
from bevelbook.store.about import CHANGED_ELSEWHERE, FACTS
from bevelbook.store.schema import ALL_KINDS, ANOTHER_PROGRAM, BOOKKEEPING, literal, quoted, search_table

_ENTRY: Final = "(SELECT entry FROM writing)"
_NOT_PLACING: Final = "(SELECT placing FROM writing) IS NULL"
_NOT_BULK: Final = "(SELECT bulk FROM writing) IS NULL"
_NOW: Final = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
_OTHER: Final = f"'{ANOTHER_PROGRAM} ' || lower(hex(randomblob(8)))"
_PAST: Final = "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at)"


_FACTS_ARE_OLD: Final = f"UPDATE about SET value = '{CHANGED_ELSEWHERE}' WHERE name = '{FACTS}'"


def trigger_sql(kinds: Sequence[Kind] = ALL_KINDS) -> tuple[str, ...]:
    """All triggers."""
    return tuple(sql for kind in kinds for sql in (*_history_triggers(kind), *_search_triggers(kind)))


def content_sql(kind: Kind, row: str = "OLD") -> str:
    """A record's content as JSON: all columns but id, version and parents, numbers to their last bit.

    ``json_object`` alone writes 15 digits of a number; 17 are needed. (Past 1e250 SQLite 3.40 gets the last of them
    wrong.) Infinity, which JSON lacks, is written as a number too large to be one.
    """
    names = [*list(BOOKKEEPING)[2:], *kind.columns]
    reals = {field.name for field in kind.fields if field.kind == "quantity"}
    return f"json_object({', '.join(f'{literal(name)}, {_value(row, name, name in reals)}' for name in names)})"


def _value(row: str, name: str, is_real: bool) -> str:
    column = f"{row}.{quoted(name)}"
    if not is_real:
        return column
    return f"iif({column} IS NULL, NULL, json(replace(printf('%!.17g', {column}), 'Inf', '9e999')))"


def _history_triggers(kind: Kind) -> Iterator[str]:
    if not kind.own:
        return
    table = kind.table
    rests = table in TABLES
    old_now = f"{_FACTS_ARE_OLD}; " if rests else ""
    old_if_elsewhere = f"{_FACTS_ARE_OLD} AND {_ENTRY} IS NULL; " if rests else ""
    past = f"{literal(table)}, OLD.id, OLD.version, OLD.parents, {content_sql(kind)}, {_ENTRY}, {_NOW}"
    yield (
        f"CREATE TRIGGER {table}_changed AFTER UPDATE ON {table} "
        f"WHEN OLD.version IS NOT {_ENTRY} AND {_NOT_PLACING} BEGIN {_PAST} VALUES ({past}); END"
    )
    yield (
        f"CREATE TRIGGER {table}_changed_elsewhere AFTER UPDATE ON {table} "
        f"WHEN {_ENTRY} IS NULL AND {_NOT_PLACING} AND NEW.version IS OLD.version BEGIN "
        f"{old_now}UPDATE writing SET placing = 1; "
        f"UPDATE {table} SET version = {_OTHER}, parents = json_array(OLD.version) WHERE rowid = NEW.rowid; "
        "UPDATE writing SET placing = NULL; END"
    )
    yield (
        f"CREATE TRIGGER {table}_removed AFTER DELETE ON {table} BEGIN "
        f"{_PAST} SELECT {past} WHERE OLD.version IS NOT {_ENTRY}; "
        f"{_PAST} SELECT {literal(table)}, OLD.id, coalesce({_ENTRY}, {_OTHER}), "
        f"iif(OLD.version IS {_ENTRY}, OLD.parents, json_array(OLD.version)), NULL, NULL, NULL "
        f"WHERE OLD.version IS NOT {_ENTRY} OR OLD.parents IS NOT NULL; "
        f"{old_if_elsewhere}END"
    )
    if rests:
        yield added_elsewhere_sql(kind)


def added_elsewhere_sql(kind: Kind) -> str:
    """CREATE TRIGGER of the one that sees rows that another program adds to a table on which facts rest."""
    name = f"{kind.table}_added_elsewhere"
    return f"CREATE TRIGGER {name} AFTER INSERT ON {kind.table} WHEN {_ENTRY} IS NULL BEGIN {_FACTS_ARE_OLD}; END"


def search_added_sql(kind: Kind) -> str:
    """CREATE TRIGGER of the one that puts new rows into a table's search."""
    name = f"{kind.table}_search_added"
    return f"CREATE TRIGGER {name} AFTER INSERT ON {kind.table} WHEN {_NOT_BULK} BEGIN {_come(kind)} END"


def _come(kind: Kind) -> str:
    columns = ", ".join(map(quoted, kind.searched))
    new = ", ".join(f"NEW.{quoted(name)}" for name in kind.searched)
    return f"INSERT INTO {search_table(kind)} (rowid, {columns}) VALUES (NEW.rowid, {new});"


def _search_triggers(kind: Kind) -> Iterator[str]:
    if not kind.searched:
        return
    table, index = kind.table, search_table(kind)
    columns = ", ".join(map(quoted, kind.searched))
    old = ", ".join(f"OLD.{quoted(name)}" for name in kind.searched)
    gone = f"INSERT INTO {index} ({index}, rowid, {columns}) VALUES ('delete', OLD.rowid, {old});"
    come = _come(kind)
    yield search_added_sql(kind)
    yield f"CREATE TRIGGER {table}_search_removed AFTER DELETE ON {table} WHEN {_NOT_BULK} BEGIN {gone} END"
    yield (
        f"CREATE TRIGGER {table}_search_changed AFTER UPDATE OF {columns} ON {table} WHEN {_NOT_BULK} "
        f"BEGIN {gone} {come} END"
    )
