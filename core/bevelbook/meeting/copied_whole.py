"""A database as it was at one moment, copied byte by byte with the changes beside it (-wal).

The original is only read, and nothing is left beside it. No lock is taken: what was copied is read a second time, and
counts if both readings are equal. Then each byte was the same from its first reading to its second, so all of them were
there together between the two.

A journal beside it (-journal) is never taken along: it names files, and rolling it back may remove one of them.
"""

from __future__ import annotations

import os
import shutil
import stat
from contextlib import suppress
from pathlib import Path
from time import sleep
from typing import BinaryIO, Final

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.no_room import is_without_room
from bevelbook.meeting.refusing import refuse_damaged, refuse_too_big
from bevelbook.store.closed_file import log_of
from bevelbook.store.opened_to_read import check_is_ours
from bevelbook.store.room_for_copy import no_room_for_copy

LARGEST_BYTES: Final = 4_000_000_000
"""A thousand builds with ten thousand photographs; our own figure."""
_ROOM_BESIDE_BYTES: Final = 50_000_000
_PIECE: Final = 1 << 20
_TRIES: Final = 4
_BETWEEN_TRIES_S: Final = 0.25
_JOURNAL: Final = b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7"
"""The first bytes of a journal that has something in it."""


def regular_file(path: Path) -> os.stat_result:
    """The state of a file; a pipe, a device or a folder is refused before it is opened. Raises DatabaseError."""
    try:
        found = path.stat()
    except OSError as fault:
        missing = isinstance(fault, FileNotFoundError)
        raise DatabaseError(
            "there is no file or folder with that name" if missing else "cannot be read",
            code="no_file" if missing else "not_readable",
            place=Place(str(path)),
            found=None if missing else fault.strerror,
            remedy="Check the name.",
        ) from fault
    if stat.S_ISDIR(found.st_mode):
        raise DatabaseError(
            "this is a folder, not a file", code="is_folder", place=Place(str(path)), remedy="Name the file."
        )
    if not stat.S_ISREG(found.st_mode):
        raise _no_file(path)
    return found


def copied_whole(path: Path, folder: Path) -> Path:
    """A copy of a bevelbook database of this or an older version in a folder, with its changes (-wal) beside it.

    Raises DatabaseError: no such file or no plain one, not a bevelbook database, of a newer version, larger than
    :data:`LARGEST_BYTES`, being written all the time, or with an unfinished change (-journal) beside it.
    """
    regular_file(path)
    there = path.resolve()
    check_is_ours(there)
    target = folder / "theirs.db"
    for once_more in range(_TRIES):
        if once_more:
            sleep(_BETWEEN_TRIES_S)
        _refuse_unfinished(there)
        if _is_copied(there, target):
            _refuse_unfinished(there)
            return target
    raise DatabaseError(
        "this database is being written all the time",
        code="other_in_use",
        place=Place(str(path)),
        remedy="Nothing was changed. Close the program that writes to it, or wait until it is done, then try again.",
    )


def _is_copied(there: Path, target: Path) -> bool:
    log, target_log = log_of(there), log_of(target)
    try:
        with open_plain(there) as file, target.open("w+b") as copy:
            beside = open_plain(log) if _is_beside(log) else None
            try:
                size = os.fstat(file.fileno()).st_size
                beside_size = os.fstat(beside.fileno()).st_size if beside else 0
                _refuse_too_big(there, size + beside_size, target.parent)
                _copy(file, copy, size)
                if beside:
                    with target_log.open("w+b") as copy_beside:
                        _copy(beside, copy_beside, beside_size)
                        is_same = _is_same(beside, copy_beside, beside_size)
                else:
                    is_same = not log.exists() or not log.stat().st_size
                return is_same and _is_same(file, copy, size) and os.fstat(file.fileno()).st_size == size
            finally:
                if beside:
                    beside.close()
    except OSError as fault:
        if is_without_room(fault):
            raise no_room_for_copy(target.parent) from fault
        raise refuse_damaged(there, "the file cannot be read whole", found=fault.strerror) from fault


def open_plain(path: Path) -> BinaryIO:
    """A plain file opened for reading; never waits for the other end of a pipe. Raises DatabaseError, OSError."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    file = os.fdopen(os.open(path, flags), "rb", buffering=0)
    if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
        file.close()
        raise _no_file(path)
    return file


def _no_file(path: Path) -> DatabaseError:
    return DatabaseError(
        "this is a pipe, a device or a link, not a file",
        code="other_no_file",
        place=Place(str(path)),
        remedy="Nothing was changed. Store what comes from it in a file, and name that.",
    )


def _refuse_too_big(there: Path, size: int, folder: Path) -> None:
    if size > LARGEST_BYTES:
        raise refuse_too_big(
            there,
            f"the file has {size / 1e9:,.1f} GB",
            wanted=f"a database of at most {LARGEST_BYTES / 1e9:g} GB",
        )
    if shutil.disk_usage(folder).free < 2 * size + _ROOM_BESIDE_BYTES:
        raise no_room_for_copy(folder)


def _is_beside(log: Path) -> bool:
    if log.is_symlink():
        raise _no_file(log)
    return log.exists()


def _refuse_unfinished(there: Path) -> None:
    journal = there.with_name(f"{there.name}-journal")
    with suppress(FileNotFoundError):
        if not stat.S_ISREG(journal.lstat().st_mode) or _begins(journal) == _JOURNAL:
            raise DatabaseError(
                "a change of it is not finished: what was there before lies beside it (-journal)",
                code="other_in_use",
                place=Place(str(there)),
                remedy="Nothing was changed. If a program is writing to it, wait until it is done. Else have whoever "
                "sent it open it once, as bevelbook's check does, and send it again.",
            )


def _begins(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(len(_JOURNAL))


def _copy(source: BinaryIO, target: BinaryIO, size: int) -> None:
    source.seek(0)
    left = size
    while left > 0 and (piece := source.read(min(_PIECE, left))):
        target.write(piece)
        left -= len(piece)


def _is_same(source: BinaryIO, copy: BinaryIO, size: int) -> bool:
    """Whether the first bytes are what was copied: more may have come behind them."""
    source.seek(0)
    copy.seek(0)
    left = size
    while left > 0:
        piece = source.read(min(_PIECE, left))
        if not piece or copy.read(len(piece)) != piece:
            return False
        left -= len(piece)
    return True
