"""Weekends that were fetched from another laptop and nobody has taken in yet.

Each waits for the phone that fetched it, in a file without a name: it is gone when it was taken in or left, after a
while, and when the laptop stops, however it does.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from time import monotonic
from typing import Any, BinaryIO, Final, Literal, TypeVar
from weakref import WeakKeyDictionary, finalize

from bevelbook.store.ids import new_id
from bevelbook.web.entry.other_laptop import LaptopAddress, fetch_weekend

T = TypeVar("T")

WAITS_S: Final = 1800.0
"""How long one waits to be taken in."""
MOST_GATHERED: Final = 4
"""How many wait at once, one of a phone; the oldest go first."""
_REMEMBERED: Final = 20


@dataclass
class GatheredWeekend:
    """What was fetched. ``lines`` say what would come, and then what came; ``copy`` is what the copy of
    the book as it was before is called."""

    phone: str
    there: LaptopAddress
    file: BinaryIO
    byte_count: int
    ends: float
    id: str = field(default_factory=new_id)
    state: Literal["waits", "taken in", "left", "known", "over"] = "waits"
    lines: tuple[str, ...] = ()
    has_clashes: bool = False
    copy: str = ""


class GatheredWeekends:
    """Those of one server. Each is fetched in one thread and looked at in another, one after the other, so that the
    threads that store entries stay free."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._gathered: list[GatheredWeekend] = []
        self._fetching = ThreadPoolExecutor(1, "bevelbook-fetch")
        self._meeting = ThreadPoolExecutor(1, "bevelbook-meet")

    async def fetch(self, phone: str, there: LaptopAddress, code: str, person: str) -> GatheredWeekend:
        """Fetch one for a phone; one that it had before is let go of. Raises InputError where it does not come, and
        OSError where the disk is full."""
        loop = asyncio.get_running_loop()
        file, byte_count = await loop.run_in_executor(self._fetching, _fetched, there, code, person)
        self._end(lambda one: one.phone == phone)
        self._gathered.append(GatheredWeekend(phone, there, file, byte_count, self._clock() + WAITS_S))
        waiting = [one for one in self._gathered if one.state == "waits"]
        gone = {one.id for one in waiting[:-MOST_GATHERED]}
        self._end(lambda one: one.id in gone)
        del self._gathered[:-_REMEMBERED]
        loop.call_later(WAITS_S + 1, self.end_old)
        return self._gathered[-1]

    def find(self, phone: str, gathered_id: str) -> GatheredWeekend | None:
        """One of a phone; None where there is none, or it is forgotten."""
        self.end_old()
        return next((one for one in self._gathered if (one.phone, one.id) == (phone, gathered_id)), None)

    async def with_file(self, gathered: GatheredWeekend, act: Callable[[BinaryIO], T]) -> T | None:
        """What a function makes of its file, one at a time; None where it does not wait any more."""

        def found() -> T | None:
            if gathered.state != "waits":
                return None
            gathered.file.seek(0)
            return act(gathered.file)

        return await asyncio.get_running_loop().run_in_executor(self._meeting, found)

    def leave(self, gathered: GatheredWeekend, state: Literal["taken in", "left", "known"]) -> None:
        """Let go of it, since it was taken in, is not wanted, or is here already."""
        if gathered.state == "waits":
            gathered.state = state
            gathered.file.close()

    def end_old(self) -> None:
        """Let go of those whose time is over."""
        now = self._clock()
        self._end(lambda one: now >= one.ends)

    def close(self) -> None:
        """Let go of all of them."""
        self._fetching.shutdown(wait=False, cancel_futures=True)
        self._meeting.shutdown(cancel_futures=True)
        self._end(lambda _: True)

    def _end(self, which: Callable[[GatheredWeekend], bool]) -> None:
        for one in self._gathered:
            if one.state == "waits" and which(one):
                one.state = "over"
                one.file.close()


def _fetched(there: LaptopAddress, code: str, person: str) -> tuple[BinaryIO, int]:
    file = tempfile.TemporaryFile()  # noqa: SIM115, it stays open as long as it waits
    try:
        return file, fetch_weekend(there, code, person, file)
    except BaseException:
        file.close()
        raise


_GATHERED: Final[WeakKeyDictionary[Any, GatheredWeekends]] = WeakKeyDictionary()


def gathered_weekends(datasette: Any) -> GatheredWeekends:
    """Those of this server; they go when it ends."""
    found = _GATHERED.get(datasette)
    if found is None:
        found = _GATHERED[datasette] = GatheredWeekends()
        finalize(datasette, found.close)
    return found
