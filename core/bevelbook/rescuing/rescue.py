"""A damaged database becomes an export of what can still be read, with a list of what could not.

Rows are read page by page into a clean database of this version, which holds each row to the rules of its table. What a
row lacks is said; a row that no database can hold is kept beside the export, as it was read. The damaged file is only
read. A record keeps its version, also where something of it is lost: a book that has the whole one keeps that, and the
merge names the difference.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, DatabaseError, Place
from bevelbook.interchange.clean_database import add_indexes, clean_database
from bevelbook.interchange.csv_cells import csv_lines, heading_line
from bevelbook.interchange.export_source import RESCUED_IN
from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.interchange.write_export import WrittenExport, write_export
from bevelbook.meeting.copied_whole import regular_file
from bevelbook.meeting.refusing import OddRow
from bevelbook.meeting.sound_rows import unsound_rows
from bevelbook.meeting.their_schema import OurTable, tables_of_step
from bevelbook.meeting.versions_once import keep_versions_once
from bevelbook.records import BY_TABLE
from bevelbook.rescuing.found_tables import FoundTables, ListedPart, fits
from bevelbook.rescuing.pages import PageFault, opened_pages
from bevelbook.rescuing.trees import FoundRow, LostPart, Text
from bevelbook.rescuing.written_lost import AS_WRITTEN, give_back_written
from bevelbook.store.closed_file import log_of
from bevelbook.store.folder_aside import folder_aside
from bevelbook.store.ids import id_ms
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import drop_triggers_and_views, migrate
from bevelbook.store.schema import APPLICATION_ID, quoted
from bevelbook.store.sql_pieces import pieces_of

LOST: Final = "lost.csv"
LEFT_OVER: Final = "left_over.ndjson"
_PLAIN: Final = frozenset({"about", AS_WRITTEN})
"""Tables that no file of an export shows, and that say how the others are written."""
_NO_COLUMNS: Final = ("CHECK", "UNIQUE", "PRIMARY", "FOREIGN", "CONSTRAINT")
_MOST_TRIES: Final = 12
_LETTERS_OF_ID: Final = 8
_BROKEN: Final = re.compile(r"constraint failed: (?P<said>.*)|in [A-Z]+ column (?P<column>[\w.]+)", re.DOTALL)
_NO_DAY: Final = "1970-01-01"
_LAST_MS: Final = 4_102_444_800_000
"""The beginning of the year 2100, in milliseconds since 1970: an id of a later moment is damaged."""
_NUL: Final = "\0"
_NOT_READ: Final = "\ufffd"


class LostThing(NamedTuple):
    """What was not read, or not as it was: of which table, where or which record, and why."""

    table: str
    where: str
    why: str


class Rescued(NamedTuple):
    """What came of it: the export, its rows by table, what is lost, rows that were read and fit nowhere, and whether
    changes beside the file were taken in."""

    export: WrittenExport
    lost: tuple[LostThing, ...]
    left_over: tuple[Mapping[str, object], ...]
    with_log: bool

    @property
    def row_count(self) -> int:
        """The rows that are in the export."""
        return sum(self.export.rows.values())


def rescue(path: Path, folder: Path) -> Rescued:
    """Read what can be read of a damaged database, and write it into a folder that is not there yet.

    Raises DatabaseError: no such file, nothing of a bevelbook database in it, a newer version, or a folder that is
    there or cannot be written.
    """
    regular_file(path)
    _refuse_taken(folder)
    try:
        with opened_pages(path) as file, folder_aside() as aside:
            tables = FoundTables(file)
            if file.application_id != APPLICATION_ID and tables.table("builds") is None:
                raise _nothing_found(path)
            step = file.user_version
            if step > LAST_STEP and tables.table("builds") is not None and step < _FAR_STEP:
                raise DatabaseError(
                    f"this database was made by a newer version (step {step}, this one knows {LAST_STEP})",
                    code="database_newer",
                    place=Place(str(path)),
                    remedy="Update bevelbook.",
                )
            with closing(clean_database(aside / path.name, _step_of(step, tables), indexed=False)) as clean:
                made = _Rescue(tables, clean, _step_of(step, tables), path)
                made.fill()
                if not made.count:
                    raise _nothing_found(path)
                made.bring_up()
                log = log_of(path)
                if log.is_file() and log.stat().st_size and not file.log_is_used:
                    made.lost.append(LostThing("", log.name, "the changes beside the file cannot be read"))
                with folder_aside(folder.parent) as beside:
                    unfinished = beside / folder.name
                    unfinished.mkdir()
                    export = write_export(clean, path, unfinished / RESCUED_IN)
                    made.write_lists(unfinished, export)
                    unfinished.rename(folder)
            return Rescued(export, tuple(made.lost), tuple(made.left_over), file.log_is_used)
    except PageFault as fault:
        raise _nothing_found(path) from fault
    except OSError as fault:
        raise DatabaseError(
            "it cannot be read, or not be written there",
            code="not_readable",
            place=Place(str(fault.filename or path)),
            found=fault.strerror,
            remedy="Copy the file to another disk, and name a new folder on a disk with room.",
        ) from fault


_FAR_STEP: Final = 1_000
"""A step that no version will have: the head of the file is damaged there."""


def _step_of(said: int, tables: FoundTables) -> int:
    """The step that the head says; where that cannot be, the last one whose tables are all in the list."""
    if 1 <= said <= LAST_STEP:
        return said
    held = {one.name for one in tables.parts if one.sort == "table"}
    known = [step for step in range(1, LAST_STEP + 1) if set(tables_of_step(step)) <= held]
    return max(known, default=LAST_STEP)


def _refuse_taken(folder: Path) -> None:
    if folder.is_symlink() or folder.exists():
        raise DatabaseError(
            "there is something with that name already",
            code="file_exists",
            place=Place(str(folder)),
            remedy="Name a new folder. Nothing was changed.",
        )
    if not folder.parent.is_dir():
        raise DatabaseError(
            "no such folder", code="no_folder", place=Place(str(folder.parent)), remedy="Make it first."
        )


def _nothing_found(path: Path) -> DatabaseError:
    return DatabaseError(
        "nothing of a bevelbook database can be read in it",
        code="nothing_rescued",
        place=Place(str(path)),
        remedy="Look whether it is the right file, and go back to a backup copy.",
    )


class _Rescue:
    def __init__(self, tables: FoundTables, clean: sqlite3.Connection, step: int, path: Path) -> None:
        self.tables = tables
        self.clean = clean
        self.step = step
        self.path = path
        self.ours = tables_of_step(step)
        self.lost: list[LostThing] = []
        self.left_over: list[dict[str, object]] = []
        self.count = 0

    # From the pages

    def fill(self) -> None:
        """All rows of all tables, into the clean database."""
        exported = {table.name for table in exported_tables()} | _PLAIN
        damaged: dict[str, list[LostPart]] = {}
        self.clean.execute("BEGIN")
        for name, ours in self.ours.items():
            if name not in exported:
                continue
            part = self.tables.table(name)
            lost: list[LostPart] = []
            if part is None or not part.root:
                damaged[name] = [LostPart(1, "the file's list of tables does not have it any more")]
                continue
            for row in self.tables.rows(part, lost):
                self._take(name, ours, self._names(part, ours), row)
            if lost:
                damaged[name] = lost
        if damaged or self.tables.lost_of_list:
            self._take_strays(damaged)
        for name, parts in damaged.items():
            self._say_lost(name, parts)
        self.clean.execute("COMMIT")

    @staticmethod
    def _names(part: ListedPart, ours: OurTable) -> list[str]:
        """The columns of a table in the order of the file."""
        declared = [column.name for column in ours.structure.columns]
        pieces = pieces_of(part.sql)
        if pieces is None:
            return declared
        names = [piece.split(" ")[0].strip('"') for piece in pieces[0] if not piece.startswith(_NO_COLUMNS)]
        return names if set(declared) <= set(names) else declared

    def _take(self, table: str, ours: OurTable, names: Sequence[str], row: FoundRow) -> None:
        """Put a row into the clean database, without what cannot be there."""
        known = {column.name: column for column in ours.structure.columns}
        values: dict[str, Any] = {}
        for name, value in zip(names, row.values, strict=False):
            if name in known:
                values[name] = value
        row_key = next((c.name for c in ours.structure.columns if c.key and c.type == "INTEGER"), None)
        if row_key is not None and row.rowid is not None:
            values[row_key] = row.rowid
        where = _where(values, row)
        before = len(self.lost)
        for name, value in values.items():
            if isinstance(value, Text):
                values[name] = self._decoded(table, where, name, value)
        if table == AS_WRITTEN and len(self.lost) > before:  # a part of a name is none, and its row is that of another
            del self.lost[before:]
            self.lost.append(LostThing(table, where, "what was written of it is not whole"))
            return
        self._put(table, ours, values, where, None if row_key or ours.structure.without_rowid else row.rowid)

    def _decoded(self, table: str, where: str, name: str, value: bytes) -> str:
        text = value.decode(errors="replace")
        if _NUL in text:
            text = text.replace(_NUL, _NOT_READ)
        if text.encode() != value:
            self.lost.append(
                LostThing(table, where, f"{name} is not whole: {_NOT_READ} stands for what cannot be read")
            )
        return text

    def _put(
        self, table: str, ours: OurTable, values: dict[str, Any], where: str, rowid: int | None, *, said: str = ""
    ) -> bool:
        """Insert a row; a value that its column cannot hold is left out where it may be, and said."""
        whole = dict(values)
        empty: list[str] = []
        why = "it does not fit"
        for _ in range(_MOST_TRIES):
            columns = [*(("rowid",) if rowid is not None else ()), *(quoted(name) for name in values)]
            given = [*((rowid,) if rowid is not None else ()), *values.values()]
            marks = ", ".join("?" * len(given))
            try:
                self.clean.execute(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", given)
            except (sqlite3.IntegrityError, sqlite3.DataError, OverflowError) as fault:
                why = str(fault)
                column = _column_at_fault(why, values)
                needed = {one.name for one in ours.structure.columns if one.required or one.key}
                if column is None or column in needed or why.startswith("UNIQUE"):
                    break
                empty.append(column)
                values = {name: value for name, value in values.items() if name != column}
            else:
                self.count += 1
                for name in empty:
                    self.lost.append(LostThing(table, where, f"{name} is left empty; it had {_shown(whole[name])}"))
                if said:
                    self.lost.append(LostThing(table, where, said))
                return True
        if why.startswith("UNIQUE"):
            if self._is_there(table, ours, whole):
                return True
            why = "another row has its id"
        self._leave_over(table, whole, why, where)
        return False

    def _is_there(self, table: str, ours: OurTable, values: Mapping[str, Any]) -> bool:
        """Whether the very same row was read already."""
        keys = [one.name for one in ours.structure.columns if one.key]
        cursor = self.clean.cursor()
        cursor.row_factory = None
        cursor.execute(
            f"SELECT {', '.join(map(quoted, values))} FROM {table} WHERE "
            + " AND ".join(f"{quoted(name)} IS ?" for name in keys),
            [values.get(name) for name in keys],
        )
        return bool(cursor.fetchone() == tuple(values.values()))

    def _leave_over(self, table: str, values: Mapping[str, Any], why: str, where: str) -> None:
        self.left_over.append({"table": table, "row": {name: _plain(one) for name, one in values.items()}, "why": why})
        self.lost.append(LostThing(table, where, f"read, but no database can hold it ({why}): it is in {LEFT_OVER}"))

    # What no way leads to any more

    def _take_strays(self, damaged: Mapping[str, Sequence[LostPart]]) -> None:
        """Rows of pages that nothing leads to, where for certain one table alone can have lost them."""
        losing = [name for name, parts in damaged.items() if any(one.place is None or one.is_inside for one in parts)]
        if not losing:
            return
        maybe_removed = "" if self.tables.file.knows_free_pages() else ", but some may have been removed before"
        for number, rows in self.tables.stray_pages():
            able = [name for name in losing if self._may_be_of(name, rows)]
            if len(able) == 1:
                name = able[0]
                part = self.tables.table(name)
                names = [one.name for one in self.ours[name].structure.columns]
                said = "nothing leads to it any more: its rows are taken for rows of this table"
                self.lost.append(LostThing(name, f"page {number}", said + maybe_removed))
                for row in rows:
                    self._take(name, self.ours[name], self._names(part, self.ours[name]) if part else names, row)
            elif able:
                for row in rows:
                    values = {str(place): value for place, value in enumerate(row.values)}
                    self._leave_over(
                        " or ".join(able), values, "it may be of more than one table", f"page {number}, row {row.rowid}"
                    )

    def _may_be_of(self, name: str, rows: Sequence[FoundRow]) -> bool:
        columns = self.ours[name].structure.columns
        if self.ours[name].structure.without_rowid:
            return False
        types = [column.type for column in columns]
        required = {
            place for place, one in enumerate(columns) if one.required and not (one.key and one.type == "INTEGER")
        }
        if not all(fits(row, types, required) for row in rows):
            return False
        part = self.tables.table(name)
        names = self._names(part, self.ours[name]) if part else [one.name for one in columns]
        self.clean.execute("SAVEPOINT trial")
        try:
            for row in rows:
                values = {
                    one: value.decode() if isinstance(value, Text) else value
                    for one, value in zip(names, row.values, strict=False)
                }
                if columns[0].key and columns[0].type == "INTEGER":
                    values[columns[0].name] = row.rowid
                marks = ", ".join("?" * len(values))
                self.clean.execute(
                    f"INSERT INTO {name} ({', '.join(map(quoted, values))}) VALUES ({marks})", list(values.values())
                )
        except (sqlite3.Error, UnicodeDecodeError, OverflowError):
            return False
        finally:
            self.clean.execute("ROLLBACK TO trial")
            self.clean.execute("RELEASE trial")
        return True

    def _say_lost(self, name: str, parts: Sequence[LostPart]) -> None:
        """Name what a table lost: by record where an index still has them, else by page."""
        for part in parts:
            where = f"page {part.page}" + (f", row {part.place} on it" if part.place else "")
            more = " and whatever it led to" if part.is_inside and not part.place else ""
            self.lost.append(LostThing(name, where, f"not read{more}: {part.why}"))
        ours = self.ours[name]
        if ours.structure.without_rowid:
            return
        for rowid, values in sorted(self._only_in_indexes(name).items()):
            row_id = str(values.get("id", f"row {rowid}"))
            past = self._last_past(name, row_id)
            known = {**_bookkeeping(ours, row_id), **(past or {}), **values} if past or len(values) > 1 else None
            said = "as it was before its last change: only that could be read" if past else _some_of(values)
            if known is None or not self._put_part(name, ours, known, row_id, rowid, said):
                self.lost.append(LostThing(name, row_id, "the record was not read"))

    def _put_part(self, name: str, ours: OurTable, values: dict[str, Any], row_id: str, rowid: int, said: str) -> bool:
        needed = {one.name for one in ours.structure.columns if one.required and one.default is None}
        if not needed <= set(values):
            return False
        before = len(self.left_over), len(self.lost)
        if self._put(name, ours, values, row_id, rowid, said=said):
            return True
        del self.left_over[before[0] :], self.lost[before[1] :]
        return False

    def _only_in_indexes(self, name: str) -> dict[int, dict[str, Any]]:
        """The columns that indexes have of rows that the table lost, by the number of the row."""
        held = {row[0] for row in self.clean.execute(f"SELECT rowid FROM {name}")}
        found: dict[int, dict[str, Any]] = {}
        for index in self.tables.indexes(name):
            columns = _columns_of_index(index, self.ours[name])
            if columns is None:
                continue
            for entry in self.tables.rows(index, []):
                rowid = entry.values[-1]
                if len(entry.values) != len(columns) + 1 or not isinstance(rowid, int) or rowid in held:
                    continue
                for column, value in zip(columns, entry.values, strict=False):
                    with suppress(UnicodeDecodeError):
                        found.setdefault(rowid, {})[column] = value.decode() if isinstance(value, Text) else value
        return {rowid: {k: v for k, v in values.items() if v is not None} for rowid, values in found.items()}

    def _last_past(self, table: str, row_id: str) -> dict[str, Any] | None:
        """The last past version of a record, as columns; None where the history has none."""
        row = self.clean.execute(
            "SELECT content, version FROM history WHERE table_name = ? AND row_id = ? AND content IS NOT NULL "
            "ORDER BY id DESC LIMIT 1",
            (table, row_id),
        ).fetchone()
        if row is None:
            return None
        try:
            found = json.loads(row[0])
        except ValueError:
            return None
        if not isinstance(found, dict):
            return None
        known = {one.name for one in self.ours[table].structure.columns}
        plain = {name: value for name, value in found.items() if name in known and not isinstance(value, list | dict)}
        return {"id": row_id, **plain, **({"parents": json.dumps([row[1]])} if "parents" in known else {})}

    # To a database that can be exported

    def bring_up(self) -> None:
        """Bring it to this version, and settle what the lost rows left behind: references to them, and what no version
        would have written."""
        if self.step < LAST_STEP:
            self._upgrade()
        else:
            add_indexes(self.clean, of_history_only=True)
        self.ours = tables_of_step(LAST_STEP)
        self.clean.execute("BEGIN")
        self._settle_references()
        self._take_out_unsound()
        lost_of = {one.table for one in self.lost}
        if AS_WRITTEN in lost_of:
            self.lost += [LostThing(*one) for one in give_back_written(self.clean, lost_of)]
        self.clean.execute("COMMIT")

    def _upgrade(self) -> None:
        self.clean.row_factory = sqlite3.Row
        self._settle_references()
        try:
            migrate(self.clean)
        except (sqlite3.Error, BevelbookError) as fault:
            raise DatabaseError(
                "what could be read cannot be brought to this version",
                code="nothing_rescued",
                place=Place(str(self.path)),
                found=str(fault),
                remedy="Rescue it with the version that wrote it; then bring the export in here.",
            ) from fault
        drop_triggers_and_views(self.clean)
        self.clean.row_factory = None

    def _settle_references(self) -> None:
        """No row may point to one that is lost: the record is made again by its name alone where it has nothing else
        that it needs, an optional reference is left empty, and else the row goes beside the export."""
        for _ in range(_MOST_TRIES):
            broken = [tuple(row) for row in self.clean.execute("PRAGMA main.foreign_key_check").fetchall()]
            if not broken:
                return
            for table, rowid, target, number in broken:
                column = next(
                    row[3] for row in self.clean.execute(f"PRAGMA main.foreign_key_list({table})") if row[0] == number
                )
                row = self.clean.execute(
                    f"SELECT id, {quoted(column)} FROM {table} WHERE rowid = ?", (rowid,)
                ).fetchone()
                if row is not None and not self._is_made_again(target, str(row[1])):
                    self._without(table, rowid, str(row[0]), column, f"{target} {row[1]}, which is lost")

    def _is_made_again(self, table: str, row_id: str) -> bool:
        kind = BY_TABLE.get(table)
        ours = tables_of_step(self.step).get(table)
        if kind is None or ours is None or not kind.own or kind.label is None:
            return False
        if [field.name for field in kind.fields if field.required] != [kind.label]:
            return False
        if self.clean.execute(f"SELECT 1 FROM {table} WHERE id = ?", (row_id,)).fetchone():
            return True
        values = {**_bookkeeping(ours, row_id), "id": row_id, kind.label: f"lost {row_id[-_LETTERS_OF_ID:]}"}
        if self.clean.execute(f"SELECT 1 FROM {table} WHERE {kind.label} = ?", (values[kind.label],)).fetchone():
            values[kind.label] = f"lost {row_id}"
        said = f"the record was not read; it is called {values[kind.label]}, since others refer to it"
        return self._put(table, ours, values, row_id, None, said=said)

    def _without(self, table: str, rowid: int, row_id: str, column: str, why: str) -> None:
        """Leave a column of a row empty, or take the row out where it may not be."""
        try:
            self.clean.execute(f"UPDATE {table} SET {quoted(column)} = NULL WHERE rowid = ?", (rowid,))
        except sqlite3.IntegrityError:
            self._take_out(table, rowid, row_id, f"{column} refers to {why}")
        else:
            self.lost.append(LostThing(table, row_id, f"{column} is left empty: it referred to {why}"))

    def _take_out(self, table: str, rowid: object, row_id: str, why: str) -> None:
        cursor = self.clean.cursor()
        cursor.row_factory = None
        cursor.execute(f"SELECT * FROM {table} WHERE rowid = ?", (rowid,))
        row = cursor.fetchone()
        if row is None:
            return
        names = [one[0] for one in cursor.description]
        self.clean.execute(f"DELETE FROM {table} WHERE rowid = ?", (rowid,))
        self.count -= 1
        self._leave_over(table, dict(zip(names, row, strict=True)), why, row_id)

    def _take_out_unsound(self) -> None:
        """What the door for databases from outside would refuse goes beside the export, row by row."""
        for _ in range(_MOST_PASSES):
            odd = list(unsound_rows(self.clean, self.path))
            for one in odd:
                self._settle_odd(one)
            if odd:
                self._settle_references()
                continue
            try:
                keep_versions_once(self.clean, self.path)
            except OddRow as fault:
                self._settle_odd(fault)
                continue
            return

    def _settle_odd(self, odd: OddRow) -> None:
        table, row = odd.held
        without_rowid = self.ours[table].structure.without_rowid if table in self.ours else False
        if without_rowid or table not in self.ours:
            self.clean.execute(f"DELETE FROM {table} WHERE row_id = ?", (row,))
            self.lost.append(LostThing(table, str(row), str(odd.what)))
            return
        key = _KEYS.get(table, "id")
        found = self.clean.execute(f"SELECT rowid FROM {table} WHERE {key} = ?", (row,)).fetchone()
        if found is None:
            return
        if odd.column is not None and odd.column != "id":
            with suppress(sqlite3.IntegrityError):
                held = self.clean.execute(
                    f"SELECT {quoted(odd.column)} FROM {table} WHERE rowid = ?", (found[0],)
                ).fetchone()[0]
                if held is not None:
                    self.clean.execute(f"UPDATE {table} SET {quoted(odd.column)} = NULL WHERE rowid = ?", (found[0],))
                    self.lost.append(LostThing(table, str(row), f"{odd.column} is left empty; it had {_shown(held)}"))
                    return
        self._take_out(table, found[0], str(row), str(odd.what))

    # What is said

    def write_lists(self, folder: Path, export: WrittenExport) -> None:
        """The list of what is lost, and the rows that fit nowhere, beside the export."""
        missing = [LostThing("files and pictures", one, "its bytes are lost") for one in export.missing]
        self.lost = [*[one for one in self.lost if one not in missing], *missing]
        text = heading_line(LostThing._fields) + csv_lines(self.lost, ("TEXT", "TEXT", "TEXT"))
        (folder / LOST).write_text(text, encoding="utf-8", newline="")
        lines = "".join(json.dumps(one, ensure_ascii=False) + "\n" for one in self.left_over)
        (folder / LEFT_OVER).write_text(lines, encoding="utf-8", newline="")


_MOST_PASSES: Final = 200
_KEYS: Final = {"history": "rowid", "note_bytes": "sha256", "picture_bytes": "sha256", "about": "name"}


def _where(values: Mapping[str, Any], row: FoundRow) -> str:
    for name in ("id", "sha256", "row_id", "name"):
        value = values.get(name)
        if isinstance(value, bytes):
            return value.decode(errors="backslashreplace")
    return f"page {row.page}, row {row.rowid}"


def _column_at_fault(said: str, values: Mapping[str, Any]) -> str | None:
    """Which column of those that are filled a fault of SQLite is about."""
    found = _BROKEN.search(said)
    if found is None:
        return None
    words = re.findall(r"\w+", re.sub(r"'(?:[^']|'')*'", "", found["said"] or found["column"] or ""))
    return next((word for word in reversed(words) if word in values and values[word] is not None), None)


def _columns_of_index(index: ListedPart, ours: OurTable) -> list[str] | None:
    """The columns of an index, of the key of a table too; None for one of another program."""
    known = {column.name for column in ours.structure.columns}
    if not index.sql:
        keys = [column.name for column in sorted(ours.structure.columns, key=lambda one: one.key) if column.key]
        return keys if index.name == f"sqlite_autoindex_{index.table}_1" else None
    if index.name not in ours.indexes:
        return None
    inside = index.sql[index.sql.index("(") + 1 :].split(")")[0]
    names = [one.split()[0].strip('"') for one in inside.split(",") if one.split()]
    return names if names and set(names) <= known else None


def _bookkeeping(ours: OurTable, row_id: str) -> dict[str, Any]:
    """The times of a record that was put together again: the beginning of the day that its id says. Where a book has
    the whole one, that is later, and holds."""
    names = {column.name for column in ours.structure.columns}
    day_begins = f"{_day_of(row_id)}T00:00:00.000Z"
    return {name: day_begins for name in ("created_at", "updated_at") if name in names}


def _day_of(row_id: str) -> str:
    at_ms = id_ms(row_id)
    if at_ms is None or at_ms > _LAST_MS:
        return _NO_DAY
    return datetime.fromtimestamp(at_ms / 1000, UTC).date().isoformat()


def _some_of(values: Mapping[str, Any]) -> str:
    return f"only {', '.join(sorted(values))} could be read"


def _shown(value: object) -> str:
    text = str(value)
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}…"


_LONGEST_SHOWN: Final = 200


def _plain(value: object) -> object:
    if isinstance(value, Text):
        return value.decode(errors="backslashreplace")
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, float) and value - value != 0:
        return str(value)
    return value
