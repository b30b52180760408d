"""Which diff a row of notes is of: the one that its sheet named.

Its build says so as long as that is a build of this diff. Where it is not, since the diff has no build any more or two
laptops had the row on two diffs, the table ``note_diffs`` has it. Of two diffs that laptops say it is the lesser id, so
that all come to the same, and a row goes back to its diff as soon as that has a build.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import cache, cached_property
from typing import Final, NamedTuple

from bevelbook.facts.temporary_triggers import make_where_missing
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.heads import last_living
from bevelbook.store.ids import is_content_id
from bevelbook.store.keeping import MEETING
from bevelbook.store.known_versions import known_records
from bevelbook.store.same_things import said_in, stands_for, things_in
from bevelbook.store.schema import literal
from bevelbook.store.versions import PLACED

ROWS_OF_BUILDS: Final = tuple(BY_NAME[name] for name, columns in PLACED.items() if "build" in columns)
"""The kinds whose records placing puts on a build."""
_TABLE: Final = BY_NAME["note_diff"].table
_BUILDS: Final = BY_NAME["build"]
_LONGEST_ID: Final = 80
_WRITTEN: Final = (
    "SELECT coalesce((SELECT a.written FROM main.as_written a WHERE a.table_name = 'builds' AND a.row_id = b.id "
    "AND a.column_name = 'diff'), b.diff) AS diff FROM main.builds b WHERE b.id = {}.build"
)
"""SQL: the diff of a row's build, as it was written."""


def watch(connection: sqlite3.Connection) -> None:
    """Have a row that goes to a build of another diff, as diffs that are one may have it, be of the diff that it was
    of, also in its next version: temporary triggers see to it, which belong to the connection that writes and are not
    in the file. While records come in, whoever brings them in sees to it."""
    make_where_missing(connection, _triggers())


@cache
def _triggers() -> dict[str, str]:
    """The SQL of each trigger behind its name."""
    no_meeting = f"(SELECT placing FROM main.writing) IS NOT {MEETING}"
    triggers = {}
    for kind in ROWS_OF_BUILDS:
        triggers[f"diff_of_{kind.table}"] = (
            f"AFTER UPDATE OF build, version ON main.{kind.table} "
            f"WHEN OLD.note_file IS NOT NULL AND {no_meeting} BEGIN "
            f"UPDATE {_TABLE} SET version = NEW.version, id = {id_of_kept('OLD.id', 'NEW.version')} "
            f"WHERE id = {id_of_kept('OLD.id', 'OLD.version')} AND NEW.version IS NOT OLD.version; "
            f"INSERT OR IGNORE INTO {_TABLE} (id, table_name, row_id, version, diff) "
            f"SELECT {id_of_kept('OLD.id', 'NEW.version')}, {literal(kind.table)}, OLD.id, NEW.version, was.diff "
            f"FROM ({_WRITTEN.format('OLD')}) was WHERE was.diff IS NOT ({_WRITTEN.format('NEW')}); "
            f"DELETE FROM {_TABLE} WHERE id = {id_of_kept('NEW.id', 'NEW.version')} "
            f"AND diff = ({_WRITTEN.format('NEW')}); END"
        )
        triggers[f"no_diff_of_{kind.table}"] = (
            f"AFTER DELETE ON main.{kind.table} WHEN OLD.note_file IS NOT NULL AND {no_meeting} BEGIN "
            f"DELETE FROM {_TABLE} WHERE id = {id_of_kept('OLD.id', 'OLD.version')}; END"
        )
    return triggers


def id_of_kept(row_id: str = "row_id", version: str = "version") -> str:
    """SQL: the id of what is kept of a version of a row; those of all versions of a row begin alike."""
    return f"substr({row_id} || ' ' || {version}, 1, {_LONGEST_ID})"


def keep_diff_of_row(connection: sqlite3.Connection, kind: Kind, row_id: str, version: str, diff: str) -> None:
    """Say of which diff a version of a row is."""
    connection.execute(
        f"INSERT INTO main.{_TABLE} (id, table_name, row_id, version, diff) "
        f"VALUES ({id_of_kept('?2', '?3')}, ?1, ?2, ?3, ?4) ON CONFLICT (id) DO UPDATE SET diff = excluded.diff",
        (kind.table, row_id, version, diff),
    )


def keep_named_diffs(connection: sqlite3.Connection, kind: Kind, diffs: Mapping[str, str]) -> None:
    """Keep of which diff rows are that were put on a build of another one, which was said to be the same; ``diffs`` has
    the one that the sheet named, by the row's id."""
    for row_id, diff in sorted(diffs.items()):
        for version, written in connection.execute(
            f"SELECT t.version, ({_WRITTEN.format('t')}) FROM main.{kind.table} t WHERE t.id = ?", (row_id,)
        ).fetchall():
            if written not in (None, diff):
                keep_diff_of_row(connection, kind, row_id, version, diff)


def leave_out_what_builds_say(connection: sqlite3.Connection) -> None:
    """Forget of which diff rows are whose builds say it, and of versions that are neither shown nor beside one that
    is: while references show what was written."""
    for kind in ROWS_OF_BUILDS:
        connection.execute(
            f"DELETE FROM main.{_TABLE} WHERE table_name = {literal(kind.table)} AND (EXISTS (SELECT 1 FROM "
            f"main.{kind.table} t JOIN main.builds b ON b.id = t.build WHERE t.id = {_TABLE}.row_id "
            f"AND t.version = {_TABLE}.version AND t.note_file IS NOT NULL AND b.diff = {_TABLE}.diff) "
            f"OR NOT EXISTS (SELECT 1 FROM main.{kind.table} t WHERE t.id = {_TABLE}.row_id "
            f"AND t.version = {_TABLE}.version) AND NOT EXISTS (SELECT 1 FROM main.history h WHERE "
            f"h.table_name = {literal(kind.table)} AND h.row_id = {_TABLE}.row_id AND h.version = {_TABLE}.version "
            "AND h.content IS NOT NULL AND h.replaced_at IS NULL))"
        )


class RowToPlace(NamedTuple):
    """A row of notes that is not, or may not be, on a build of its diff."""

    kind: Kind
    id: str
    build: str
    diff: str | None
    """Its diff as far as that is kept."""


class BuildsOfDiffs:
    """Finds a build for rows of notes, under whatever name or id their diff is known.

    It follows from what all laptops together know, not from who met whom first. To be asked while references show what
    was written; a build that comes back changes the answer.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self._stands = stands_for(things_in(connection), said_in(connection))
        self._living: dict[str, tuple[str, str]] = {}
        """The diff and day of the builds that stand, in order."""
        for row_id, diff, day in connection.execute("SELECT id, diff, built_on FROM main.builds ORDER BY built_on, id"):
            self._living[row_id] = self._one(diff), day

    def build_of(self, row: RowToPlace) -> str:
        """The build on which a row is to be: the one that it made, else the one that it is on if that is of its diff,
        else the first of the diff; the first that once was of it; the first of those that were removed. If there is
        none, the one that it is on."""
        if row.id[:-1] in self._made:
            return self._made[row.id[:-1]]
        diff = row.diff or self._removed.get(row.build, (None, ""))[0]
        if diff is None:
            return row.build
        wanted = self._one(diff)
        if row.build in self._living and self._living[row.build][0] == wanted:
            return row.build
        first = (
            self._first_of_living.get(wanted),
            *(one for one in self._once.get(wanted, ()) if one in self._living),
            self._first_of_removed.get(wanted),
            *self._once.get(wanted, ()),
        )
        return next((one for one in first if one is not None), row.build)

    def stands(self, build: str) -> bool:
        """Whether a build is there."""
        return build in self._living

    def _one(self, diff: str) -> str:
        return self._stands.get(("diff", diff), diff)

    @cached_property
    def _made(self) -> dict[str, str]:
        """The builds that rows made, by what the ids of all records of a row begin with."""
        return {row_id[:-1]: row_id for row_id in self._living if is_content_id(row_id)}

    @cached_property
    def _first_of_living(self) -> dict[str, str]:
        return {diff: row_id for row_id, (diff, _) in reversed(self._living.items())}

    @cached_property
    def _first_of_removed(self) -> dict[str, str]:
        in_order = sorted((day, row_id, diff) for row_id, (diff, day) in self._removed.items())
        return {self._one(diff): row_id for _, row_id, diff in reversed(in_order)}

    @cached_property
    def _removed(self) -> dict[str, tuple[str, str]]:
        """The diff, as written, and the day that removed builds had last; those that never had any are left out."""
        gone = self.connection.execute(
            "SELECT DISTINCT row_id FROM main.history h WHERE table_name = ? AND content IS NULL "
            "AND NOT EXISTS (SELECT 1 FROM main.builds b WHERE b.id = h.row_id) ORDER BY 1",
            (_BUILDS.table,),
        )
        found = {}
        for row_id, record in known_records(self.connection, _BUILDS, [row[0] for row in gone]).items():
            last = last_living(record.versions.values())
            if last is not None and last.content is not None:
                found[row_id] = str(last.content.get("diff")), str(last.content.get("built_on"))
        return found

    @cached_property
    def _once(self) -> dict[str, list[str]]:
        """The builds of which any version was of a diff, the first by day."""
        days = {row_id: day for row_id, (_, day) in (self._removed | self._living).items()}
        found: dict[str, set[tuple[str, str]]] = defaultdict(set)
        for row_id, diff in self.connection.execute(
            "SELECT DISTINCT row_id, json_extract(content, '$.diff') FROM main.history "
            "WHERE table_name = ? AND content IS NOT NULL AND json_valid(content) ORDER BY 1, 2",
            (_BUILDS.table,),
        ):
            if row_id in days and isinstance(diff, str):
                found[self._one(diff)].add((days[row_id], row_id))
        return {diff: [row_id for _, row_id in sorted(builds)] for diff, builds in found.items()}


def rows_kept(connection: sqlite3.Connection) -> list[RowToPlace]:
    """The rows from notes of which it is kept of which diff they are, but for those whose build a person typed."""
    found = []
    for kind in ROWS_OF_BUILDS:
        for row in connection.execute(
            f"SELECT t.id, t.build, d.diff FROM main.{_TABLE} d CROSS JOIN main.{kind.table} t ON t.id = d.row_id "
            f"AND t.version = d.version WHERE {placed_by_us('build')} ORDER BY t.id"
        ):
            found.append(RowToPlace(kind, *row))
    return found


def rows_kept_of(connection: sqlite3.Connection, diff: object) -> frozenset[str]:
    """The rows (by id) of which it is kept that they are of a diff, or of one that is one with it."""
    one = "coalesce((SELECT o.stands FROM main.one_with o WHERE o.kind = 'diff' AND o.id = {0}), {0})"
    found = connection.execute(
        f"SELECT row_id FROM main.{_TABLE} d WHERE {one.format('d.diff')} = {one.format('?1')} ORDER BY id", (diff,)
    )
    return frozenset(row[0] for row in found)


def rows_of_removed_builds(connection: sqlite3.Connection, removed: str) -> list[RowToPlace]:
    """The rows from notes on builds that are not there any more, but for those whose build a person typed;
    ``removed`` is SQL of a table with the ids of such builds."""
    found = []
    for kind in ROWS_OF_BUILDS:
        for row in connection.execute(
            f"SELECT t.id, t.build, d.diff FROM {removed} g CROSS JOIN main.{kind.table} t ON t.build = g.id "
            f"LEFT JOIN main.{_TABLE} d ON d.id = {id_of_kept('t.id', 't.version')} "
            f"WHERE {placed_by_us('build')} ORDER BY t.id"
        ):
            found.append(RowToPlace(kind, *row))
    return found


def put_on_builds(connection: sqlite3.Connection, rows: Sequence[RowToPlace], *, to_removed: bool = False) -> set[str]:
    """Put rows on builds of their diffs, where no other stands on removed ones too if that is wanted; returns the
    builds, by id, from which and to which any went."""
    found = BuildsOfDiffs(connection) if rows else None
    builds: set[str] = set()
    for row in rows:
        build = found.build_of(row) if found else row.build
        if found and build != row.build and (to_removed or found.stands(build)):
            connection.execute(f"UPDATE main.{row.kind.table} SET build = ? WHERE id = ?", (build, row.id))
            builds |= {row.build, build}
    return builds


def placed_by_us(column: str) -> str:
    """SQL: whether row ``t`` is from notes and no person set this column."""
    typed = f"iif(json_valid(t.entered), json_extract(t.entered, '$.{column}'), NULL)"
    return f"(t.note_file IS NOT NULL AND {typed} IS NULL)"
