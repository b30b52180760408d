"""The one door for whatever a team mate or a stranger sends: a database of this or an older version, the folder of an
export or of an edition, or a zip of one of them."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.meeting.copied_whole import regular_file
from bevelbook.meeting.sound_rows import refuse_unsound
from bevelbook.meeting.unzipped import ONLY_FILE, is_zip, unzipped
from bevelbook.meeting.versions_once import keep_versions_once
from bevelbook.meeting.vetted import CLEAN, vetted
from bevelbook.store.edition_folder import database_in
from bevelbook.store.folder_aside import folder_aside


@contextmanager
def opened_aside(
    path: Path, *, own: Path | None = None, tell: Callable[[str], None] = lambda _line: None
) -> Iterator[Path]:
    """A clean temporary database with what the other one holds, in a folder that is gone afterwards.

    It is of this version's schema, without triggers and views, and nothing of the other side is ever run. ``own`` is
    the database that it is to meet; ``tell`` gets lines for a person: what was left behind, which version it was of.
    Raises DatabaseError for all that cannot be taken as it is; the other side is never changed.
    """
    refuse_itself(path, own)
    if not path.is_dir():
        regular_file(path)
    with folder_aside() as folder:
        yield _clean(path, folder, tell)


def _clean(path: Path, folder: Path, tell: Callable[[str], None]) -> Path:
    if path.is_dir():
        return _from_folder(path, path, folder, tell)
    if not is_zip(path):
        return vetted(path, folder, tell=tell)
    inside = folder / "unpacked"
    inside.mkdir(mode=0o700)
    with in_its_name(path, inside):
        found = unzipped(path, inside)
        if found.is_dir():
            return _from_folder(found, path, folder, tell)
        return vetted(found, folder, tell=tell)


def _from_folder(found: Path, path: Path, folder: Path, tell: Callable[[str], None]) -> Path:
    """Of an edition the database that lies in it; else what an export holds."""
    database = database_in(found)
    return _from_export(found, path, folder) if database is None else vetted(database, folder, tell=tell)


def _from_export(export: Path, path: Path, folder: Path) -> Path:
    from bevelbook.interchange.read_export import read_export

    target = folder / CLEAN
    read_export(export, target)
    with closing(sqlite3.connect(target, isolation_level=None)) as clean:
        refuse_unsound(clean, path)
        keep_versions_once(clean, path)
    return target


@contextmanager
def in_its_name(path: Path, inside: Path) -> Iterator[None]:
    """Errors about what was unpacked name the zip: the folder that it lay in is gone when they are read."""
    try:
        yield
    except DatabaseError as fault:
        file = fault.place.file
        if file is not None and Path(file).is_relative_to(inside):
            below = Path(file).relative_to(inside).as_posix()
            fault.place = fault.place._replace(file=path.name if below in (".", ONLY_FILE) else f"{path.name}, {below}")
        elif file == ONLY_FILE:
            fault.place = fault.place._replace(file=path.name)
        raise


def refuse_itself(path: Path, own: Path | None) -> None:
    """Raise DatabaseError where both are one file, whatever their names."""
    if own is not None and path.exists() and own.exists() and path.samefile(own):
        raise DatabaseError(
            "this is your own database, so there is nothing to bring together",
            code="same_database",
            place=Place(str(path)),
            remedy="Name the one that you were sent.",
        )
