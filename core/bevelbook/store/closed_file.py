"""Files that only their owner may read and write: databases, copies of them, rejected rows.

Where the umask of the person is narrower, it holds. Where the system has no such modes (Windows) nothing differs.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path
from typing import Final

_OWNER_ALONE: Final = 0o600
_FOLDER_OF_OWNER: Final = 0o700
_OTHERS: Final = 0o007
_MAY_WRITE: Final = 0o022
_UNFINISHED: Final = ".unfinished"
BESIDE: Final = ("-wal", "-shm", "-journal")
"""What the names of the files end in that SQLite keeps beside a database."""


def log_of(path: Path) -> Path:
    """The file in which SQLite keeps changes that are not in the database yet."""
    return path.with_name(f"{path.name}-wal")


def has_changes_beside(path: Path) -> bool:
    """Whether there are changes beside a database that are not in it yet. Raises OSError."""
    log = log_of(path)
    return log.exists() and log.stat().st_size > 0


def files_to_copy(path: Path) -> str:
    """What a person copies who takes a database elsewhere, in words: without changes beside it they are lost."""
    if not path.name:
        return "the file, with what lies beside it under its name and -wal,"
    try:
        is_alone = not has_changes_beside(path)
    except OSError:
        is_alone = False
    return "the file" if is_alone else f"{path.name} and {log_of(path).name}, which holds its newest rows,"


def make_closed(path: Path) -> None:
    """Make an empty file of mode 0600. Raises FileExistsError, OSError."""
    os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, _OWNER_ALONE))


def make_closed_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, of mode 0700. One that is there stays as it is. Raises
    OSError."""
    for one in (*reversed(folder.parents), folder):
        with suppress(FileExistsError):
            if not one.exists():
                one.mkdir(mode=_FOLDER_OF_OWNER)
    if not folder.is_dir():
        raise NotADirectoryError(folder)


def is_own(path: Path) -> bool:
    """Whether a file is of this person, and nobody else may have written it. Raises OSError."""
    if os.name != "posix":
        return True
    found = path.stat()
    return found.st_uid == os.geteuid() and not found.st_mode & _MAY_WRITE


def write_closed(path: Path, content: bytes) -> None:
    """Write a file of mode 0600, which gets its name, or takes the place of the one that has it, once it is whole.

    Raises OSError; then nothing is changed, and nothing left beside it.
    """
    beside = path.with_name(f"{path.name}{_UNFINISHED}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0)
    try:
        with os.fdopen(os.open(beside, flags, _OWNER_ALONE), "wb") as file:
            file.write(content)
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


def open_to_others(path: Path) -> bool:
    """Whether everybody who uses this computer may read or write a file; its group does not count, since a team may
    share a computer by one. False where there is none, or the system has no such modes."""
    if os.name != "posix":
        return False
    try:
        return bool(stat.S_IMODE(path.stat().st_mode) & _OTHERS)
    except OSError:
        return False
