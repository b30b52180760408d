"""Faults of the database itself, each with what to do; and repairing facts and search from the records."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.facts.renew import renew_all, stale
from bevelbook.records import BY_NAME, BY_TABLE, Kind
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store.about_table import accepted_changes, note_accepted_changes
from bevelbook.store.as_written import apply_joins, out_of_step, written_nowhere
from bevelbook.store.calculations import Misshapen, misshapen
from bevelbook.store.files_elsewhere import ERASED_FILES, files_elsewhere, without_bytes
from bevelbook.store.history import (
    Changed,
    Unreadable,
    accept_changes_by_others,
    changed_by_others,
    unreadable,
)
from bevelbook.store.record_names import names_of
from bevelbook.store.searching import fill_search, wrong_searches
from bevelbook.store.wiping import is_to_wipe

_NAMED: Final = 20
"""The most damaged kept results that are named one by one."""


def faults(connection: sqlite3.Connection) -> Iterator[str]:
    """Each fault of the file, except facts that differ from the records. The connection may be read-only."""
    yield from map(unmatched_search, wrong_searches(connection))
    if is_to_wipe(connection):
        yield (
            "something was erased whose old text is still in free pages of the file: close whatever has the database "
            "open, then run 'bevelbook erase', which finishes it."
        )
    yield from pointing_at_nothing(connection)
    yield from written_nowhere_in_words(connection)
    after = accepted_changes(connection)
    yield from not_json_in_words(unreadable(connection, after))
    yield from changed_in_words(changed_by_others(connection))
    yield from misshapen_in_words(misshapen(connection))
    yield from unkept_pictures(connection)
    yield from unkept_files(connection)


def unmatched_search(kind: Kind) -> str:
    """What to say of a search that does not match."""
    return (
        f"the search of {_words(kind.table)} does not match its records: run 'bevelbook check --rebuild', "
        "which fills it again."
    )


def pointing_at_nothing(connection: sqlite3.Connection) -> Iterator[str]:
    """References to records that are not there, by table."""
    found: dict[tuple[str, str], int] = {}
    for row in connection.execute("PRAGMA main.foreign_key_check"):
        found[row[0], row[2]] = found.get((row[0], row[2]), 0) + 1
    for (table, target), count in sorted(found.items()):
        yield (
            f"{_records(count)} of {_words(table)} {'points' if count == 1 else 'point'} to {_words(target)} that are "
            "gone: another program removed them, and the table history has what they were. Write them again, and point "
            "these to them with 'bevelbook record'."
        )


def results_of_nothing(connection: sqlite3.Connection) -> Iterator[str]:
    """Kept results of a record that neither is there nor was once, by table."""
    tables = [row[0] for row in connection.execute("SELECT DISTINCT subject_table FROM calculations ORDER BY 1")]
    for table in filter(None, tables):
        there = f"SELECT 1 FROM main.{table} t WHERE t.id = c.subject_id" if table in BY_TABLE else "SELECT 1 WHERE 0"
        once = "SELECT 1 FROM main.history h WHERE h.table_name = c.subject_table AND h.row_id = c.subject_id"
        (count,) = connection.execute(
            f"SELECT count(*) FROM main.calculations c WHERE c.subject_table IS ? AND NOT EXISTS ({there}) "
            f"AND NOT EXISTS ({once})",
            (table,),
        ).fetchone()
        if count:
            yield (
                f"{counted(count, 'kept result')} {'is' if count == 1 else 'are'} of {_words(str(table))} that neither "
                "are there nor ever were: another program changed what they are of. Take the database from a backup."
            )


def written_nowhere_in_words(connection: sqlite3.Connection) -> Iterator[str]:
    """References that show what stands for a record that is gone, so that nothing else misses it."""
    for lost in written_nowhere(connection):
        names = sorted(names_of(connection, lost.kind, lost.row_ids).values())
        more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
        command = f"bevelbook record {lost.kind.name.replace('_', '-')} NAME {lost.column}=..."
        were, show = ("was", "shows") if len(lost.row_ids) == 1 else ("were", "show")
        yield (
            f"{_records(len(lost.row_ids))} of {_words(lost.kind.table)} ({', '.join(names[:_NAMED])}{more}) {were} "
            f"written with {_words(lost.target.table)} that are gone, and {show} what was one with them: another "
            "program removed them, and the table history has what they were. Take the database from a backup, or point "
            f"each to another, and back, with '{command}'."
        )


def not_json_in_words(found: list[Unreadable]) -> Iterator[str]:
    """What to say of past versions that are not JSON."""
    if found:
        first = found[0]
        yield (
            f"text that is not JSON is kept as it is in the table history, {len(found)} row"
            f"{'' if len(found) == 1 else 's'} of it, the first of {_words(first.table)} {first.row_id}. "
            "'bevelbook check --accept' accepts it."
        )


def changed_in_words(found: list[Changed]) -> Iterator[str]:
    """What to say of records that another program changed."""
    for one in found:
        yield (
            f"{_records(one.records)} of {_words(one.table)} changed by another program: what was there before is kept "
            "in the table history. 'bevelbook check --accept' takes it as it is now."
        )


def misshapen_in_words(found: list[Misshapen]) -> Iterator[str]:
    """What to say of kept results in the wrong form."""
    for one in found[:_NAMED]:
        about = f" for {_words(one.subject_table)} {one.subject_id}" if one.subject_table else ""
        yield (
            f"the kept result {one.row_id} of {one.calculator}{about} has {' and '.join(one.columns)} in the wrong "
            "form: another program wrote it, and it is skipped. Remove that row of the table calculations, "
            "and calculate it again."
        )
    if len(found) > _NAMED:
        yield f"{len(found) - _NAMED} more kept results are in the wrong form, and are skipped."


def unkept_pictures(connection: sqlite3.Connection) -> Iterator[str]:
    """Pictures that are not what was kept, and those that no photograph shows or ever showed."""
    cursor = connection.cursor()
    cursor.row_factory = None
    whole = {
        row[0]
        for row in cursor.execute("SELECT sha256, jpeg FROM picture_bytes")
        if sha256(row[1]).hexdigest() == row[0]
    }
    kept = {row[0] for row in cursor.execute("SELECT id FROM pictures")}
    erased = {row[0] for row in cursor.execute(ERASED_FILES)}
    damaged = sorted(kept - whole - files_elsewhere(connection) - erased)
    of_damaged = "SELECT id FROM photos WHERE picture IN (SELECT value FROM json_each(?)) ORDER BY id"
    photos = [row[0] for row in cursor.execute(of_damaged, (json.dumps(damaged),))]
    if photos:
        names = sorted(names_of(connection, BY_NAME["photo"], photos).values())
        more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
        yield (
            f"{counted(len(photos), 'photograph')} ({', '.join(names[:_NAMED])}{more}) "
            f"{'shows a picture' if len(photos) == 1 else 'show pictures'} that another program changed or removed: "
            "take the database from a backup, or take these photographs again."
        )
    shown = "SELECT 1 FROM photos t WHERE t.picture = p.id"
    once_shown = "SELECT 1 FROM history h WHERE h.table_name = 'photos' AND instr(h.content, p.id)"
    for row in cursor.execute(
        f"SELECT p.id FROM pictures p WHERE NOT EXISTS ({shown}) AND NOT EXISTS ({once_shown}) "
        "UNION SELECT sha256 FROM picture_bytes WHERE sha256 NOT IN (SELECT id FROM pictures) ORDER BY 1"
    ).fetchall():
        yield (
            f"the picture {row[0]} has lost its photograph: another program removed that record. "
            f"'bevelbook record photo {row[0]} --save-as FILE' writes the picture into a file, so that the photograph "
            "can be recorded again."
        )


def unkept_files(connection: sqlite3.Connection) -> Iterator[str]:
    """Kept files that are gone, and did not only stay with somebody else."""
    gone = sorted(without_bytes(connection) - files_elsewhere(connection))
    asked = (
        f"SELECT {called_file_sql('f')} FROM note_files f WHERE f.sha256 IN (SELECT value FROM json_each(?)) "
        "ORDER BY f.read_at, f.id"
    )
    for row in connection.execute(asked, (json.dumps(gone),)):
        yield (
            f"the file of notes {row[0]} is not kept any more: another program removed it, and what was read of it "
            "is still there. Take the database from a backup, or import that file once more."
        )


def accept_changes(connection: sqlite3.Connection, path: Path, *, asked: str, by: str | None) -> int:
    """Accept changes by other programs, and text that is not JSON, in a new entry; returns how many records.

    If there is nothing to accept, no entry is made.
    """
    after = accepted_changes(connection)
    changed, others = changed_by_others(connection), unreadable(connection, after)
    if changed or others:
        from bevelbook.store.opening import transaction

        with transaction(connection, path, asked=asked, by=by):
            accept_changes_by_others(connection)
            if others:
                note_accepted_changes(connection, max(one.id for one in others))
    return sum(one.records for one in changed) + len(others)


def rebuild(connection: sqlite3.Connection, path: Path, *, asked: str, by: str | None) -> list[str]:
    """Rebuild facts and search that do not match the records; returns in words what was rebuilt.

    If everything is right, nothing is written and no entry is made.
    """
    differing = {table: count for table, count in stale(connection).items() if count}
    searches = wrong_searches(connection)
    shown = out_of_step(connection)
    if not differing and not searches and not shown:
        return []
    from bevelbook.store.opening import transaction

    with transaction(connection, path, asked=asked, by=by):
        if shown:
            apply_joins(connection)
        if differing or shown:
            renew_all(connection)
        for kind in searches:
            fill_search(connection, kind)
    return [
        *(
            (f"{counted(shown, 'record')} put right that did not show what stands for what was written",)
            if shown
            else ()
        ),
        *(f"{counted(count, 'row')} of {table} worked out again" for table, count in differing.items()),
        *(f"the search of {_words(kind.table)} filled again" for kind in searches),
    ]


def _words(table: str) -> str:
    return table.replace("_", " ")


def _records(count: int) -> str:
    return counted(count, "record")
