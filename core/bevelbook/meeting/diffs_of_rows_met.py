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

    It is said of a version: of what is not shown any more nothing is asked, and a row that an import brings again
    begins again. To be called once all records are worked out, and before any build comes back or any row goes
    elsewhere.
    """
    for kind in ROWS_OF_BUILDS:
        rows = _RowsMet(connection, records, kind)
        for ids in blocks(rows.ids()):
            for row_id, version, diff in rows.diffs(ids):
                keep_diff_of_row(connection, kind, row_id, version, diff)


class _RowsMet:
    """The rows of a kind of which it is to be said of which diff they are."""

    def __init__(self, connection: sqlite3.Connection, records: RecordsMet, kind: Kind) -> None:
        self.connection = connection
        self.kind = kind
        self.last = records.last_rowids[kind.table]
        self.diffs_before = records.diffs_before
        self.before = {row_id: before for (name, row_id), before in records.rows_before.items() if name == kind.name}

    def ids(self) -> list[str]:
        """Their ids: those of which it is kept; that are on builds of two diffs or on none; that were shown otherwise;
        and those on builds that another diff has now, or that were removed."""
        table = self.kind.table
        asked: list[tuple[str, tuple[object, ...]]] = [
            (f"SELECT row_id FROM {schema}.{_TABLE} WHERE table_name = {literal(table)}", ())
            for schema in ("main", OTHER)
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
        return sorted(found | self.before.keys())

    def diffs(self, ids: Sequence[str]) -> Iterator[tuple[str, str, str]]:
        """Of which diff each version of these rows is of which any of the two says it."""
        table, given = self.kind.table, json.dumps(list(ids))
        kept_here, kept_there = self._kept("main", given), self._kept(OTHER, given)
        for row_id, their_version, theirs, version, build in self.connection.execute(
            f"SELECT g.value, o.version, theirs.diff, t.version, t.build FROM json_each(?1) g "
            f"LEFT JOIN {OTHER}.{table} o ON o.id = g.value AND o.note_file IS NOT NULL "
            f"LEFT JOIN {OTHER}.builds theirs ON theirs.id = o.build "
            f"LEFT JOIN main.{table} t ON t.id = g.value AND t.note_file IS NOT NULL AND t.rowid <= ?2 "
            "ORDER BY g.key",
            (given, self.last),
        ).fetchall():
            here, there = kept_here.get(row_id, {}), kept_there.get(row_id, {})
            version, build = self.before.get(row_id, (version, build))
            if version is not None and version not in here and (diff := self._diff_before(build)):
                here[version] = diff
            if their_version is not None and their_version not in there and theirs is not None:
                there[their_version] = theirs
            for one in sorted(here.keys() | there.keys()):
                yield row_id, one, min(said[one] for said in (here, there) if one in said)

    def _kept(self, schema: str, ids: str) -> dict[str, dict[str, str]]:
        found: dict[str, dict[str, str]] = {}
        for row_id, version, diff in self.connection.execute(
            f"SELECT d.row_id, d.version, d.diff FROM json_each(?1) g CROSS JOIN {schema}.{_TABLE} d "
            "ON d.id >= g.value || ' ' AND d.id < g.value || '!' WHERE d.table_name = ?2 AND d.row_id = g.value "
            "ORDER BY d.id",
            (ids, self.kind.table),
        ):
            found.setdefault(row_id, {})[version] = diff
        return found

    def _diff_before(self, build: str) -> str | None:
        """The diff that a build had here before anything came."""
        row = self.connection.execute("SELECT diff FROM main.builds WHERE id = ?", (build,)).fetchone()
        return self.diffs_before.get(build, row[0] if row else None)
