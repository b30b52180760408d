"""What the tool keeps without versions becomes one of two databases: files of notes with what was left out of them,
kept results, pictures, and entries."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Sequence
from hashlib import sha256
from typing import Final

from bevelbook.kept_json import object_in
from bevelbook.meeting.kept_apart import entries_apart, keep_own, same_readings
from bevelbook.meeting.other_database import OTHER
from bevelbook.meeting.records_met import blocks
from bevelbook.meeting.versions_met import Apart
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.entry_contents import OF_A_FILE
from bevelbook.store.files_as_kept import hash_of_packed
from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.kept_states import KnownRow, kept_rows, made_at_of, shown_rows
from bevelbook.store.known_versions import past_rows
from bevelbook.store.schema import columns_of, literal, quoted
from bevelbook.store.showing import write_history

KEPT: Final = ("picture", "note_file", "note_reject", "note_extra", "calculation")
"""The kinds without versions that both databases may have changed, each after what it refers to."""
_BYTES: Final = {"note_bytes": ("sha256", "packed"), "picture_bytes": ("sha256", "thumbnail", "jpeg")}
_HISTORY: Final = "version, parents, content, replaced_in, replaced_at"


class KeptMet:
    """Brings in what has no versions; counts what came and changed, by kind, and notes what went."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.came: Counter[str] = Counter()
        self.changed: Counter[str] = Counter()
        self.gone: set[tuple[str, str]] = set()
        self.put_right: dict[str, list[str]] = {table: [] for table in _BYTES}
        """By table the hashes of files and pictures of which the bytes here were not theirs, and are now."""
        self.apart: list[Apart] = []
        """What says something else there, of which the own stays."""
        self._are_same_readings = False

    def bring_in_entries(self) -> None:
        """Add the entries and the bytes of files and pictures that only the other database has."""
        self._are_same_readings = same_readings(self.connection)
        self.apart += entries_apart(self.connection)
        names = ", ".join(columns_of(BY_NAME["entry"]))
        self._count(
            "entry",
            f"INSERT INTO main.entries ({names}) SELECT {names} FROM {OTHER}.entries o "
            "WHERE NOT EXISTS (SELECT 1 FROM main.entries t WHERE t.id = o.id) ORDER BY made_at, id",
        )
        for table, columns in _BYTES.items():
            named = ", ".join(columns)
            self.connection.execute(
                f"INSERT INTO main.{table} ({named}) SELECT {named} FROM {OTHER}.{table} o "
                f"WHERE NOT EXISTS (SELECT 1 FROM main.{table} t WHERE t.sha256 = o.sha256) ORDER BY sha256"
            )
        self._put_bytes_right()
        self._take_lesser_thumbnails()

    def _put_bytes_right(self) -> None:
        """Where the bytes of a file or picture are not those of its name here, and they are there, take those."""
        for table, (_, *columns) in _BYTES.items():
            bytes_ = columns[-1]
            differing = self.connection.execute(
                f"SELECT t.sha256 FROM main.{table} t JOIN {OTHER}.{table} o USING (sha256) "
                f"WHERE o.{bytes_} IS NOT t.{bytes_} ORDER BY t.sha256"
            ).fetchall()
            for (name,) in differing:
                ours, theirs = (
                    self.connection.execute(
                        f"SELECT {', '.join(columns)} FROM {schema}.{table} WHERE sha256 = ?", (name,)
                    ).fetchone()
                    for schema in ("main", OTHER)
                )
                hash_of = hash_of_packed if table == "note_bytes" else _plain_hash
                if hash_of(ours[-1]) != name and hash_of(theirs[-1]) == name:
                    sets = ", ".join(f"{column} = ?" for column in columns)
                    self.connection.execute(f"UPDATE main.{table} SET {sets} WHERE sha256 = ?", (*theirs, name))
                    self.put_right[table].append(name)

    def _take_lesser_thumbnails(self) -> None:
        """Where two laptops made the small one of a picture differently, keep the one whose hash is less."""
        differing = self.connection.execute(
            "SELECT sha256 FROM main.picture_bytes t JOIN "
            f"{OTHER}.picture_bytes o USING (sha256) WHERE o.thumbnail IS NOT t.thumbnail ORDER BY sha256"
        ).fetchall()
        for (name,) in differing:
            ours, theirs = (
                self.connection.execute(
                    f"SELECT thumbnail FROM {schema}.picture_bytes WHERE sha256 = ?", (name,)
                ).fetchone()[0]
                for schema in ("main", OTHER)
            )
            if sha256(theirs).hexdigest() < sha256(ours).hexdigest():
                self.connection.execute("UPDATE main.picture_bytes SET thumbnail = ? WHERE sha256 = ?", (theirs, name))

    def bring_in(self, kind: Kind) -> None:
        """Bring in the rows of a kind that only the other database knows, and put together those that differ."""
        table, name = kind.table, literal(kind.table)
        columns = columns_of(kind)
        named = ", ".join(map(quoted, columns))
        self.connection.execute("DELETE FROM temp.met")
        for statement in self._differing(kind):
            self.connection.execute(f"INSERT OR IGNORE INTO temp.met {statement}")
        met = [row[0] for row in self.connection.execute("SELECT id FROM temp.met ORDER BY id")]
        (last,) = self.connection.execute(f"SELECT coalesce(max(rowid), 0) FROM main.{table}").fetchone()
        known = f"EXISTS (SELECT 1 FROM main.history k WHERE k.table_name = {name} AND k.row_id = o.{{}})"
        is_here = f"EXISTS (SELECT 1 FROM main.{table} t WHERE t.id = o.{{}} AND t.rowid <= {last})"
        self._count(
            kind.name,
            f"INSERT INTO main.{table} ({named}) SELECT {named} FROM {OTHER}.{table} o "
            f"WHERE NOT {is_here.format('id')} AND NOT {known.format('id')} AND id NOT IN (SELECT id FROM temp.met) "
            "ORDER BY o.rowid",
        )
        self.connection.execute(
            f"INSERT INTO main.history (table_name, row_id, {_HISTORY}) SELECT table_name, row_id, {_HISTORY} "
            f"FROM {OTHER}.history o WHERE table_name = {name} AND NOT {known.format('row_id')} "
            f"AND NOT {is_here.format('row_id')} AND row_id NOT IN (SELECT id FROM temp.met) ORDER BY o.row_id, o.id"
        )
        for ids in blocks(met):
            self.work_out(kind, ids, ("main", OTHER))

    def hide_without_file(self) -> None:
        """Show what was left out of a file only while the file is shown."""
        for name in OF_A_FILE:
            kind = BY_NAME[name]
            missing = self.connection.execute(
                f"SELECT id FROM main.{kind.table} WHERE note_file NOT IN (SELECT id FROM main.note_files) "
                "UNION SELECT row_id FROM main.history WHERE table_name = ? AND version = ? AND content IS NOT NULL "
                "AND replaced_at IS NULL AND replaced_in IS NULL ORDER BY 1",
                (kind.table, NOT_VERSIONED),
            )
            for ids in blocks([row[0] for row in missing.fetchall()]):
                self.work_out(kind, ids, ("main",))

    def _count(self, kind_name: str, statement: str) -> None:
        came = self.connection.execute(statement).rowcount
        if came > 0:
            self.came[kind_name] += came

    def _differing(self, kind: Kind) -> tuple[str, ...]:
        """SELECT of the rows that both know and that differ, or have another history."""
        table, name = kind.table, literal(kind.table)
        columns = [quoted(one) for one in kind.columns]
        ours, theirs = (f"({', '.join(f'{row}.{one}' for one in columns)})" for row in ("t", "o"))
        same = " AND ".join(f"h.{one} IS o.{one}" for one in _HISTORY.split(", "))
        return (
            f"SELECT o.id FROM {OTHER}.{table} o JOIN main.{table} t ON t.id = o.id WHERE {ours} IS NOT {theirs}",
            f"SELECT o.row_id FROM {OTHER}.history o WHERE o.table_name = {name} AND NOT EXISTS (SELECT 1 FROM "
            f"main.history h WHERE h.table_name = o.table_name AND h.row_id = o.row_id AND {same}) "
            f"AND (EXISTS (SELECT 1 FROM main.{table} t WHERE t.id = o.row_id) OR EXISTS "
            f"(SELECT 1 FROM main.history k WHERE k.table_name = {name} AND k.row_id = o.row_id))",
            f"SELECT o.id FROM {OTHER}.{table} o WHERE NOT EXISTS (SELECT 1 FROM main.{table} t WHERE t.id = o.id) "
            f"AND EXISTS (SELECT 1 FROM main.history k WHERE k.table_name = {name} AND k.row_id = o.id)",
            *(
                f"SELECT t.id FROM {schema}.history h CROSS JOIN {schema}.{table} t ON t.id = h.row_id "
                f"WHERE h.table_name = {name} AND h.content IS NULL"
                for schema in ("main", OTHER)
            ),
        )

    def work_out(self, kind: Kind, ids: Sequence[str], schemas: Sequence[str]) -> None:
        """Put the states of these rows together that the databases know, and write what follows."""
        known: dict[str, KnownRow] = {}
        for schema in schemas:
            for row_id, row in kept_rows(self.connection, kind, ids, schema).items():
                if row_id in known:
                    self.apart += keep_own(kind, row_id, known[row_id], row, are_same_readings=self._are_same_readings)
                    known[row_id].unite(row)
                else:
                    known[row_id] = row
        made_at = made_at_of(self.connection, {entry for row in known.values() for entry in row.changes})
        here = shown_rows(self.connection, kind, ids)
        past = past_rows(self.connection, kind, ids)
        for row_id, row in known.items():
            last = row.last(made_at)
            is_hidden = last is not None and kind.name in OF_A_FILE and not self._has_file(last)
            wanted = row.history(made_at, is_hidden=is_hidden)
            if wanted != past.get(row_id, []):
                write_history(self.connection, kind, row_id, wanted)
            self._show(kind, row_id, here.get(row_id), None if is_hidden else last)

    def _has_file(self, text: str) -> bool:
        file = (object_in(text) or {}).get("note_file")
        return self.connection.execute("SELECT 1 FROM main.note_files WHERE id = ?", (file,)).fetchone() is not None

    def _show(self, kind: Kind, row_id: str, here: str | None, wanted: str | None) -> None:
        if here == wanted:
            return
        if wanted is None:
            self.connection.execute(f"DELETE FROM main.{kind.table} WHERE id = ?", (row_id,))
            self.gone.add((kind.name, row_id))
            return
        content = object_in(wanted) or {}
        row = {name: content.get(name) for name in kind.columns}
        if here is None:
            names = ("id", *row)
            self.connection.execute(
                f"INSERT INTO main.{kind.table} ({', '.join(map(quoted, names))}) "
                f"VALUES ({', '.join('?' * len(names))})",
                (row_id, *row.values()),
            )
        else:
            sets = ", ".join(f"{quoted(name)} = ?" for name in row)
            self.connection.execute(f"UPDATE main.{kind.table} SET {sets} WHERE id = ?", (*row.values(), row_id))
        self.changed[kind.name] += 1


def _plain_hash(file: bytes) -> str:
    return sha256(file).hexdigest()
