"""A queue of those who want to write to one file, in all processes of a person: the system wakes them as they came.

It is a lock on an empty file of its own among the temporary files, made once two of them meet. It guards nothing, since
SQLite does that: where there is no such lock, or somebody is not in the queue, they only wait in another order.
"""

from __future__ import annotations

import os
import stat
import sys
import threading
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Final, Self

_FOLDER: Final = "bevelbook-queues"


class QueueForFile:
    """A place in the queue for a file, from the beginning of a ``with`` to its end."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._held: int | None = None
        self._turn = threading.Event()
        self._turn.set()
        self._lock = threading.Lock()
        self._is_over = False

    @property
    def is_waiting(self) -> bool:
        """Whether others are before this one."""
        return not self._turn.is_set()

    def wait(self, seconds: float) -> None:
        """Wait for the turn, at most so long."""
        self._turn.wait(max(0.0, seconds))

    def __enter__(self) -> Self:
        self._held = _opened(self._file)
        if self._held is not None and not _is_free(self._held):
            self._turn.clear()
            threading.Thread(target=self._stand_in, args=(self._held,), daemon=True).start()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _fault: BaseException | None, _traceback: TracebackType | None
    ) -> None:
        with self._lock:
            self._is_over = True
            if self._held is not None and self._turn.is_set():
                os.close(self._held)

    def _stand_in(self, held: int) -> None:
        """Wait in the queue; whoever had no more patience leaves it as soon as it is their turn."""
        _wait_for(held)
        with self._lock:
            if self._is_over:
                os.close(held)
            else:
                self._turn.set()


def is_queue_formed(file: str) -> bool:
    """Whether any two met at a file since the temporary files were cleared; where none did nobody needs a place."""
    name = _queue_of(file)
    return name is not None and name.exists()


def _queue_of(file: str) -> Path | None:
    """The file that is locked for a file, by what that is and not by its name; None where there can be none."""
    if sys.platform == "win32" or not file:
        return None
    import tempfile

    with suppress(OSError):
        there = Path(file).stat()
        return Path(tempfile.gettempdir(), f"{_FOLDER}-{os.geteuid()}", f"{there.st_dev:x}-{there.st_ino:x}")
    return None


def _opened(file: str) -> int | None:
    """The file that is locked, open; it is made in a folder of this person alone."""
    name = _queue_of(file)
    if name is None:
        return None
    with suppress(OSError):
        with suppress(FileExistsError):
            name.parent.mkdir(mode=stat.S_IRWXU)
        own = name.parent.lstat()
        if stat.S_ISDIR(own.st_mode) and own.st_uid == os.geteuid() and not own.st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            return os.open(name, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, stat.S_IRUSR | stat.S_IWUSR)
    return None


def _is_free(held: int) -> bool:
    """Whether nobody is before, and then nobody comes before; also where the file system has no locks."""
    import fcntl

    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def _wait_for(held: int) -> None:
    import fcntl

    with suppress(OSError):
        fcntl.flock(held, fcntl.LOCK_EX)
