"""Where else something that was erased may be, as far as this computer can know: files beside the database, its copies
on this computer and on sticks, the sheets that it came from, and the laptops of those who wrote."""

from __future__ import annotations

import shlex
import sqlite3
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, suppress
from io import BytesIO
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.backup.copies_noted import CopiesNoted, NotedCopy
from bevelbook.backup.copies_there import sort_of
from bevelbook.declare.errors import DatabaseError
from bevelbook.display.clock import local_time
from bevelbook.interchange.export_folder import is_export
from bevelbook.notes.rejects import rejects_path
from bevelbook.reading.names_in_texts import forms_of, keys_of_name_word, words_of
from bevelbook.saving.erasing import ToErase
from bevelbook.store.blanking import blanked_in, bytes_to_go, holds_erased, marks_with
from bevelbook.store.blanking_rules import Blanking, CannotBeSearched, squashed, texts_of_file
from bevelbook.store.book_mark import known_mark
from bevelbook.store.closed_file import BESIDE, log_of
from bevelbook.store.schema import APPLICATION_ID

_LARGEST_BYTES: Final = 64_000_000
"""Larger files, unless they are databases, are not looked through."""
_MOST_FILES: Final = 2_000
"""Files that are looked at in one folder, at most."""
_LEAST_LETTERS: Final = 4
_SQLITE: Final = b"SQLite format 3\0"
_PICTURES: Final = (b"\xff\xd8\xff", b"\x89PNG", b"GIF8", b"RIFF", b"II*\0", b"MM\0*")
_OURS: Final = b"bevelbook"
_EDITION: Final = "edition.json"
_IMPORT: Final = "import"


class HeldFile(NamedTuple):
    """A file or a folder that holds it, or may hold it: what it is, in words, and whether that was seen."""

    path: Path
    what: str
    is_seen: bool

    def as_dict(self) -> dict[str, Any]:
        """The file for programs."""
        return {"path": str(self.path), "what": self.what, "seen": self.is_seen}


class SheetOfNotes(NamedTuple):
    """A file of notes that had it when it was brought in: its name, on which day, and where it lies, if it is found."""

    name: str
    read_on: str
    path: Path | None

    @property
    def words(self) -> str:
        """The sheet, in words."""
        where = f", still there: {self.path}" if self.path else ""
        return f"{self.name} (brought in {self.read_on}{where})"

    def as_dict(self) -> dict[str, Any]:
        """The sheet for programs."""
        return {"name": self.name, "read_on": self.read_on, "path": str(self.path) if self.path else None}


class HeldElsewhere(NamedTuple):
    """What is known of where it still is, or may be."""

    files: tuple[HeldFile, ...]
    away: tuple[NotedCopy, ...]
    """Copies that were made on this computer, whose folder is not there now."""
    sheets: tuple[SheetOfNotes, ...]
    writers: tuple[str, ...]
    """Who else wrote in this book: they may have laptops that hold it."""
    not_looked: int

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "files": [one.as_dict() for one in self.files],
            "backups_not_there_now": [{"path": str(one.path), "made_at": one.made_at} for one in self.away],
            "sheets": [one.as_dict() for one in self.sheets],
            "others_who_wrote": list(self.writers),
            "files_not_looked_at": self.not_looked,
        }


class Traces(NamedTuple):
    """What the database itself says of where it came from: read before it is erased."""

    book: str | None
    sheets: tuple[SheetOfNotes, ...]
    writers: tuple[str, ...]


def traces_of(connection: sqlite3.Connection, path: Path, wanted: ToErase, by: str | None) -> Traces:
    """The sheets that have it, and who else wrote, ``by`` aside. Raises sqlite3.Error."""
    own = {folded for name in (*wanted.names, by or "") if (folded := name.casefold())}
    people = connection.execute("SELECT DISTINCT made_by FROM entries WHERE made_by IS NOT NULL ORDER BY 1")
    writers = {str(row[0]).casefold(): str(row[0]) for row in people.fetchall()}
    blank = Blanking(wanted.marks)
    others = [name for folded, name in sorted(writers.items()) if folded not in own and blank.who(name) == name]
    return Traces(known_mark(connection), tuple(_sheets(connection, path, wanted)), tuple(others))


def _sheets(connection: sqlite3.Connection, path: Path, wanted: ToErase) -> Iterator[SheetOfNotes]:
    """Of files whose bytes went before, nobody knows what else they had: all that were erased are named."""
    marks = marks_with(connection, wanted.marks)
    gone = Blanking(marks).files
    seen: set[str] = set()
    for name, sha256, read_at, asked in connection.execute(
        "SELECT f.name, f.sha256, f.read_at, e.asked FROM note_files f LEFT JOIN entries e ON e.id = f.entry "
        "ORDER BY f.read_at, f.id"
    ).fetchall():
        if sha256 in gone and sha256 not in seen:
            seen.add(sha256)
            at = local_time(read_at)
            yield SheetOfNotes(name, f"{at:%Y-%m-%d}" if at else read_at, _found_sheet(path, name, asked or ""))


def _found_sheet(path: Path, name: str, asked: str) -> Path | None:
    """Where a sheet lies: as it was named when it was brought in, or beside the database."""
    try:
        words = shlex.split(asked)
    except ValueError:
        words = []
    typed = [Path(word) for word in words if _IMPORT in words and Path(word).name == name]
    for one in (*typed, *(path.parent / word for word in typed), path.parent / name):
        with suppress(OSError):
            if one.is_file():
                return one.absolute()
    return None


def held_elsewhere(path: Path, wanted: ToErase, traces: Traces, settings: Path) -> HeldElsewhere:
    """Look into the files beside the database, into its copies, wherever this computer put some, and into what lies
    beside its sheets. A file that cannot be read counts as one that may hold it."""
    noted: list[NotedCopy] = []
    with suppress(DatabaseError):  # a list that cannot be used is said by whoever makes a copy
        noted = CopiesNoted(settings).of_book(traces.book) if traces.book else []
    looking = _LooksInto(path, wanted)
    files = {one.path: one for one in looking.in_folder(path.absolute().parent)}
    sheets = [one.path for one in traces.sheets if one.path]
    for file in (*(one.path for one in noted), *(beside for one in sheets for beside in (one, rejects_path(one)))):
        with suppress(OSError):
            if file.is_file() and not any(file.samefile(one) for one in files):
                found = looking.at_file(file)
                files |= {found.path: found} if found else {}
    away = [one for one in noted if one.may_be_there and not _is_there(one.path)]
    listed = tuple(files[one] for one in sorted(files))
    return HeldElsewhere(listed, tuple(away), traces.sheets, traces.writers, looking.not_looked)


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:
        return False


class _LooksInto:
    """Looks for a name, a text or a picture in files of every kind that the tool writes."""

    def __init__(self, path: Path, wanted: ToErase) -> None:
        self._path = path
        self._blank = Blanking(wanted.marks)
        texts = {squashed(one) for one in wanted.raw - set(wanted.names)}
        self._texts = {one for one in texts if len(one) >= _LEAST_LETTERS}
        names = wanted.raw & set(wanted.names)
        alone = {word for one in names for word in words_of(one) if self._blank.text(word.title()) != word.title()}
        first = {words_of(one)[0] for one in names}
        self._words = {key for word in first | alone for key in (word, *keys_of_name_word(word))}
        self.not_looked = 0

    def in_folder(self, folder: Path) -> Iterator[HeldFile]:
        """The files of a folder that hold it, and exports and editions that do, each as one."""
        own = {self._path.name, *(f"{self._path.name}{end}" for end in BESIDE)}
        try:
            found = sorted(folder.iterdir())
        except OSError:
            yield HeldFile(folder, "folder that cannot be read", False)
            return
        self.not_looked += max(len(found) - _MOST_FILES, 0)
        for one in found[:_MOST_FILES]:
            if one.name in own or one.is_symlink():
                continue
            held = self._at_folder(one) if one.is_dir() else self.at_file(one) if one.is_file() else None
            if held is not None:
                yield held

    def _at_folder(self, folder: Path) -> HeldFile | None:
        try:
            is_edition = (folder / _EDITION).is_file()
            if not is_edition and not is_export(folder):
                return None
            what = "edition" if is_edition else "export"
            files = [one for one in sorted(folder.rglob("*"))[:_MOST_FILES] if one.is_file()]
        except OSError:
            return None
        found = [held for one in files if (held := self.at_file(one))]
        return HeldFile(folder, what, any(one.is_seen for one in found)) if found else None

    def at_file(self, file: Path) -> HeldFile | None:
        """That file, if it holds it or may hold it."""
        what = self._what(file)
        try:
            if file.stem.removesuffix(".small") in self._blank.pictures:
                return HeldFile(file, "picture", True)
            with file.open("rb") as stream:
                head = stream.read(100)
            if head.startswith(_SQLITE):
                is_held = self._in_database(file, head)
            elif file.stat().st_size > _LARGEST_BYTES:
                is_held = None if file.name.startswith(self._path.stem) else False
            else:
                is_held = self._in_bytes(file.read_bytes())
        except OSError:
            return HeldFile(file, what, False)
        return None if is_held is False else HeldFile(file, what, is_held is True)

    def _what(self, file: Path) -> str:
        sort = sort_of(file.name, self._path)
        if sort is not None:
            return "backup" if sort == "dated" else f"database {sort}"
        ending = file.suffix.lower()
        return {".db": "database", ".zip": "zip", ".csv": "sheet", ".xlsx": "sheet", ".pdf": "PDF"}.get(ending, "file")

    def _in_database(self, file: Path, head: bytes) -> bool | None:
        """Whether a database holds it; None where that cannot be seen."""
        if log_of(file).exists():  # read as well, without a file of our own beside it
            uri = f"{file.absolute().as_uri()}?mode=ro"
        else:
            uri = f"{file.absolute().as_uri()}?immutable=1"
        if int.from_bytes(head[68:72], "big") == APPLICATION_ID:
            with suppress(sqlite3.Error), closing(sqlite3.connect(uri, uri=True)) as connection:
                return self._in_records(connection)
        return self._in_plain(file.read_bytes())

    def _in_records(self, connection: sqlite3.Connection) -> bool:
        """By the same rules by which it is erased. Raises sqlite3.Error for a database of an older version."""
        if next(blanked_in(connection, self._blank), None) is not None or any(bytes_to_go(connection, self._blank)):
            return True
        packed = connection.execute("SELECT packed FROM note_bytes ORDER BY sha256")
        return any(holds_erased(row[0], self._blank, self._texts) for row in packed)

    def _in_plain(self, data: bytes) -> bool | None:
        """One of another program or an older version, by its bytes; kept files in it are packed, and not seen."""
        low = data.lower()
        names = [one for one in self._words if len(one) >= _LEAST_LETTERS]
        said = squashed(data.decode("utf-8", "replace")) if self._texts else ""
        if any(one.encode() in low for one in names) or any(one in said for one in self._texts):
            return True
        return None if _OURS in low or len(names) < len(self._words) else False

    def _in_bytes(self, data: bytes) -> bool | None:
        if data.startswith(_PICTURES):
            return False
        if data.startswith(b"%PDF"):
            return None if _OURS in data else False
        try:
            if data.startswith(b"PK"):
                return self._in_zip(data)
            return self._in_texts(data)
        except CannotBeSearched:
            return None

    def _in_texts(self, data: bytes) -> bool:
        """Raises CannotBeSearched."""
        for text in texts_of_file(data):
            forms = forms_of(text)
            if (
                any(one in form for one in self._words for form in forms)
                and self._blank.text(text, all_names=True) != text
            ):
                return True
            if self._texts and any(one in squashed(text) for one in self._texts):
                return True
        return False

    def _in_zip(self, data: bytes) -> bool | None:
        """A workbook by its parts together; another zip member by member. Raises CannotBeSearched."""
        try:
            with zipfile.ZipFile(BytesIO(data)) as packed:
                members = packed.infolist()
                if any(Path(one.filename).stem.removesuffix(".small") in self._blank.pictures for one in members):
                    return True
                databases = [one for one in members if one.filename.endswith(".db") and one.file_size < _LARGEST_BYTES]
                for one in databases:
                    with closing(sqlite3.connect(":memory:")) as connection:
                        connection.deserialize(packed.read(one))
                        if self._in_records(connection):
                            return True
        except (zipfile.BadZipFile, zlib.error, OSError, RuntimeError, ValueError, EOFError, sqlite3.Error) as fault:
            raise CannotBeSearched(str(fault)) from fault
        return self._in_texts(data)
