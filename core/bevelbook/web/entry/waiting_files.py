"""Files of notes that phones have sent and nobody has brought in yet: on the laptop, without a name in any folder, for
a while.

Each belongs to the phone that sent it and is found by the hash of its content. What was answered about it is in the
pages of the phone, so that a file which is not here any more only has to be chosen again.
"""

from __future__ import annotations

import asyncio
import hashlib
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from time import monotonic
from typing import Any, BinaryIO, Final, TypeVar
from weakref import WeakKeyDictionary, finalize

T = TypeVar("T")

MOST_BYTES: Final = 10_000_000
"""The longest file that is taken."""
MOST_OF_A_PHONE: Final = 3
MOST_FILES: Final = 12
LONGEST_S: Final = 2 * 3600.0
"""How many files wait, of one phone and of all, and for how long; the oldest go first."""


@dataclass
class _WaitingFile:
    phone: str
    sha256: str
    held: BinaryIO
    since: float


class WaitingFiles:
    """The files that wait with one server. They are held and read in a thread of their own, one after the other, so
    that however many phones bring files in, the threads that store entries stay free."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._files: list[_WaitingFile] = []
        self._thread = ThreadPoolExecutor(1, "bevelbook-notes")

    async def keep(self, phone: str, content: bytes) -> str:
        """Keep a file of a phone; returns the hash by which it is found. Raises OSError where the disk is full."""
        return await self._in_thread(self._keep, phone, content)

    async def read(self, phone: str, sha256: str, read: Callable[[BinaryIO], T]) -> T | None:
        """What a function makes of a file of a phone, one file at a time; None where it is not here any more."""

        def found() -> T | None:
            self._drop_old()
            file = next((one for one in self._files if (one.phone, one.sha256) == (phone, sha256)), None)
            if file is None:
                return None
            file.since = self._clock()
            file.held.seek(0)
            return read(file.held)

        return await self._in_thread(found)

    async def drop(self, phone: str, sha256: str) -> None:
        """Let go of a file that was brought in, or is not wanted."""
        await self._in_thread(self._drop, lambda one: (one.phone, one.sha256) == (phone, sha256))

    def close(self) -> None:
        """Let go of all of them."""
        self._thread.shutdown(cancel_futures=True)
        self._drop(lambda _: True)

    async def _in_thread(self, act: Callable[..., T], *given: Any) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, act, *given)

    def _keep(self, phone: str, content: bytes) -> str:
        sha256 = hashlib.sha256(content).hexdigest()
        self._drop_old()
        self._drop(lambda one: (one.phone, one.sha256) == (phone, sha256))
        held = tempfile.TemporaryFile()  # noqa: SIM115, it stays open as long as it waits
        held.write(content)
        held.flush()
        self._files.append(_WaitingFile(phone, sha256, held, self._clock()))
        self._drop_oldest(lambda one: one.phone == phone, MOST_OF_A_PHONE)
        self._drop_oldest(lambda one: True, MOST_FILES)
        return sha256

    def _drop_old(self) -> None:
        now = self._clock()
        self._drop(lambda one: now - one.since > LONGEST_S)

    def _drop_oldest(self, which: Callable[[_WaitingFile], bool], most: int) -> None:
        found = sorted((one for one in self._files if which(one)), key=lambda one: one.since)
        gone = {id(one) for one in found[: max(0, len(found) - most)]}
        self._drop(lambda one: id(one) in gone)

    def _drop(self, which: Callable[[_WaitingFile], bool]) -> None:
        for one in [one for one in self._files if which(one)]:
            one.held.close()
            self._files.remove(one)


_WAITING: Final[WeakKeyDictionary[Any, WaitingFiles]] = WeakKeyDictionary()


def waiting_files(datasette: Any) -> WaitingFiles:
    """The files that wait with this server; they go when it ends."""
    found = _WAITING.get(datasette)
    if found is None:
        found = _WAITING[datasette] = WaitingFiles()
        finalize(datasette, found.close)
    return found
