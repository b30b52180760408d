"""What a part of a database holds: whole records, chosen by what was touched since a day.

A record goes with every version of it that is known, never with some of them: a version without those that follow it
would be a clash where there is none. What any version refers to goes along in the same way, so that each of them can be
shown wherever the part comes; and so do the entries that these versions name.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import date as day_field
from bevelbook.declare.fields import record
from bevelbook.reading import BY_HAND, read
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store.schema import ANOTHER_PROGRAM, literal, quoted
from bevelbook.store.users import references

_ENTRY: Final = BY_NAME["entry"]
_FILE: Final = BY_NAME["note_file"]
_OF_A_FILE: Final = (BY_NAME["note_reject"], BY_NAME["note_extra"])
_JOIN: Final = BY_NAME["join"]
_ALWAYS: Final = (BY_NAME["erasure"], BY_NAME["note_diff"])
"""Marks of what was erased, and of which diff rows are, go along with every part: what was sent before may not have
them."""
_RECORDS: Final = tuple(kind for kind in KINDS if not kind.derived and kind.name != "entry")
_SUBJECT: Final = ("subject_table", "subject_id")
_NAMES_A_SUBJECT: Final = ("put_by", "calculation")
"""Kinds that name another record by its table and id."""
_GIVEN: Final = "(SELECT value FROM json_each(?))"
_BY_ANOTHER_PROGRAM: Final = (
    f"version GLOB '{ANOTHER_PROGRAM} *' AND (max(created_at, updated_at) >= ? OR updated_at NOT GLOB '????-??-??T*Z')"
)
"""What another program wrote since then, or did not say when."""


@record
class SinceWhen:
    """What a person says of a part."""

    since: str = day_field("Since when")


class Chosen(NamedTuple):
    """The records of a part, by table, and its entries, by id: those that still stand and those that were removed.

    ``touched`` are those of the records that were touched since then; the others belong to them.
    """

    records: Mapping[str, frozenset[str]]
    entries: frozenset[str]
    touched: Mapping[str, frozenset[str]]

    def of(self, kind: Kind) -> list[str]:
        """The ids of a kind, in order."""
        return sorted(self.entries if kind.name == "entry" else self.records.get(kind.table, ()))


def read_since(text: str) -> str:
    """A day as a person types it, as ISO 8601. Raises ReadingError for one that reads in two ways, or is to come.

    >>> read_since("20.11.2025"), read_since("1 Nov 2025")
    ('2025-11-20', '2025-11-01')
    """
    return str(read(SinceWhen.fields[0], text, BY_HAND))  # type: ignore[attr-defined]


def instant_of(day: str) -> str:
    """The instant at which a day begins by the clock of this machine, as the database stores it."""
    midnight = datetime.combine(date.fromisoformat(day), datetime.min.time()).astimezone(UTC)
    return midnight.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def chosen_since(connection: sqlite3.Connection, since: str) -> Chosen:
    """What was touched since a day, and all that belongs to it.

    Touched is what an entry wrote that was made since then, and what another program did since then.
    """
    return chosen_after(connection, instant_of(since))


def chosen_after(connection: sqlite3.Connection, instant: str) -> Chosen:
    """The same since an instant, as the database stores it."""
    return _Choosing(connection, instant).chosen()


class _Choosing:
    """Goes from record to record, each once.

    It reads the tables themselves: a connection may show records without their impossible numbers.
    """

    def __init__(self, connection: sqlite3.Connection, since: str) -> None:
        self._cursor = connection.cursor()
        self._cursor.row_factory = None
        self._since = since
        self._found: dict[str, set[str]] = {kind.table: set() for kind in _RECORDS}
        self._new: dict[str, set[str]] = {}
        self._lines: set[tuple[Any, ...]] = set()
        """Lines of notes of which everything was taken."""

    def chosen(self) -> Chosen:
        entries = dict(self._asked("SELECT id, made_at FROM entries WHERE made_at >= ?", self._since))
        for table, row_id in self._touched(entries):
            self._take(table, (row_id,))
        touched = {table: frozenset(ids) for table, ids in self._found.items() if ids}
        for kind in _ALWAYS:
            self._take(kind.table, (row[0] for row in self._asked(f"SELECT id FROM main.{kind.table}")))
        while self._new:
            new, self._new = self._new, {}
            for table, ids in new.items():
                self._follow(BY_TABLE[table], json.dumps(sorted(ids)))
        records = {table: frozenset(ids) for table, ids in self._found.items() if ids}
        return Chosen(records, frozenset(self._with_named(records, entries)), touched)

    def _take(self, table: str, ids: Iterable[str | None]) -> None:
        """Take records that are not taken yet; anything else is left out."""
        if table in self._found:
            fresh = {one for one in ids if one is not None} - self._found[table]
            if fresh:
                self._found[table] |= fresh
                self._new.setdefault(table, set()).update(fresh)

    def _touched(self, entries: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        by_id, by_instant = json.dumps(sorted(entries)), json.dumps(sorted(entries.values()))
        for kind in _RECORDS:
            asked = []
            if kind.own:
                asked.append((f"version IN {_GIVEN}", (by_id,)))
                asked.append((f"note_file IS NOT NULL AND created_at IN {_GIVEN}", (by_instant,)))
                asked.append((_BY_ANOTHER_PROGRAM, (self._since,)))
            elif kind.name in ("note_file", "calculation"):
                asked.append((f"entry IN {_GIVEN}", (by_id,)))
            for condition, given in asked:
                for row in self._asked(f"SELECT id FROM main.{kind.table} WHERE {condition}", *given):
                    yield kind.table, row[0]
        yield from self._asked(
            "SELECT DISTINCT table_name, row_id FROM history "
            f"WHERE version IN {_GIVEN} OR replaced_in IN {_GIVEN} OR replaced_at >= ?",
            by_id,
            by_id,
            self._since,
        )

    def _follow(self, kind: Kind, given: str) -> None:
        """Take what some records of a kind refer to in any of their versions, and what belongs to them."""
        for column, target in references(kind):
            self._take(target.table, self._named_in(kind, column, given))
        for row in self._asked(
            f"SELECT column_name, written FROM as_written WHERE table_name = ? AND row_id IN {_GIVEN}",
            kind.table,
            given,
        ):
            target_of = dict(references(kind)).get(row[0])
            if target_of is not None:
                self._take(target_of.table, (row[1],))
                self._take_joined(target_of, row[1])
        if kind.name in _NAMES_A_SUBJECT:
            for table, row_id in self._pairs_in(kind, _SUBJECT, given):
                self._take(str(table), (row_id,))
        if kind is _JOIN:
            for name, *ends in self._pairs_in(kind, ("kind", "one", "other"), given):
                if name in JOINED_KINDS:
                    self._take(BY_NAME[str(name)].table, ends)
        if kind.own:
            self._take_lines(kind, given)
        if kind is _FILE:
            self._take_of_new_files(given)

    def _named_in(self, kind: Kind, column: str, given: str) -> list[str | None]:
        return [row[0] for row in self._pairs_in(kind, (column,), given)]

    def _pairs_in(self, kind: Kind, columns: Sequence[str], given: str) -> list[tuple[str | None, ...]]:
        """The values of some columns in all versions of some records."""
        shown = ", ".join(map(quoted, columns))
        past = ", ".join(_in_content(column) for column in columns)
        return self._asked(
            f"SELECT {shown} FROM main.{kind.table} WHERE id IN {_GIVEN} UNION SELECT {past} FROM history "
            f"WHERE table_name = {literal(kind.table)} AND row_id IN {_GIVEN}",
            given,
            given,
        )

    def _take_joined(self, kind: Kind, row_id: str) -> None:
        """Take what says that a record is one with another, so that the part says so as well."""
        found = self._asked(
            "SELECT id FROM main.joins WHERE kind = ? AND (one = ? OR other = ?)", kind.name, row_id, row_id
        )
        self._take(_JOIN.table, (row[0] for row in found))

    def _take_lines(self, kind: Kind, given: str) -> None:
        """Take all that came of the same lines of notes, which are read back as a whole."""
        lines = self._asked(
            f"SELECT DISTINCT note_file, note_line FROM main.{kind.table} "
            f"WHERE id IN {_GIVEN} AND note_file IS NOT NULL AND note_line IS NOT NULL",
            given,
        )
        new = [line for line in lines if line not in self._lines]
        if not new:
            return
        self._lines.update(new)
        wanted = json.dumps(new)
        of_lines = "(SELECT json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?))"
        for other in _RECORDS:
            if other.own:
                found = self._asked(
                    f"SELECT id FROM main.{other.table} WHERE (note_file, note_line) IN {of_lines}", wanted
                )
                self._take(other.table, (row[0] for row in found))
        extra = BY_NAME["note_extra"]
        found = self._asked(f"SELECT id FROM main.{extra.table} WHERE (note_file, line) IN {of_lines}", wanted)
        self._take(extra.table, (row[0] for row in found))

    def _take_of_new_files(self, given: str) -> None:
        """Of files that were brought in, or read again, since then: the lines left out and the cells beside, all."""
        touched = (
            f"SELECT id FROM main.{_FILE.table} WHERE id IN {_GIVEN} "
            "AND entry IN (SELECT id FROM entries WHERE made_at >= ?) "
            f"UNION SELECT row_id FROM history WHERE table_name = {literal(_FILE.table)} AND row_id IN {_GIVEN} "
            "AND replaced_at >= ?"
        )
        values = (given, self._since, given, self._since)
        for kind in _OF_A_FILE:
            found = self._asked(f"SELECT id FROM main.{kind.table} WHERE note_file IN ({touched})", *values)
            self._take(kind.table, (row[0] for row in found))

    def _with_named(self, records: Mapping[str, frozenset[str]], entries: Mapping[str, str]) -> set[str]:
        """The entries since then, those that the versions of the records name, and those that took any of them back."""
        found = set(entries)
        for table, ids in records.items():
            kind, given = BY_TABLE[table], json.dumps(sorted(ids))
            asked = [f"SELECT version FROM history WHERE table_name = {literal(table)} AND row_id IN {_GIVEN}"]
            asked.append(f"SELECT replaced_in FROM history WHERE table_name = {literal(table)} AND row_id IN {_GIVEN}")
            asked.append(
                "SELECT p.value FROM history h, json_each(iif(json_valid(h.parents), h.parents, '[]')) p "
                f"WHERE h.table_name = {literal(table)} AND h.row_id IN {_GIVEN}"
            )
            if kind.own:
                asked.append(f"SELECT version FROM main.{table} WHERE id IN {_GIVEN}")
                asked.append(
                    "SELECT e.id FROM entries e WHERE e.made_at IN "
                    f"(SELECT created_at FROM main.{table} WHERE id IN {_GIVEN} AND note_file IS NOT NULL)"
                )
                asked.append(
                    "SELECT e.id FROM entries e WHERE e.made_at IN "
                    f"(SELECT {_in_content('created_at')} FROM history WHERE table_name = {literal(table)} "
                    f"AND row_id IN {_GIVEN} AND {_in_content('note_file')} IS NOT NULL)"
                )
            elif kind.name in ("note_file", "calculation"):
                asked.append(f"SELECT entry FROM main.{table} WHERE id IN {_GIVEN}")
            named = self._asked(" UNION ".join(asked), *(given for _ in asked))
            found |= {row[0] for row in named if row[0] is not None}
        before: set[str] = set()
        while found != before:
            before = set(found)
            given = json.dumps(sorted(found))
            found |= {
                one
                for row in self._asked(
                    f"SELECT id, took_back FROM entries WHERE took_back IN {_GIVEN} OR id IN {_GIVEN}", given, given
                )
                for one in row
                if one is not None
            }
        known = self._asked(f"SELECT id FROM entries WHERE id IN {_GIVEN}", json.dumps(sorted(found)))
        return {row[0] for row in known}

    def _asked(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        return self._cursor.execute(sql, given).fetchall()


def _in_content(column: str) -> str:
    """SQL for a column in a past version; what is not JSON, as another program may have left it, has none."""
    return f"iif(json_valid(content), json_extract(content, {literal(f'$.{column}')}), NULL)"
