"""A new database that begins with all that an export or another database holds."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path

from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.union import merge_into
from bevelbook.plugin.registry import Registry
from bevelbook.records import KINDS
from bevelbook.store.edition_mark import DAYS, PEOPLE, edition_of
from bevelbook.store.folder_aside import faults_of_folder, folder_aside, remove_left
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.numbered_days_mark import mark_numbered
from bevelbook.store.opening import ROOM_FOR_NEW, new_database, refuse_taken_name
from bevelbook.store.sqlite_errors import in_words


def new_from(
    path: Path, source: Path, registry: Registry, *, tell: Callable[[str], None] = lambda _line: None
) -> tuple[Mapping[str, int], bool]:
    """Make a database with what the source holds; returns its rows by table, and whether all of it is invented.

    It is made beside its name and gets it at the end. Raises DatabaseError if the name is taken or the source cannot be
    used, InputError for what does not fit; then there is no new file.
    """
    for within in (path.parent, None):  # a source is looked at in a folder of the system
        remove_left(within)
    refuse_taken_name(path)
    with (
        opened_aside(source, tell=tell) as other,
        faults_of_folder(path.parent, ROOM_FOR_NEW),
        folder_aside(path.parent) as aside,
    ):
        with closing(sqlite3.connect(other)) as looked_at:
            without = edition_of(looked_at)
        if without is not None:
            tell(_missing_in_words(without))
        made = aside / path.name
        with closing(new_database(made)) as connection:
            known = [one.calculator for one in registry.with_rows()]
            merge_into(connection, made, other, allow_edition=True, calculators=known)
            if without is not None and DAYS in without and (last := _last_day(connection)) is not None:
                mark_numbered(connection, last)
            names = [table.name for table in exported_tables()]
            rows = {name: connection.execute(f"SELECT count(*) FROM main.{name}").fetchone()[0] for name in names}
            invented = is_invented(connection)
            with in_words(path):  # what is still in the log would stay behind
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        refuse_taken_name(path)
        made.rename(path)
    return rows, invented


def _last_day(connection: sqlite3.Connection) -> str | None:
    """The last day that any record names."""
    columns = [(kind.table, field.name) for kind in KINDS for field in kind.fields if field.kind == "date"]
    last = [connection.execute(f"SELECT max({name}) FROM main.{table}").fetchone()[0] for table, name in columns]
    return max((day for day in last if day), default=None)


def _missing_in_words(without: frozenset[str]) -> str:
    """What an edition does not have that the database had from which it was made."""
    parts = ["the past of its records", "who changed them", "rejected rows"]
    if PEOPLE in without:
        parts += ["people", "sheets of notes"]
    parts.append("what else its maker left out")
    days = (
        " Its days are not real ones: the quarter and the order are left, days and times within a quarter are numbered."
        if DAYS in without
        else ""
    )
    return (
        f"This is an edition, and these are not in it: {', '.join(parts)}.{days} Merging with the database that it was "
        "made from would have every record twice or in two versions: keep them apart."
    )
