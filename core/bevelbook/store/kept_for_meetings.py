"""Whether what is kept so that laptops come to the same agrees with the records: of which diff rows of notes are, and
what was erased."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import islice
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.records import BY_NAME
from bevelbook.store.blanking import blanked_in, bytes_to_go
from bevelbook.store.blanking_rules import Blanking
from bevelbook.store.diffs_of_rows import ROWS_OF_BUILDS, id_of_kept
from bevelbook.store.erased_marks import marks_as_kept, marks_in
from bevelbook.store.schema import literal

_DIFF_OF_ROW: Final = BY_NAME["note_diff"].table


def not_as_meetings_keep(connection: sqlite3.Connection) -> Iterator[str]:
    """Each way in which these tables say what no meeting would have kept, in words. The connection may be
    read-only."""
    yield from _diffs_of_rows(connection)
    yield from _marks(connection)


def _diffs_of_rows(connection: sqlite3.Connection) -> Iterator[str]:
    of_rows = " UNION ALL ".join(
        f"SELECT {literal(kind.table)} AS t, id AS r, version AS v FROM main.{kind.table}" for kind in ROWS_OF_BUILDS
    )
    tables = ", ".join(literal(kind.table) for kind in ROWS_OF_BUILDS)
    (count,) = connection.execute(
        f"SELECT count(*) FROM main.{_DIFF_OF_ROW} d WHERE d.id <> {id_of_kept('d.row_id', 'd.version')} "
        f"OR d.table_name NOT IN ({tables}) "
        f"OR NOT EXISTS (SELECT 1 FROM ({of_rows}) s WHERE s.t = d.table_name AND s.r = d.row_id AND s.v = d.version) "
        "AND NOT EXISTS (SELECT 1 FROM main.history h WHERE h.table_name = d.table_name AND h.row_id = d.row_id "
        "AND h.version = d.version) OR NOT EXISTS (SELECT 1 FROM main.diffs x WHERE x.id = d.diff) "
        "AND NOT EXISTS (SELECT 1 FROM main.history h WHERE h.table_name = 'diffs' AND h.row_id = d.diff)"
    ).fetchone()
    if count:
        yield (
            f"{counted(count, 'row')} of the table note_diffs {'says' if count == 1 else 'say'} of which diff a row of "
            "notes is that neither is there nor ever was"
        )


_REMEDY: Final = (
    "another program changed that. Merge a book that has them as they were, or take the database from a backup"
)


def _marks(connection: sqlite3.Connection) -> Iterator[str]:
    kept = marks_as_kept(connection)
    if odd := sum(mark.id != row_id for row_id, mark in kept.items()):
        has = "has" if odd == 1 else "have"
        yield f"{counted(odd, 'mark')} of what was erased {has} an id that is not theirs: {_REMEDY}"
    if odd := sum(mark.id == row_id and not mark.is_as_made for row_id, mark in kept.items()):
        says = "says" if odd == 1 else "say"
        yield f"{counted(odd, 'mark')} of what was erased {says} what no erasing writes: {_REMEDY}"
    marks = marks_in(connection)
    if not marks:
        return
    blank = Blanking(marks)
    again = next(islice(blanked_in(connection, blank), 1), None)
    if again is not None or any(bytes_to_go(connection, blank)):
        yield (
            "something is in the file that was erased, as a mark says: another program wrote it, or the mark. Erase it "
            "once more ('bevelbook help erasing'), or take the database from a backup"
        )
