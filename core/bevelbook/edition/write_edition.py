"""The folder of an edition: the dated database file, what Datasette shows of it, the charts, and how to serve it.

It is made beside its place and takes it when it is whole. An earlier edition of the same book there is replaced.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import stat
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.edition.edition_copy import EditionCopy
from bevelbook.edition.edition_metadata import EditionSaid, charts_json, metadata_json
from bevelbook.edition.edition_readme import readme
from bevelbook.interchange.added_by_computers import is_added_by_computer
from bevelbook.interchange.export_folder import put_in_place, unfinished_folder
from bevelbook.plugin.registry import Registry
from bevelbook.store.edition_folder import EDITION_FILE, said_in

README: Final = "README.md"
METADATA: Final = "metadata.json"
CHARTS: Final = "charts.json"
_DATED: Final = late_pattern(r"(.+)-\d{4}-\d{2}-\d{2}")
_FILE: Final = stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH
_FOLDER: Final = stat.S_IRWXU | stat.S_IRGRP | stat.S_IXGRP | stat.S_IROTH | stat.S_IXOTH


class WrittenEdition(NamedTuple):
    """An edition that was written: its folder and database file, with the size and hash of that, and the edition that
    it took the place of, if there was one."""

    folder: Path
    file: Path
    byte_count: int
    sha256: str
    replaced: str | None


def book_of(path: Path, *, is_edition: bool) -> str:
    """The name of a book: that of its file; of an edition without its day.

    >>> book_of(Path("season.db"), is_edition=False), book_of(Path("season-2026-05-24.db"), is_edition=True)
    ('season', 'season')
    """
    found = _DATED.fullmatch(path.stem) if is_edition else None
    return found[1] if found else path.stem


def write_edition(
    copy: EditionCopy,
    folder: Path,
    registry: Registry,
    *,
    book: str,
    day: date,
    said: EditionSaid,
    also: Callable[[Path, Path], None] | None = None,
) -> WrittenEdition:
    """Write the folder of an edition of that book and day; ``also`` is called with its database file and the folder
    before it takes its place, and may put more into it.

    Raises DatabaseError for a place that holds anything but an edition of this book, and where it cannot be written.
    Then nothing is changed.
    """
    replaced = edition_there(folder, book)
    name = f"{book}-{day.isoformat()}"
    try:
        with unfinished_folder(folder, lambda place: refuse_unless_edition(place, book)) as made:
            file = made / f"{name}.db"
            copy.write_file(file)
            content = hashlib.sha256()
            with file.open("rb") as stream:
                while block := stream.read(1 << 20):
                    content.update(block)
            size = file.stat().st_size
            _write(made / METADATA, metadata_json(copy, name, day, said))
            _write(made / CHARTS, charts_json(registry))
            _write(made / README, readme(copy, book, name, day, said))
            file.chmod(_FILE)
            if also is not None:
                also(file, made)
            names = sorted({*(one.name for one in made.iterdir()), EDITION_FILE})
            _write(made / EDITION_FILE, _described(copy, book, day, names, content.hexdigest()))
            made.chmod(_FOLDER)
            put_in_place(made, folder)
    except OSError as fault:
        raise DatabaseError(
            "the edition cannot be written there",
            code="not_writable",
            place=Place(str(folder)),
            found=fault.strerror,
            remedy="Choose another place, or make room. Nothing was changed.",
        ) from fault
    return WrittenEdition(folder, folder / f"{name}.db", size, content.hexdigest(), replaced)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
    path.chmod(_FILE | stat.S_IWUSR)


def _described(copy: EditionCopy, book: str, day: date, names: list[str], sha256: str) -> str:
    said = {
        "bevelbook_edition": 1,
        "book": book,
        "day": day.isoformat(),
        "without": sorted(copy.without),
        "invented": copy.invented,
        "sqlite": sqlite3.sqlite_version,
        "sha256": sha256,
        "files": names,
    }
    return json.dumps(said, ensure_ascii=False, indent=2) + "\n"


def edition_there(folder: Path, book: str) -> str | None:
    """The day of the edition of this book that is in a folder; None where there is none."""
    found = said_in(folder)
    return str(found["day"]) if found is not None and found.get("book") == book else None


def refuse_unless_edition(folder: Path, book: str) -> None:
    """Raise DatabaseError unless there is nothing at that place, an empty folder, or an edition of this book and
    nothing else."""
    if not folder.exists():
        return
    found = "a file"
    if folder.is_dir():
        names = sorted(one.name for one in folder.iterdir() if not is_added_by_computer(one.name))
        if not names:
            return
        held = said_in(folder)
        if held is not None and held.get("book") == book:
            others = [name for name in names if name not in held["files"]]
            if not others:
                return
            found = others[0]
        else:
            found = f"an edition of {held['book']}" if held is not None else names[0]
    raise DatabaseError(
        "there is something else than an edition of this database",
        code="not_an_edition",
        place=Place(str(folder)),
        found=found,
        remedy="Name a new folder, or an earlier edition of this database to be replaced. Nothing was changed.",
    )
