"""Of which diffs the rows of notes are that two databases have: where they say two, the one with the lesser id."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence

from bevelbook.meeting.other_database import OTHER
from bevelbook.meeting.records_met import RecordsMet, blocks
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.diffs_of_rows import ROWS_OF_BUILDS, keep_diff_of_row
from bevelbook.store.schema import literal

_TABLE = BY_NAME["note_diff"].table


def unite_diffs_of_rows(connection: sqlite3.Connection, records: RecordsMet) -> None:
    """Keep of which diff rows are where the two databases do not say the same, or it does not stay where it was said.

    To be called once all records are worked out, and before any build comes back or any row goes elsewhere.
    """
    for kind in ROWS_OF_BUILDS:
        rows = _RowsMet(connection, records, kind)
        for ids in blocks(rows.ids()):
            for row_id, diff in rows.diffs(ids):
                keep_diff_of_row(connection, kind, row_id, diff)


class _RowsMet:
    """The rows of a kind of which it is to be said of which diff they are."""

    def __init__(self, connection: sqlite3.Connection, records: RecordsMet, kind: Kind) -> None:
        self.connection = connection
        self.kind = kind
        self.last = records.last_rowids[kind.table]
        self.diffs_before = records.diffs_before
        self.builds_before = {
            row_id: build for (name, row_id), build in records.builds_before.items() if name == kind.name
        }

    def ids(self) -> list[str]:
        """Their ids: those that are kept; that are on builds of two diffs or on none; that are not shown any more; and
        those on builds that another diff has now, or that were removed."""
        table = self.kind.table
        asked: list[tuple[str, tuple[object, ...]]] = [
            (f"SELECT id FROM {schema}.{_TABLE} WHERE table_name = {literal(table)}", ()) for schema in ("main", OTHER)
        ]
        asked += [
            (
                f"SELECT o.id FROM {OTHER}.{table} o CROSS JOIN {OTHER}.builds theirs ON theirs.id = o.build "
                f"LEFT JOIN main.{table} t ON t.id = o.id LEFT JOIN main.builds b ON b.id = t.build "
                "WHERE o.note_file IS NOT NULL AND b.diff IS NOT theirs.diff",
                (),
            ),
            (
                f"SELECT t.id FROM json_each(?1) g CROSS JOIN main.{table} t ON t.build = g.value "
                "WHERE t.note_file IS NOT NULL AND t.rowid <= ?2",
                (json.dumps(sorted(self.diffs_before)), self.last),
            ),
        ]
        found = {str(row[0]) for sql, given in asked for row in self.connection.execute(sql, given)}
        return sorted(found | self.builds_before.keys())

    def diffs(self, ids: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Of which diff each of these rows is; those of which neither says it are left out."""
        table = self.kind.table
        for row_id, *kept, theirs, build, diff in self.connection.execute(
            f"SELECT g.value, d.diff, od.diff, theirs.diff, t.build, b.diff FROM json_each(?1) g "
            f"LEFT JOIN main.{_TABLE} d ON d.id = g.value LEFT JOIN {OTHER}.{_TABLE} od ON od.id = g.value "
            f"LEFT JOIN {OTHER}.{table} o ON o.id = g.value AND o.note_file IS NOT NULL "
            f"LEFT JOIN {OTHER}.builds theirs ON theirs.id = o.build "
            f"LEFT JOIN main.{table} t ON t.id = g.value AND t.note_file IS NOT NULL AND t.rowid <= ?2 "
            "LEFT JOIN main.builds b ON b.id = t.build ORDER BY g.value",
            (json.dumps(list(ids)), self.last),
        ).fetchall():
            here = kept[0] or self._diff_before(row_id, build, diff)
            said = {str(one) for one in (here, kept[1] or theirs) if one is not None}
            if said:
                yield row_id, min(said)

    def _diff_before(self, row_id: str, build: str | None, diff: str | None) -> str | None:
        """The diff of the build that a row was on here before anything came."""
        if (gone := self.builds_before.get(row_id)) is not None:
            found = self.connection.execute("SELECT diff FROM main.builds WHERE id = ?", (gone,)).fetchone()
            build, diff = gone, found[0] if found else None
        return diff if build is None else self.diffs_before.get(build, diff)
