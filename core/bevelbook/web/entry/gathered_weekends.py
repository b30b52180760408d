"""Weekends that were fetched from another laptop and nobody has taken in yet.

Each waits for the phone that fetched it, in a file without a name: it is gone when it was taken in or left, after a
while, and when the laptop stops, however it does.
"""

from __future__ import annotations

import asyncio
import tempfile
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from time import monotonic
from typing import Any, BinaryIO, Final, Literal, TypeVar
from weakref import WeakKeyDictionary, finalize

from bevelbook.declare.errors import InputError
from bevelbook.store.ids import new_id
from bevelbook.web.entry.other_laptop import FetchStop, LaptopAddress, fetch_weekend
from bevelbook.web.host.datasette_state import state_of

T = TypeVar("T")

WAITS_S: Final = 1800.0
"""How long one waits to be taken in."""
MOST_GATHERED: Final = 4
"""How many wait at once, one of a phone; the oldest go first."""
MOST_FETCHING: Final = 4
"""How many are fetched at once, one for a phone."""
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


@dataclass(eq=False)
class _Fetch:
    """One under way, in a thread of its own that nothing waits for: the other laptop may be silent as long as it
    likes. ``outcome`` is of the event loop."""

    phone: str
    there: LaptopAddress
    loop: asyncio.AbstractEventLoop
    outcome: asyncio.Future[tuple[BinaryIO, int]]
    stop: FetchStop = field(default_factory=FetchStop)

    def begin(self, code: str, person: str) -> None:
        threading.Thread(target=self._run, args=(code, person), name="bevelbook-fetch", daemon=True).start()

    def end(self, what: str) -> None:
        """End it at once, from any thread."""
        fault = InputError(what, code="not_gathered", found=str(self.there), remedy="Ask for a new code there.")
        self.stop.end(fault)
        self._tell(lambda: self._fail(fault))

    def _run(self, code: str, person: str) -> None:
        file = tempfile.TemporaryFile()  # noqa: SIM115, it stays open as long as it waits
        try:
            byte_count = fetch_weekend(self.there, code, person, file, stop=self.stop)
        except (InputError, OSError) as fault:
            file.close()
            failed: InputError | OSError = fault
            self._tell(lambda: self._fail(failed))
        else:
            if not self._tell(lambda: self._came(file, byte_count)):
                file.close()

    def _tell(self, act: Callable[[], None]) -> bool:
        """Whether the event loop is still there for it."""
        with suppress(RuntimeError):
            self.loop.call_soon_threadsafe(act)
            return True
        return False

    def _came(self, file: BinaryIO, byte_count: int) -> None:
        if self.outcome.done():
            file.close()
        else:
            self.outcome.set_result((file, byte_count))

    def _fail(self, fault: InputError | OSError) -> None:
        if not self.outcome.done():
            self.outcome.set_exception(fault)


class GatheredWeekends:
    """Those of one server. Each is fetched in a thread of its own, and they are looked at in another, one after the
    other, so that the threads that store entries stay free."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._gathered: list[GatheredWeekend] = []
        self._fetching: list[_Fetch] = []
        self._is_closed = False
        self._meeting = ThreadPoolExecutor(1, "bevelbook-meet")

    async def fetch(self, phone: str, there: LaptopAddress, code: str, person: str) -> GatheredWeekend:
        """Fetch one for a phone; one that it had before, or still waits for, is let go of. Raises InputError where it
        does not come, or many are fetched just now, and OSError where the disk is full."""
        loop = asyncio.get_running_loop()
        for one in [one for one in self._fetching if one.phone == phone]:
            one.end("this phone asked for another one meanwhile")
            self._fetching.remove(one)
        if self._is_closed:
            raise InputError("this laptop is being stopped", code="not_gathered", remedy="Start it, and try again.")
        if len(self._fetching) >= MOST_FETCHING:
            raise InputError(
                f"this laptop is fetching from {MOST_FETCHING} others just now",
                code="not_gathered",
                found=", ".join(str(one.there) for one in self._fetching),
                remedy="Wait for a minute, and try again with the same code.",
            )
        fetch = _Fetch(phone, there, loop, loop.create_future())
        self._fetching.append(fetch)
        fetch.begin(code, person)
        try:
            file, byte_count = await fetch.outcome
        finally:
            fetch.end("nobody waits for it any more")
            if fetch in self._fetching:
                self._fetching.remove(fetch)
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

    def end_fetching(self) -> None:
        """What is being fetched ends at once, with words, from any thread; nothing is fetched after that."""
        self._is_closed = True
        for one in list(self._fetching):
            one.end("this laptop is being stopped")

    def close(self) -> None:
        """Let go of all of them."""
        self.end_fetching()
        self._meeting.shutdown(cancel_futures=True)
        self._end(lambda _: True)

    def _end(self, which: Callable[[GatheredWeekend], bool]) -> None:
        for one in self._gathered:
            if one.state == "waits" and which(one):
                one.state = "over"
                one.file.close()


_GATHERED: Final[WeakKeyDictionary[Any, GatheredWeekends]] = WeakKeyDictionary()


def gathered_weekends(datasette: Any) -> GatheredWeekends:
    """Those of this server; they go when it ends."""
    found = _GATHERED.get(datasette)
    if found is None:
        found = _GATHERED[datasette] = GatheredWeekends()
        finalize(datasette, found.close)
        state_of(datasette).when_stopping.append(found.end_fetching)
    return found
