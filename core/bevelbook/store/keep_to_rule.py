"""What one laptop writes of records of which several versions stand side by side, kept to the rule of all laptops.

Called at the end of every transaction; where no record has several versions it asks one question and is done.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Set
from typing import Final

from bevelbook.records import BY_TABLE, Kind
from bevelbook.store.as_written import apply_joins
from bevelbook.store.clashes import are_any, bring_up_to_date
from bevelbook.store.heads import heads_of, same_content, standing
from bevelbook.store.known_versions import KnownRecord, known_records, past_rows
from bevelbook.store.needed import is_needed
from bevelbook.store.schema import literal
from bevelbook.store.showing import held_rows, show
from bevelbook.store.writing import coming_in

_NEEDED: Final = "SELECT table_name, row_id FROM main.clashes WHERE why = 'needed' ORDER BY table_name, row_id"


def last_of_history(connection: sqlite3.Connection) -> int:
    """The last row of the history before something is written."""
    return int(connection.execute("SELECT coalesce(max(id), 0) FROM main.history").fetchone()[0])


def keep_to_rule(connection: sqlite3.Connection, last: int) -> None:
    """Of the records written since a row of the history: have a version that followed one of several alike follow all
    of them, and a removal all there are; show the version that holds; and say in ``clashes`` which clash.

    A record that was shown only because another needed it goes when none does any more, and with it what only that one
    needed. A build that rows from notes need, because its diff had no other, stays where another comes: that it was
    removed stands in ``clashes``, and a person may settle it, until the next meeting has the rows go to the other.
    """
    if not are_any(connection):
        return
    touched = [
        (str(row[0]), str(row[1]))
        for row in connection.execute(
            "SELECT DISTINCT table_name, row_id FROM main.history h WHERE id > ? "
            "AND (EXISTS (SELECT 1 FROM main.clashes c WHERE c.table_name = h.table_name AND c.row_id = h.row_id) "
            "OR EXISTS (SELECT 1 FROM main.history b WHERE b.table_name = h.table_name AND b.row_id = h.row_id "
            "AND b.content IS NOT NULL AND b.replaced_at IS NULL)) ORDER BY table_name, row_id",
            (last,),
        )
    ]
    needed = {(str(row[0]), str(row[1])) for row in connection.execute(_NEEDED)}
    if needed:
        connection.execute("PRAGMA defer_foreign_keys = ON")  # what shows one that goes in the place of another
    left, shown_otherwise = needed, False
    keep: Set[tuple[str, str]] = set(touched)
    while True:
        still = {one for one in left if is_needed(connection, BY_TABLE[one[0]], one[1])}
        released = left - still
        for table, row_id in sorted(keep | released):
            kind = BY_TABLE[table]
            if kind.own:
                shown_otherwise |= _keep(connection, kind, row_id, last, is_needed=(table, row_id) in still)
            elif (table, row_id) in released:
                connection.execute(f"DELETE FROM main.{table} WHERE id = ?", (row_id,))
        if not released:
            break
        left, keep = still, frozenset()
    if shown_otherwise:
        apply_joins(connection)
    bring_up_to_date(connection, {*touched, *needed})


def _keep(connection: sqlite3.Connection, kind: Kind, row_id: str, last: int, *, is_needed: bool) -> bool:
    """Keep one record to the rule; whether the table shows another version of it then."""
    record = known_records(connection, kind, [row_id])[row_id]
    _follow_all(connection, record, row_id, last)
    if is_needed and standing(kind, record.versions.values()).shown is None:
        return False
    with coming_in(connection):
        past = past_rows(connection, kind, [row_id]).get(row_id, [])
        here = held_rows(connection, kind, [row_id]).get(row_id)
        shown = standing(kind, record.versions.values()).shown
        if here is not None and shown is not None and here["version"] != shown.version:
            connection.execute(
                f"DELETE FROM main.as_written WHERE table_name = {literal(kind.table)} AND row_id = ?", (row_id,)
            )
        return show(connection, record, row_id, here, past) is not None


def _follow_all(connection: sqlite3.Connection, record: KnownRecord, row_id: str, last: int) -> None:
    """Have the versions of this transaction follow what they stand for: all heads that were alike, and of a removal all
    heads; and note what replaced the heads that something follows now."""
    rows = connection.execute(
        "SELECT id, version, content IS NULL, replaced_in, replaced_at FROM main.history "
        "WHERE table_name = ? AND row_id = ? ORDER BY id",
        (record.kind.table, row_id),
    ).fetchall()
    replaced = [row for row in rows if row[0] > last and not row[2] and row[4] is not None]
    if not replaced:
        return
    before = {str(row[1]) for row in rows if row[0] <= last} | {str(row[1]) for row in replaced[:1]}
    versions = record.versions
    heads = heads_of([one for one in versions.values() if one.version in before])
    followed = str(replaced[0][1])
    for one in list(versions.values()):
        if one.version in before or followed not in one.parents or followed not in versions:
            continue
        content = versions[followed].content or {}
        also = {
            head.version
            for head in heads
            if one.content is None or (head.content is not None and same_content(record.kind, head.content, content))
        } - {followed, one.version}
        if also:
            copy = record.copies[one.version]
            record.replace(copy._replace(parents=copy.parents | also))
    still = {one.version for one in heads_of(record.versions.values())}
    for head in heads:
        copy = record.copies[head.version]
        if head.version not in still and copy.text is not None and not copy.is_past:
            record.replace(copy._replace(replaced_in=replaced[0][3], replaced_at=replaced[0][4]))
