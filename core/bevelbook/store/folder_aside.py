"""A folder for what is only looked at: nobody else may look into it, and it is gone afterwards.

After a kill it stays; whoever makes the next one removes it. Its owner holds a lock on a file in it as long as it
lives, which the system lets go of however the owner ends.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from time import time
from typing import BinaryIO, Final

from bevelbook.declare.errors import BevelbookError, DatabaseError, Place
from bevelbook.declare.no_room import is_without_room

_BEGINS: Final = "bevelbook-aside-"
_BEING_MADE: Final = "bevelbook-made-"
_HELD: Final = "held"
_OLD_S: Final = 3600.0
_OF_THE_DISK: Final = frozenset({"disk_full", "not_writable"})


@contextmanager
def folder_aside(within: Path | None = None) -> Iterator[Path]:
    """An empty folder of mode 0700 that goes at the end, with whatever is in it.

    It lies ``within`` a folder, else where the system has such. Those that killed processes of the same person left
    there are removed first. Raises OSError where none can be made ``within`` the folder, DatabaseError where the
    system has no place for one. That there is no room or no right to write in it is said of where it lies, since
    nobody finds it itself again.
    """
    if within is None:
        folder, held = _made_where_temporary()
    else:
        remove_left(within)
        folder, held = _made(within)
    try:
        inside = folder / "in"
        inside.mkdir(mode=0o700)
        yield inside
    except BevelbookError as fault:
        if fault.code in _OF_THE_DISK and fault.place.file and Path(fault.place.file).is_relative_to(folder):
            lies = folder.parent
            fault.place = Place(str(lies if lies.name else lies.absolute()))
        raise
    finally:
        held.close()
        shutil.rmtree(folder, ignore_errors=True)


def _made(within: Path) -> tuple[Path, BinaryIO]:
    """A new folder, and the file in it that its owner holds. Raises OSError."""
    while True:
        made = Path(tempfile.mkdtemp(prefix=_BEING_MADE, dir=within))
        held = (made / _HELD).open("wb")
        if _lock(held, where_none=True):  # else somebody took it for one that was left, and removes it
            folder = made.with_name(_BEGINS + made.name.removeprefix(_BEING_MADE))
            try:
                made.rename(folder)
            except FileNotFoundError:  # somebody took it before the lock, and has removed it since
                held.close()
                continue
            return folder, held
        held.close()


def _made_where_temporary() -> tuple[Path, BinaryIO]:
    """The same in the system's folder for temporary files. Raises DatabaseError where it cannot be written."""
    try:
        within = Path(tempfile.gettempdir())
        remove_left(within)
        return _made(within)
    except OSError as fault:
        raise no_temporary_file(fault.strerror or str(fault)) from fault


def no_temporary_file(found: str) -> DatabaseError:
    """The fault where nothing can be written in the system's folder for temporary files."""
    return DatabaseError(
        "no temporary file can be written",
        code="not_writable",
        found=found,
        remedy="Make room on the disk of temporary files, or name another folder for them in TMPDIR. "
        "Nothing was changed.",
    )


def remove_left(within: Path | None = None) -> None:
    """Remove what killed processes of the same person left in a folder, else in the system's for temporary files."""
    with suppress(OSError), os.scandir(within or tempfile.gettempdir()) as found:
        for one in found:
            if one.name.startswith((_BEGINS, _BEING_MADE)) and one.is_dir(follow_symlinks=False):
                with suppress(OSError):
                    _remove_if_left(Path(one.path), one.stat(follow_symlinks=False))


def _remove_if_left(folder: Path, known: os.stat_result) -> None:
    if sys.platform != "win32" and known.st_uid != os.getuid():
        return
    if folder.name.startswith(_BEING_MADE) and (sys.platform == "win32" or not (folder / _HELD).exists()):
        if time() - known.st_mtime > _OLD_S:
            shutil.rmtree(folder, ignore_errors=True)
        return
    if sys.platform == "win32":
        (folder / _HELD).unlink(missing_ok=True)  # which fails as long as its owner has it open
        shutil.rmtree(folder, ignore_errors=True)
        return
    if not (folder / _HELD).exists():  # its owner was ended while removing it
        shutil.rmtree(folder, ignore_errors=True)
        return
    with (folder / _HELD).open("rb") as held:
        if _lock(held):
            shutil.rmtree(folder, ignore_errors=True)


def _lock(held: BinaryIO, *, where_none: bool = False) -> bool:
    """Whether the lock is free, and then taken until the file is closed; ``where_none`` is the answer of a file system
    without locks."""
    if sys.platform == "win32":
        return True
    import fcntl

    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return where_none
    return True


@contextmanager
def faults_of_folder(folder: Path, remedy: str) -> Iterator[None]:
    """For the duration, a fault of the system is a DatabaseError about this folder, with what to do."""
    try:
        yield
    except OSError as fault:
        is_full = is_without_room(fault)
        raise DatabaseError(
            "there is no room for it" if is_full else "the folder cannot be written",
            code="disk_full" if is_full else "not_writable",
            place=Place(str(folder if folder.name else folder.absolute())),
            found=None if is_full else fault.strerror,
            remedy=remedy,
        ) from fault
