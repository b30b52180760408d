"""An export in a zip, the same bytes for the same content: a part of a database to send, or all of it."""

from __future__ import annotations

import shutil
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import IO, Final, Self

from bevelbook.interchange.descriptor import DESCRIPTOR, ExportPart
from bevelbook.interchange.part import write_part
from bevelbook.interchange.part_words import PartHolds, holds_of
from bevelbook.interchange.since import chosen_since
from bevelbook.interchange.write_export import WrittenExport, write_files
from bevelbook.store.folder_aside import folder_aside

_NO_TIME: Final = (1980, 1, 1, 0, 0, 0)
"""The earliest that a zip can say."""
_UNIX: Final = 3
_PLAIN_FILE: Final = 0o100600 << 16
_PIECE: Final = 1 << 20
_PACKED: Final = frozenset({".jpg"})
"""Endings of files that do not become smaller."""


class PartZip:
    """What was touched since a day, with all that belongs to it, ready to be written; ``holds`` says what it is.

    ``path`` names the database in errors. It lies in a folder aside that is gone afterwards. Raises DatabaseError as an
    export does, and OSError where the disk is full.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path, since: str, *, with_files: bool) -> None:
        self._path = path
        self._said = ExportPart(since, with_files)
        self._until_used = ExitStack()
        with ExitStack() as until_made:
            self._folder = until_made.enter_context(folder_aside())
            with _one_moment(connection):
                chosen = chosen_since(connection, since)
                self.holds: PartHolds = holds_of(connection, chosen, since, with_files=with_files)
                write_part(connection, self._part, chosen, with_files=with_files)
            self._until_used = until_made.pop_all()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._until_used.close()

    @property
    def _part(self) -> Path:
        return self._folder / "part.db"

    def write_into(self, file: IO[bytes]) -> int:
        """Write the zip; returns its bytes."""
        folder = self._folder / "export"
        folder.mkdir()
        with closing(sqlite3.connect(self._part)) as of_part:
            write_files(of_part, self._path, folder, part=self._said)
        zipped = self._folder / "part.zip"
        with zipped.open("xb") as whole:
            zip_folder(folder, whole)
        with zipped.open("rb") as whole:
            shutil.copyfileobj(whole, file, _PIECE)
        return zipped.stat().st_size


def write_whole_zip(connection: sqlite3.Connection, path: Path, file: IO[bytes]) -> WrittenExport:
    """Write all that a database holds as a zip, whose size it returns; the folder is made aside and is gone afterwards.

    Raises DatabaseError as an export does, and OSError where the disk is full.
    """
    with folder_aside() as aside:
        folder, zipped = aside / "export", aside / "whole.zip"
        folder.mkdir()
        written = write_files(connection, path, folder)
        with zipped.open("xb") as whole:
            zip_folder(folder, whole)
        with zipped.open("rb") as whole:
            shutil.copyfileobj(whole, file, _PIECE)
        return written._replace(byte_count=zipped.stat().st_size)


def zip_folder(folder: Path, file: IO[bytes]) -> None:
    """Write an export as a zip: its description first, then all else by name, with no time and no name of a place."""
    found = sorted(one for one in folder.rglob("*") if one.is_file())
    found.sort(key=lambda one: one.name != DESCRIPTOR)
    with zipfile.ZipFile(file, "w") as archive:
        for one in found:
            entry = zipfile.ZipInfo(one.relative_to(folder).as_posix(), _NO_TIME)
            entry.compress_type = zipfile.ZIP_STORED if one.suffix in _PACKED else zipfile.ZIP_DEFLATED
            entry.create_system, entry.external_attr = _UNIX, _PLAIN_FILE
            entry.file_size = one.stat().st_size
            with one.open("rb") as content, archive.open(entry, "w") as target:
                while piece := content.read(_PIECE):
                    target.write(piece)


@contextmanager
def _one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """What is read inside it is of one moment, whatever others write meanwhile."""
    if connection.in_transaction:
        yield
        return
    connection.execute("BEGIN")
    try:
        yield
    finally:
        connection.rollback()
