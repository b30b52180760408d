"""The folder of an export: made beside its place, put there at once, and known again as one of ours."""

from __future__ import annotations

import json
import os
import shutil
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.interchange.added_by_computers import is_added_by_computer
from bevelbook.interchange.descriptor import DESCRIPTOR, OURS
from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.store.folder_aside import folder_aside

FILES: Final = "files"
PICTURES: Final = "pictures"
SMALL: Final = ".small.jpg"
"""How the name of a small picture ends."""
LONGEST_DESCRIPTOR_BYTES: Final = 8_000_000
_BEFORE: Final = "before"


@contextmanager
def unfinished_folder(folder: Path, refuse: Callable[[Path], None] | None = None) -> Iterator[Path]:
    """A new folder beside that one, gone afterwards unless it was put in its place. What a killed run left there is
    removed. Raises DatabaseError if the place holds anything but an export, or what ``refuse`` lets be replaced, and
    for a link to a place where nothing is."""
    place = Path(os.path.realpath(folder))
    if place.parent.is_dir():
        _restore(place)
    if folder.is_symlink() and not folder.exists():
        raise DatabaseError(
            "this is a link to a place where nothing is",
            code="link_to_nothing",
            place=Place(str(folder)),
            found=str(folder.readlink()),
            remedy="Name another folder, or make the one that the link leads to. Nothing was changed.",
        )
    if not place.parent.is_dir():
        raise DatabaseError(
            "no such folder", code="no_folder", place=Place(str(folder.parent)), remedy="Make it first."
        )
    (refuse or refuse_unless_replaceable)(folder)
    with folder_aside(place.parent) as aside:
        made = aside / place.name
        made.mkdir(mode=stat.S_IRWXU)
        yield made


def put_in_place(made: Path, folder: Path) -> None:
    """Give the finished folder its name; an export that has it is removed then."""
    place = folder.resolve()
    before = _before(place)
    if place.exists():
        place.rename(before)
    made.rename(place)
    shutil.rmtree(before, ignore_errors=True)


def _before(place: Path) -> Path:
    return place.with_name(f".{place.name}.{_BEFORE}")


def _restore(place: Path) -> None:
    """Put right what a run left that was killed while it put its folder in place."""
    before = _before(place)
    if before.is_dir():
        if place.exists():
            shutil.rmtree(before, ignore_errors=True)
        else:
            before.rename(place)


def refuse_unless_replaceable(folder: Path) -> None:
    """Raise DatabaseError unless there is nothing at that place, an empty folder, or an export of ours and nothing
    else."""
    if not folder.exists():
        return
    other = None if folder.is_dir() else "a file"
    if other is None:
        names = sorted(path.name for path in folder.iterdir() if not is_added_by_computer(path.name))
        if not names:
            return
        known = {DESCRIPTOR, FILES, PICTURES, *(table.path for table in exported_tables())}
        other = next((name for name in names if name not in known), None)
        if other is None and not is_export(folder):
            other = names[0]
    if other is not None:
        raise DatabaseError(
            "there is something else than an export of bevelbook",
            code="not_an_export",
            place=Place(str(folder)),
            found=other,
            remedy="Name a new folder, or an earlier export to be replaced. Nothing was changed.",
        )


def is_export(folder: Path) -> bool:
    """Whether a folder says that it is an export of this tool."""
    try:
        if (folder / DESCRIPTOR).stat().st_size > LONGEST_DESCRIPTOR_BYTES:
            return False
        said = json.loads((folder / DESCRIPTOR).read_bytes())
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(said, dict) and isinstance(said.get(OURS), dict)
