"""An export read back, into a database of its own in which nothing runs: whatever is wrong with the folder is found
here, named with its file and line, and nothing is changed.

No name in the folder is used for opening anything: the files are those that the tables of its step have, and what else
lies there is refused.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import sqlite3
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from io import BufferedReader
from itertools import islice
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.interchange.clean_database import add_indexes, clean_database
from bevelbook.interchange.csv_cells import CellError, CellType, heading_line, text_of, values_of_column
from bevelbook.interchange.descriptor import DESCRIPTOR, INVENTED, OURS, PART, STEP, ExportPart
from bevelbook.interchange.export_folder import FILES, LONGEST_DESCRIPTOR_BYTES, PICTURES, SMALL
from bevelbook.interchange.export_source import AGAIN, ExportSource
from bevelbook.interchange.exported_tables import NOTE_BYTES, PICTURE_BYTES, exported_tables
from bevelbook.pictures.signature import signature_of
from bevelbook.store.invented_mark import mark_invented
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import SchemaStep, drop_triggers_and_views, migrate
from bevelbook.store.room_for_copy import room_for_copy
from bevelbook.store.schema import quoted

FIRST_STEP: Final = 4
"""The first step whose databases could be exported."""
LONGEST_CELL: Final = 64_000_000
"""Characters of a cell, more than an import takes from a sheet."""
BLOCK_CELLS: Final = 40_000
_LONGEST_SHOWN: Final = 60
"""Letters of a strange heading that are shown."""
_HASH: Final = late_pattern(r"[0-9a-f]{64}")
_PACKED: Final = 1
"""How hard a kept file is packed, as an import does."""
_MENDED: Final = (
    "An export is a picture of a database and is not edited by hand. Type the change with 'bevelbook record', or bring "
    "the rows in with 'bevelbook import FILE'; or export again. Nothing was changed."
)


class ReadExport(NamedTuple):
    """What was read: the step of its schema, whether it is invented, that it is a part, and its rows by table."""

    step: int
    invented: bool
    part: ExportPart | None
    rows: Mapping[str, int]


class _Stated(NamedTuple):
    """What the description says of a file."""

    rows: int
    byte_count: int
    sha256: str


def read_export(
    folder: Path, aside: Path, *, indexed: bool = False, steps: Sequence[SchemaStep] | None = None
) -> ReadExport:
    """Read an export into a new database file ``aside``, of this version's tables without triggers and views; an
    export of an older step is upgraded as an older database is. Its indexes are those of the keys and the past, and
    with ``indexed`` all others too.

    Raises DatabaseError for anything that an export of ours does not have; then there is no file ``aside``.
    """
    try:
        with room_for_copy(aside.parent), _removed_on_fault(aside), _long_cells():
            return _Reader(folder, aside, steps, indexed=indexed).read()
    except OSError as fault:
        raise DatabaseError(
            "the export cannot be read",
            code="not_readable",
            place=Place(str(fault.filename or folder)),
            found=fault.strerror or "",
            remedy="Copy the folder whole to your own disk. Nothing was changed.",
        ) from fault


class _Reader:
    def __init__(self, folder: Path, aside: Path, steps: Sequence[SchemaStep] | None, *, indexed: bool) -> None:
        self.indexed = indexed
        self.source = ExportSource(folder)
        self.folder = folder
        self.aside = aside
        self.steps = steps
        self.last = max(step.number for step in steps) if steps else LAST_STEP

    def read(self) -> ReadExport:
        said = self._described()
        step, invented, part = self._ours(said)
        stated = self._stated(said)
        with closing(clean_database(self.aside, step, steps=self.steps, indexed=False)) as connection:
            tables = _tables(connection)
            self._refuse_other_files(stated, tables, part)
            connection.execute("BEGIN")
            for table in tables:
                if table in stated:
                    self._fill(connection, table, stated[table])
            self._refuse_dangling(connection)
            if invented:
                mark_invented(connection)
            connection.execute("COMMIT")
            if self.steps is not None or step != LAST_STEP:
                migrate(connection, steps=self.steps)
                drop_triggers_and_views(connection)
            else:
                add_indexes(connection, of_history_only=not self.indexed)
        return ReadExport(step, invented, part, {name: one.rows for name, one in stated.items()})

    # What the folder says of itself

    def _described(self) -> dict[str, Any]:
        with self.source.opened(DESCRIPTOR) as (file, size):
            if size > LONGEST_DESCRIPTOR_BYTES:
                raise self.source.fault("it is larger than any that is written", "export_damaged", DESCRIPTOR, AGAIN)
            try:
                said = json.loads(file.read(LONGEST_DESCRIPTOR_BYTES).decode())
            except (ValueError, RecursionError) as fault:
                raise self.source.fault("it is not JSON", "export_damaged", DESCRIPTOR, AGAIN) from fault
        if not isinstance(said, dict) or not isinstance(said.get(OURS), dict):
            raise self.source.fault(
                "this is not an export of bevelbook",
                "not_an_export",
                DESCRIPTOR,
                "Bring notes in with 'bevelbook import FILE'. Nothing was changed.",
            )
        return said

    def _ours(self, said: dict[str, Any]) -> tuple[int, bool, ExportPart | None]:
        ours = said[OURS]
        step, invented, part = ours.get(STEP), ours.get(INVENTED), ours.get(PART)
        if type(step) is not int or type(invented) is not bool or step < FIRST_STEP:
            raise self.source.fault("what it says of its version cannot be read", "export_damaged", DESCRIPTOR, AGAIN)
        if step > self.last:
            raise self.source.fault(
                f"this export was made by a newer version (step {step}, this one knows {self.last})",
                "export_newer",
                DESCRIPTOR,
                "Update bevelbook. Nothing was changed.",
            )
        if part is None:
            return step, invented, None
        since, with_files = (part.get("since"), part.get("with_files")) if isinstance(part, dict) else (None, None)
        if type(since) is not str or len(since) > 30 or type(with_files) is not bool:
            raise self.source.fault("what it says of its part cannot be read", "export_damaged", DESCRIPTOR, AGAIN)
        return step, invented, ExportPart(since, with_files)

    def _stated(self, said: dict[str, Any]) -> dict[str, _Stated]:
        resources = said.get("resources")
        found: dict[str, _Stated] = {}
        for one in resources if isinstance(resources, list) else ():
            name, path, rows, size, hashed = (
                (one.get(key) for key in ("name", "path", "rows", "bytes", "hash"))
                if isinstance(one, dict)
                else [None] * 5
            )
            if type(name) is not str or type(path) is not str or path != f"{name}.csv" or name in found:
                raise self.source.fault(
                    "it names a file that an export does not have", "export_files", DESCRIPTOR, AGAIN, str(path)
                )
            hash_is_right = type(hashed) is str and hashed[:7] == "sha256:" and _HASH.fullmatch(hashed[7:])
            if type(rows) is not int or type(size) is not int or not hash_is_right:
                raise self.source.fault(
                    "rows, bytes or hash of a file cannot be read", "export_damaged", DESCRIPTOR, AGAIN, path
                )
            found[name] = _Stated(rows, size, str(hashed)[7:])
        return found

    def _refuse_other_files(
        self, stated: Mapping[str, _Stated], tables: Sequence[str], part: ExportPart | None
    ) -> None:
        """Raise DatabaseError unless the folder has exactly the files of the tables."""
        without = {NOTE_BYTES, PICTURE_BYTES} if part and not part.with_files else set()
        needed = {table for table in tables if table not in without}
        unknown = sorted(set(stated) - needed)
        if unknown:
            raise self.source.fault(
                "it describes a table that this version does not know", "export_files", DESCRIPTOR, AGAIN, unknown[0]
            )
        there = self.source.entries()
        for entry in there.values():
            self.source.refuse_link(entry, is_folder=entry.name in (FILES, PICTURES))
        wanted = {DESCRIPTOR, *(f"{table}.csv" for table in needed)}
        others = sorted(set(there) - wanted - {FILES, PICTURES})
        missing = sorted((wanted - set(there)) | {f"{table}.csv" for table in needed - set(stated)})
        if missing:
            renamed = f"; {others[0]} is there instead" if others else ""
            raise self.source.fault(
                f"{missing[0]} is missing{renamed}",
                "export_files",
                None,
                AGAIN.replace("Have", "Name it as it was, or have"),
            )
        if others:
            raise self.source.fault(
                "there is a file that does not belong to an export",
                "export_files",
                others[0],
                "Take it out of the folder. Nothing was changed.",
            )

    # The rows

    def _fill(self, connection: sqlite3.Connection, table: str, stated: _Stated) -> None:
        name = f"{table}.csv"
        with self.source.opened(name) as (file, size):
            self._refuse_mended(file, size, stated, name)
            file.seek(0)
            text = io.TextIOWrapper(file, encoding="utf-8", newline="")
            try:
                count = self._fill_from(connection, table, name, text)
            except UnicodeDecodeError as fault:
                raise self.source.fault(
                    "it is not UTF-8", "export_value", name, _MENDED, line=_line_not_utf8(file)
                ) from fault
            finally:
                text.detach()
        if count != stated.rows:
            raise self.source.fault(
                f"it has {count} rows, and {stated.rows} were written", "export_mended", name, _MENDED
            )

    def _refuse_mended(self, file: BufferedReader, size: int, stated: _Stated, name: str) -> None:
        if size != stated.byte_count or hashlib.file_digest(file, "sha256").hexdigest() != stated.sha256:
            raise self.source.fault("it was changed after it was written", "export_mended", name, _MENDED)

    def _fill_from(self, connection: sqlite3.Connection, table: str, name: str, text: io.TextIOWrapper) -> int:
        columns, types, taken = _columns(connection, table)
        names_line = text.readline()
        if names_line != heading_line(columns):
            raise self._other_columns(name, columns, names_line)
        into = f"INSERT INTO {quoted(taken[0])} ({', '.join(map(quoted, taken[1]))}) VALUES ({_marks(len(taken[1]))})"
        reader = csv.reader(text, strict=True)
        count = 0
        for line, block in self._blocks(reader, name, len(columns)):
            values = self._values(block, columns, types, name, line)
            if table == NOTE_BYTES:
                values = list(self._note_files(values))
            elif table == PICTURE_BYTES:
                values = list(self._pictures(values))
            self._insert(connection, into, values, block, name, line)
            count += len(block)
        if table in (NOTE_BYTES, PICTURE_BYTES):
            self._refuse_unlisted(connection, table)
        return count

    def _blocks(self, reader: Any, name: str, width: int) -> Iterator[tuple[int, list[list[str]]]]:
        """The rows by blocks, each with the line of its first row."""
        size = max(1, BLOCK_CELLS // width)
        while True:
            line = reader.line_num + 2
            try:
                block = list(islice(reader, size))
            except csv.Error as fault:
                raise self.source.fault(
                    f"this line cannot be read: {fault}", "export_value", name, _MENDED, line=reader.line_num + 1
                ) from fault
            if not block:
                return
            if {*map(len, block)} != {width}:
                place = next(place for place, row in enumerate(block) if len(row) != width)
                what = f"a row has {len(block[place])} cells, and {width} are needed"
                at = line + sum(map(_height, block[:place]))
                raise self.source.fault(what, "export_value", name, _MENDED, line=at)
            yield line, block

    def _values(
        self, block: list[list[str]], columns: Sequence[str], types: Sequence[CellType], name: str, line: int
    ) -> list[tuple[Any, ...]]:
        found = []
        for column, cell_type, cells in zip(columns, types, zip(*block, strict=True), strict=True):
            try:
                found.append(values_of_column(cells, cell_type))
            except CellError as fault:
                at = line + sum(map(_height, block[: fault.place]))
                raise self.source.fault(
                    str(fault), "export_value", name, _MENDED, cells[fault.place], line=at, column=column
                ) from fault
        return list(zip(*found, strict=True))

    def _insert(
        self,
        connection: sqlite3.Connection,
        into: str,
        values: Sequence[Sequence[object]],
        block: list[list[str]],
        name: str,
        line: int,
    ) -> None:
        before = connection.total_changes
        try:
            connection.executemany(into, values)
        except (sqlite3.IntegrityError, sqlite3.DataError, OverflowError) as fault:
            place = connection.total_changes - before
            at = line + sum(map(_height, block[:place]))
            raise self.source.fault(
                f"a row that no database of this version can hold ({fault})", "export_value", name, _MENDED, line=at
            ) from fault

    def _refuse_dangling(self, connection: sqlite3.Connection) -> None:
        """Raise DatabaseError for a reference to a row that is not there."""
        row = connection.execute("PRAGMA foreign_key_check").fetchone()
        if row is not None:
            table, rowid, target, _ = row
            raise self.source.fault(
                f"this row refers to a row of {target} that is not there",
                "export_reference",
                f"{table}.csv",
                "Ask for an export made from the database after 'bevelbook check'. Nothing was changed.",
                line=self._line_of(f"{table}.csv", rowid),
            )

    def _line_of(self, name: str, row: int) -> int:
        """The first line of a row, counted from 1; the rows of a table are in the order of its file."""
        with self.source.opened(name) as (file, _):
            text = io.TextIOWrapper(file, encoding="utf-8", newline="")
            before = sum(_height(one) for one in islice(csv.reader(text), row))
            text.detach()
        return before + 1

    # Kept files and pictures

    def _note_files(self, rows: Sequence[tuple[Any, ...]]) -> Iterator[tuple[object, ...]]:
        for sha256, size in rows:
            packer, packed = zlib.compressobj(_PACKED), []
            for chunk in self.source.checked(FILES, self._hash_of(sha256, NOTE_BYTES), "", sha256, size):
                packed.append(packer.compress(chunk))
            yield sha256, b"".join([*packed, packer.flush()])

    def _pictures(self, rows: Sequence[tuple[Any, ...]]) -> Iterator[tuple[object, ...]]:
        for sha256, size, small_sha256, small_size in rows:
            name = self._hash_of(sha256, PICTURE_BYTES)
            jpeg = b"".join(self.source.checked(PICTURES, name, ".jpg", sha256, size))
            small = b"".join(self.source.checked(PICTURES, name, SMALL, small_sha256, small_size))
            for one, end in ((jpeg, ".jpg"), (small, SMALL)):
                if signature_of(one).format != "JPEG":
                    raise self.source.fault("it is not a JPEG", "export_value", f"{PICTURES}/{name}{end}", AGAIN)
            yield sha256, small, jpeg

    def _hash_of(self, text: object, table: str) -> str:
        if not isinstance(text, str) or _HASH.fullmatch(text) is None:
            raise self.source.fault(
                "this is not the hash of a file", "export_value", f"{table}.csv", _MENDED, str(text)
            )
        return text

    def _refuse_unlisted(self, connection: sqlite3.Connection, table: str) -> None:
        """Raise DatabaseError for a file in the folder that its table does not list."""
        inside, ends = (FILES, ("",)) if table == NOTE_BYTES else (PICTURES, (SMALL, ".jpg"))
        if not (self.folder / inside).is_dir():
            return
        for name in self.source.entries(inside):
            end = next((one for one in ends if name.endswith(one)), None)
            stem = name.removesuffix(end) if end is not None else ""
            if connection.execute(f"SELECT 1 FROM {table} WHERE sha256 = ?", (stem,)).fetchone() is None:
                raise self.source.fault(
                    "there is a file that does not belong to an export",
                    "export_files",
                    f"{inside}/{name}",
                    "Take it out of the folder. Nothing was changed.",
                )

    def _other_columns(self, name: str, wanted: Sequence[str], line: str) -> DatabaseError:
        found = [text_of(cell) or "" for cell in next(csv.reader([line]), [])]
        missing = [one for one in wanted if one not in found]
        others = [one for one in found if one not in wanted]
        if missing and others:
            what = f"the column {others[0][:_LONGEST_SHOWN]} is there instead of {missing[0]}"
        elif missing:
            what = f"the column {missing[0]} is missing"
        elif others:
            what = f"the column {others[0][:_LONGEST_SHOWN]} does not belong there"
        else:
            what = "the columns stand in another order or twice"
        return self.source.fault(what, "export_columns", name, _MENDED, line=1)


def _tables(connection: sqlite3.Connection) -> list[str]:
    """The tables of an export that a database has, those of files before the rows that need them."""
    held = {row[0] for row in connection.execute("SELECT name FROM main.sqlite_master WHERE type = 'table'")}
    return [table.name for table in exported_tables() if table.name in held]


def _columns(
    connection: sqlite3.Connection, table: str
) -> tuple[tuple[str, ...], tuple[CellType, ...], tuple[str, tuple[str, ...]]]:
    """The columns of a file with their types, and the table and columns that they go into."""
    declared = next(one for one in exported_tables() if one.name == table)
    if table == NOTE_BYTES:
        return declared.names, declared.types, (table, ("sha256", "packed"))
    if table == PICTURE_BYTES:
        return declared.names, declared.types, (table, ("sha256", "thumbnail", "jpeg"))
    held = [(row[1], row[2]) for row in connection.execute(f"PRAGMA main.table_info({quoted(table)})")]
    if declared.kind is None:
        held = [one for one in held if one[0] in declared.names]
    names = tuple(name for name, _ in held)
    return names, tuple(kind for _, kind in held), (table, names)


def _marks(count: int) -> str:
    return ", ".join("?" * count)


def _height(row: Sequence[str]) -> int:
    """How many lines of a file a row takes."""
    return 1 + sum(
        cell.count("\n") + cell.count("\r") - cell.count("\r\n") for cell in row if "\n" in cell or "\r" in cell
    )


def _line_not_utf8(file: BufferedReader) -> int:
    file.seek(0)
    for number, line in enumerate(file, start=1):
        try:
            line.decode()
        except UnicodeDecodeError:
            return number
    return 0


@contextmanager
def _long_cells() -> Iterator[None]:
    before = csv.field_size_limit(LONGEST_CELL)
    try:
        yield
    finally:
        csv.field_size_limit(before)


@contextmanager
def _removed_on_fault(aside: Path) -> Iterator[None]:
    try:
        yield
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
