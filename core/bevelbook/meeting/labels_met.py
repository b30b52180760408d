"""Labels of builds and runs from notes, which each database counts for itself: of those that one record has got in
different places the shortest is shown, then the lesser, and the others still find it. A label of another form was
never counted: another program wrote it, and it stays where it was."""

from __future__ import annotations

import re
import sqlite3
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.meeting.other_database import OTHER
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.schema import literal, quoted
from bevelbook.store.versions import LABELLED

_COUNTED: Final = late_pattern(r".*/[0-9]+", re.DOTALL)
_COUNTED_OF_DAY: Final = late_pattern(r"[0-9]{4}-[0-9]{2}-[0-9]{2}/[0-9]+")
_DAY: Final = "-".join("[0-9]" * digits for digits in (4, 2, 2))
_KINDS: Final = tuple(BY_NAME[name] for name in sorted(LABELLED))


def is_counted_sql(row: str, label: str) -> str:
    """SQL for whether the label of a record was counted: a note row made the record, and nobody typed the label."""
    typed = f"iif(json_valid({row}.entered), json_extract({row}.entered, {literal(f'$.{label}')}), NULL)"
    return f"({row}.note_file IS NOT NULL AND {typed} IS NULL)"


def may_be_counted_sql(kind: Kind, label: str) -> str:
    """SQL for whether a label has the form of a counted one: ``rear-a/12``, of a run ``2026-05-03/1``."""
    number = f"(substr(rtrim({label}, '0123456789'), -1) = '/' AND substr({label}, -1) <> '/')"
    return f"({number} AND {label} GLOB {literal(f'{_DAY}/*')})" if kind.name == "run" else number


def may_be_counted(kind: Kind, label: object) -> bool:
    """The same of a label that was read.

    >>> build, run = BY_NAME["build"], BY_NAME["run"]
    >>> [may_be_counted(build, one) for one in ("rear-a/12", "rear-a/", "aaa", None)]
    [True, False, False, False]
    >>> [may_be_counted(run, one) for one in ("2026-05-03/1", "2O26-05-03/1")]
    [True, False]
    """
    form = _COUNTED_OF_DAY if kind.name == "run" else _COUNTED
    return isinstance(label, str) and form.fullmatch(label) is not None


def note_labels(connection: sqlite3.Connection) -> None:
    """Note the labels of records that have, or had, several, before anything is written."""
    connection.execute(
        "CREATE TEMP TABLE IF NOT EXISTS labels (table_name TEXT, row_id TEXT, label TEXT, "
        "PRIMARY KEY (table_name, row_id, label)) WITHOUT ROWID"
    )
    connection.execute("DELETE FROM temp.labels")
    for schema in ("main", OTHER):
        connection.execute(f"INSERT OR IGNORE INTO temp.labels SELECT * FROM {schema}.also_called")
    for kind in _KINDS:
        label, table = quoted(kind.label or "id"), literal(kind.table)
        for one, two in (("main", OTHER), (OTHER, "main")):
            counted = is_counted_sql("a", kind.label or "id")
            if one == OTHER:
                counted += f" AND {may_be_counted_sql(kind, f'a.{label}')}"
            has_others = f"EXISTS (SELECT 1 FROM temp.labels l WHERE l.table_name = {table} AND l.row_id = a.id)"
            of_two = f"EXISTS (SELECT 1 FROM {two}.{kind.table} b WHERE b.id = a.id AND b.{label} IS NOT a.{label})"
            removed = f"EXISTS (SELECT 1 FROM {two}.history h WHERE h.table_name = {table} AND h.row_id = a.id)"
            was_removed = (
                f"EXISTS (SELECT 1 FROM {one}.history g WHERE g.table_name = {table} AND g.row_id = a.id "
                "AND g.content IS NULL)"
            )
            connection.execute(
                f"INSERT OR IGNORE INTO temp.labels SELECT {table}, a.id, a.{label} FROM {one}.{kind.table} a "
                f"WHERE {counted} AND ({of_two} OR {has_others} OR {was_removed} OR (NOT EXISTS "
                f"(SELECT 1 FROM {two}.{kind.table} c WHERE c.id = a.id) AND {removed}))"
            )


def set_labels(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    """Show of each of these records the shortest label that was counted for it, then the lesser; keep the others.

    Gives the label that each had until now, by kind and id, where it gets another.
    """
    had: dict[tuple[str, str], str] = {}
    for kind in _KINDS:
        label, table = quoted(kind.label or "id"), literal(kind.table)
        best = (
            f"(SELECT l.label FROM temp.labels l WHERE l.table_name = {table} AND l.row_id = t.id "
            f"ORDER BY NOT {may_be_counted_sql(kind, 'l.label')}, length(l.label), l.label LIMIT 1)"
        )
        has = f"t.id IN (SELECT row_id FROM temp.labels WHERE table_name = {table})"
        counted = is_counted_sql("t", kind.label or "id")
        moves = f"{has} AND {counted} AND {label} IS NOT {best}"
        moving = {
            (kind.name, row[0]): str(row[1])
            for row in connection.execute(f"SELECT t.id, t.{label} FROM main.{kind.table} t WHERE {moves}")
        }
        if moving:
            had |= moving
            connection.execute(f"UPDATE main.{kind.table} AS t SET {label} = {best} WHERE {moves}")
        connection.execute(f"DELETE FROM main.also_called WHERE table_name = {table}")
        connection.execute(
            f"INSERT INTO main.also_called SELECT l.table_name, l.row_id, l.label FROM temp.labels l "
            f"WHERE l.table_name = {table} AND NOT EXISTS (SELECT 1 FROM main.{kind.table} t "
            f"WHERE t.id = l.row_id AND t.{label} = l.label AND {counted})"
        )
    connection.execute("DELETE FROM temp.labels")
    return had
