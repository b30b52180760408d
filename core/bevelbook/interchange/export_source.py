"""The folder of an export as it is read: its files are opened by the names that an export has, never by a name that it
says itself, and nothing but a plain file is opened."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from io import BufferedReader
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.interchange.added_by_computers import is_added_by_computer

AGAIN: Final = "Have it exported again, and the folder copied whole. Nothing was changed."
CHUNK_BYTES: Final = 1 << 20
RESCUED_IN: Final = "export"
"""The folder that has the export, in what was saved of a damaged file."""


class ExportSource:
    """The folder, its files, and faults that name them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def entries(self, inside: str = "") -> dict[str, os.DirEntry[str]]:
        """What lies in the folder, or in one of its folders, by name; without what a computer adds by itself."""
        with os.scandir(self.folder / inside) as found:
            return {entry.name: entry for entry in found if not is_added_by_computer(entry.name)}

    @contextmanager
    def opened(self, name: str) -> Iterator[tuple[BufferedReader, int]]:
        """A file of the folder, opened to read, and its size; never a link, and nothing but a plain file."""
        path = self.folder / name
        if path.is_symlink() or (path.parent.is_symlink() and path.parent != self.folder):
            raise self.fault(
                "it is a link to somewhere else", "export_link", name, "Put the file itself there. Nothing was changed."
            )
        if not path.exists():
            inside = self.folder / RESCUED_IN
            again = f"Name the folder in it: {inside}. Nothing was changed." if (inside / name).exists() else AGAIN
            raise self.fault(f"{name} is missing", "export_files", None, again)
        flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        with os.fdopen(os.open(path, flags), "rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode):
                raise self.fault("it is not a plain file", "export_files", name, AGAIN)
            yield file, found.st_size

    def checked(self, inside: str, name: str, end: str, sha256: object, size: object) -> Iterator[bytes]:
        """The bytes of a file, piece by piece. Raises DatabaseError unless they are those of the hash."""
        hashed, count = hashlib.sha256(), 0
        with self.opened(f"{inside}/{name}{end}") as (file, file_size):
            while file_size == size and (chunk := file.read(CHUNK_BYTES)):
                hashed.update(chunk)
                count += len(chunk)
                yield chunk
        if count != size or hashed.hexdigest() != sha256:
            raise self.fault("it was changed after it was written", "export_mended", f"{inside}/{name}{end}", AGAIN)

    def refuse_link(self, entry: os.DirEntry[str], *, is_folder: bool) -> None:
        if entry.is_symlink():
            raise self.fault(
                "it is a link to somewhere else",
                "export_link",
                entry.name,
                "Put the file itself there. Nothing was changed.",
            )
        if entry.is_dir(follow_symlinks=False) != is_folder or not (is_folder or entry.is_file(follow_symlinks=False)):
            raise self.fault("it is not what an export has there", "export_files", entry.name, AGAIN)

    def fault(
        self,
        what: str,
        code: str,
        name: str | None,
        remedy: str,
        found: str | None = None,
        *,
        line: int | None = None,
        column: str | None = None,
    ) -> DatabaseError:
        path = self.folder / name if name else self.folder
        return DatabaseError(what, code=code, place=Place(str(path), line, column), found=found, remedy=remedy)
