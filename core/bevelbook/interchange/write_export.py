"""A database as a folder of open files, the same bytes for the same content.

The rows go from the database to the file in blocks, so that memory does not grow with them. The folder is made beside
the one that is asked for and takes its name at the end: whoever stops it on the way leaves no half export.
"""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import IO, Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.interchange.csv_cells import NUL, csv_lines, heading_line
from bevelbook.interchange.descriptor import DESCRIPTOR, ExportPart, FileFacts, descriptor_text
from bevelbook.interchange.export_folder import FILES, PICTURES, SMALL, put_in_place, unfinished_folder
from bevelbook.interchange.exported_tables import (
    HISTORY,
    NOTE_BYTES,
    PICTURE_BYTES,
    ExportTable,
    exported_tables,
)
from bevelbook.records import BY_TABLE
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.known_versions import HistoryRow, history_in_order
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.schema import quoted
from bevelbook.store.sqlite_errors import explained
from bevelbook.store.text_not_utf8 import is_undecoded, undecoded

BLOCK_CELLS: Final = 40_000
"""Cells that are in memory at once."""
_CHUNK_BYTES: Final = 1 << 20


class WrittenExport(NamedTuple):
    """An export that was written: its rows by table, the files of notes and the pictures in it, its size, the hashes of
    files and pictures that are not in the database or are not what was kept, and whether all of it is invented."""

    folder: Path
    rows: Mapping[str, int]
    byte_count: int
    missing: tuple[str, ...]
    invented: bool


def write_export(
    connection: sqlite3.Connection, path: Path, folder: Path, *, part: ExportPart | None = None
) -> WrittenExport:
    """Write all that a database holds into a folder, in place of an earlier export there.

    ``path`` names the database in errors; the connection may be read-only, and is read as of one moment. Raises
    DatabaseError for a folder that holds anything else, for a text that no CSV file can hold, and where it cannot be
    written; then nothing is changed.
    """
    try:
        with unfinished_folder(folder) as made:
            written = write_files(connection, path, made, part=part)
            put_in_place(made, folder)
    except OSError as fault:
        raise DatabaseError(
            "the export cannot be written there",
            code="not_writable",
            place=Place(file=str(folder)),
            found=fault.strerror,
            remedy="Choose another place, or make room. Nothing was changed.",
        ) from fault
    return written._replace(folder=folder)


def write_files(
    connection: sqlite3.Connection, path: Path, folder: Path, *, part: ExportPart | None = None
) -> WrittenExport:
    """The same into an empty folder that is there; what is written of it when it fails stays."""
    cursor = connection.cursor()
    cursor.row_factory = None
    try:
        if not connection.in_transaction:
            cursor.execute("BEGIN")
            try:
                return _Writer(connection, cursor, path, folder, part).write()
            finally:
                connection.rollback()
        return _Writer(connection, cursor, path, folder, part).write()
    except sqlite3.Error as fault:
        if is_undecoded(fault):
            raise undecoded(connection, path) from fault
        raise explained(fault, path) from fault


class _Writer:
    def __init__(
        self,
        connection: sqlite3.Connection,
        cursor: sqlite3.Cursor,
        path: Path,
        folder: Path,
        part: ExportPart | None,
    ) -> None:
        self.connection = connection
        self.cursor = cursor
        self.path = path
        self.folder = folder
        self.part = part
        self.missing: list[str] = []
        self.bytes_of_files = 0

    def write(self) -> WrittenExport:
        files: dict[str, FileFacts] = {}
        whole = set()
        with_files = self.part is None or self.part.with_files
        for table in exported_tables():
            if table.name in (NOTE_BYTES, PICTURE_BYTES):
                if not with_files:
                    continue
                before = len(self.missing)
                rows = self._note_files() if table.name == NOTE_BYTES else self._pictures()
                files[table.name] = self._file(table, rows)
                if len(self.missing) == before:
                    whole.add(table.name)
            else:
                files[table.name] = self._file(table, self._rows(table))
        invented = is_invented(self.connection)
        said = descriptor_text(LAST_STEP, files, invented=invented, part=self.part, whole=frozenset(whole)).encode()
        (self.folder / DESCRIPTOR).write_bytes(said)
        size = len(said) + self.bytes_of_files + sum(one.byte_count for one in files.values())
        rows_of = {name: one.rows for name, one in files.items()}
        return WrittenExport(self.folder, rows_of, size, tuple(self.missing), invented)

    def _file(self, table: ExportTable, blocks: Iterator[Sequence[Sequence[object]]]) -> FileFacts:
        hashed, count, size = hashlib.sha256(), 0, 0
        with (self.folder / table.path).open("xb") as file:

            def put(text: str) -> int:
                data = text.encode()
                hashed.update(data)
                return file.write(data)

            size += put(heading_line(table.names))
            for block in blocks:
                text = csv_lines(block, table.types)
                if NUL in text:
                    raise self._nul(table, block)
                size += put(text)
                count += len(block)
        return FileFacts(count, size, hashed.hexdigest())

    def _rows(self, table: ExportTable) -> Iterator[Sequence[Sequence[object]]]:
        if table.name == HISTORY:
            yield from self._history(table)
            return
        written = self._written_references(table)
        columns = ", ".join(
            f"coalesce((SELECT w.written FROM main.as_written w WHERE w.table_name = '{table.name}' "
            f"AND w.row_id = t.id AND w.column_name = '{name}'), t.{quoted(name)})"
            if name in written
            else f"t.{quoted(name)}"
            for name in table.names
        )
        order = ", ".join(f"t.{quoted(name)}" for name in table.key)
        cursor = self.cursor.execute(f"SELECT {columns} FROM main.{quoted(table.name)} t ORDER BY {order}")
        while block := cursor.fetchmany(max(1, BLOCK_CELLS // len(table.columns))):
            yield block

    def _history(self, table: ExportTable) -> Iterator[Sequence[Sequence[object]]]:
        """The past of each record in the order that follows from its versions, whatever order they came in."""
        cursor = self.cursor.execute(
            f"SELECT {', '.join(table.names)} FROM main.history ORDER BY table_name, row_id, id"
        )
        block: list[Sequence[object]] = []
        for (name, row_id), rows in groupby(cursor, key=itemgetter(0, 1)):
            past: list[HistoryRow] = [row[2:] for row in rows]
            kind = BY_TABLE.get(name)
            in_order = history_in_order(past) if len(past) > 1 and kind is not None and kind.own else past
            block += [(name, row_id, *row) for row in in_order]
            if len(block) * len(table.columns) >= BLOCK_CELLS:
                yield block
                block = []
        if block:
            yield block

    def _written_references(self, table: ExportTable) -> frozenset[str]:
        found = self.cursor.execute(
            "SELECT DISTINCT column_name FROM main.as_written WHERE table_name = ?", (table.name,)
        ).fetchall()
        return frozenset(name for (name,) in found)

    def _note_files(self) -> Iterator[Sequence[Sequence[object]]]:
        """Writes each kept file; yields what is known of it."""
        for sha256, packed in self._kept("note_files", "sha256", NOTE_BYTES, ("packed",)):
            found = None if packed is None else self._unpacked(self._inside(FILES) / sha256, sha256, packed)
            if found is None:
                self.missing.append(sha256)
            else:
                self.bytes_of_files += found
                yield [(sha256, found)]

    def _pictures(self) -> Iterator[Sequence[Sequence[object]]]:
        for sha256, jpeg, thumbnail in self._kept("pictures", "id", PICTURE_BYTES, ("jpeg", "thumbnail")):
            if jpeg is None or hashlib.sha256(jpeg).hexdigest() != sha256:
                self.missing.append(sha256)
                continue
            inside = self._inside(PICTURES)
            (inside / f"{sha256}.jpg").write_bytes(jpeg)
            (inside / f"{sha256}{SMALL}").write_bytes(thumbnail)
            self.bytes_of_files += len(jpeg) + len(thumbnail)
            yield [(sha256, len(jpeg), hashlib.sha256(thumbnail).hexdigest(), len(thumbnail))]

    def _kept(self, table: str, column: str, bytes_table: str, names: Sequence[str]) -> Iterator[tuple[Any, ...]]:
        """Each hash that a table names or that has bytes, in order, with its bytes, which may be missing."""
        hashes = self.connection.cursor()
        hashes.row_factory = None
        hashes.execute(
            f"SELECT {quoted(column)} FROM main.{table} UNION SELECT sha256 FROM main.{bytes_table} ORDER BY 1"
        )
        asked = ", ".join(names)
        for (sha256,) in hashes:
            row = self.cursor.execute(f"SELECT {asked} FROM main.{bytes_table} WHERE sha256 = ?", (sha256,)).fetchone()
            yield (sha256, *(row or (None,) * len(names)))

    def _inside(self, name: str) -> Path:
        inside = self.folder / name
        inside.mkdir(exist_ok=True)
        return inside

    def _unpacked(self, target: Path, sha256: str, packed: bytes) -> int | None:
        """Write the bytes of a kept file; their number, or None, and no file, if they are not those of the hash."""
        hashed, size, unpacker = hashlib.sha256(), 0, zlib.decompressobj()
        try:
            with target.open("xb") as file:
                for chunk in _chunks_of(unpacker, packed, file):
                    hashed.update(chunk)
                    size += len(chunk)
        except zlib.error:
            hashed.update(b"\0")
        if hashed.hexdigest() == sha256:
            return size
        target.unlink()
        return None

    def _nul(self, table: ExportTable, block: Sequence[Sequence[object]]) -> DatabaseError:
        row = next(row for row in block if any(isinstance(one, str) and NUL in one for one in row))
        column = next(name for name, one in zip(table.names, row, strict=True) if isinstance(one, str) and NUL in one)
        return DatabaseError(
            f"the row {row[0]!r} of {table.name} has a character (NUL) that no CSV file can hold",
            code="nul_in_text",
            place=Place(str(self.path), column=f"{table.name}.{column}"),
            remedy="Another program wrote it: correct that text, then try again. Nothing was written.",
        )


def _chunks_of(unpacker: zlib._Decompress, packed: bytes, file: IO[bytes]) -> Iterator[bytes]:
    """Unpacks into the file piece by piece; yields each piece. Raises zlib.error for bytes that are not whole."""
    waiting = packed
    while waiting and not unpacker.eof:
        chunk = unpacker.decompress(waiting, _CHUNK_BYTES)
        waiting = unpacker.unconsumed_tail
        file.write(chunk)
        yield chunk
    if not unpacker.eof:
        raise zlib.error("incomplete")
