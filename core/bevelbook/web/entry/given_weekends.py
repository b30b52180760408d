"""Weekends that this laptop gives to another: each made once, looked at, and fetched once with its code.

What goes is in a file without a name: it is gone when it was fetched, when its time is over, and when the laptop stops,
however it does.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from time import monotonic
from typing import Any, BinaryIO, Final, Literal, NamedTuple
from weakref import WeakKeyDictionary, finalize

from bevelbook.declare.errors import InputError
from bevelbook.interchange.part_words import PartHolds
from bevelbook.store.ids import new_id, now_utc
from bevelbook.web.pairing.codes import in_groups, is_code, new_code
from bevelbook.web.pairing.wrong_codes import WrongCodes

CODE_LASTS_S: Final = 600.0
"""How long a code stands, and what is looked at waits for one."""
MOST_GIVEN: Final = 4
"""How many wait at once, one of a phone; the oldest go first."""
_REMEMBERED: Final = 20
_PIECE: Final = 1 << 16

State = Literal["looked at", "waits", "fetched", "over"]


class FetchedBy(NamedTuple):
    """Who fetched it, as the other laptop says, from which address, and when."""

    person: str
    address: str
    at: str


@dataclass
class GivenWeekend:
    """What goes: ``holds`` says what is in it. ``code`` is empty until it is shown."""

    phone: str
    holds: PartHolds
    byte_count: int
    file: BinaryIO
    ends: float
    id: str = field(default_factory=new_id)
    code: str = ""
    state: State = "looked at"
    fetched: FetchedBy | None = None

    @property
    def shown_code(self) -> str:
        """The code as it is read aloud: ``1234 5678``."""
        return in_groups(self.code)

    def pieces(self) -> Iterator[bytes]:
        """What is in the file, piece by piece."""
        self.file.seek(0)
        while piece := self.file.read(_PIECE):
            yield piece


class GivenWeekends:
    """Those of one server."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._given: list[GivenWeekend] = []
        self._wrong = WrongCodes(clock)
        self._thread = ThreadPoolExecutor(1, "bevelbook-weekend")

    async def make(self, phone: str, write: Callable[[BinaryIO], PartHolds]) -> GivenWeekend:
        """Have one written for a phone, in a thread of its own; one that this phone had before is let go of.

        Raises OSError where the disk is full, and what writing raises.
        """
        loop = asyncio.get_running_loop()
        file, holds, byte_count = await loop.run_in_executor(self._thread, _written, write)
        self._end(lambda one: one.phone == phone)
        self._given.append(GivenWeekend(phone, holds, byte_count, file, self._clock() + CODE_LASTS_S))
        waiting = [one for one in self._given if one.state in ("looked at", "waits")]
        gone = {one.id for one in waiting[:-MOST_GIVEN]}
        self._end(lambda one: one.id in gone)
        del self._given[:-_REMEMBERED]
        loop.call_later(CODE_LASTS_S + 1, self.end_old)
        return self._given[-1]

    def find(self, phone: str, given_id: str) -> GivenWeekend | None:
        """One of a phone; None where there is none, or it is forgotten."""
        self.end_old()
        return next((one for one in self._given if (one.phone, one.id) == (phone, given_id)), None)

    def seconds_left(self, given: GivenWeekend) -> int:
        """How long its code stands yet."""
        return max(0, round(given.ends - self._clock()))

    def show_code(self, given: GivenWeekend) -> None:
        """Have it wait with a code of its own; the time begins again."""
        if given.state == "looked at":
            given.code, given.state = new_code(), "waits"
            given.ends = self._clock() + CODE_LASTS_S

    def stop(self, given: GivenWeekend) -> None:
        """Let go of it."""
        self._end(lambda one: one is given)

    def fetch(self, code: str, person: str, device: str) -> GivenWeekend:
        """The one that waits with this code, which nobody can fetch again. Raises InputError for any other code, and
        while codes wait because of wrong ones. ``device`` is the address that it came from."""
        self._wrong.wait_if_many(device)
        self.end_old()
        found = [one for one in self._given if is_code(code, one.code or new_code()) and one.state == "waits"]
        if not found:
            if self._wrong.count(device):
                self._wrong.in_all = 0
                self._end(lambda one: one.state == "waits")
            raise InputError(
                "no weekend waits here with this code",
                code="weekend_code_wrong",
                remedy="Type the code that the other laptop shows now; each is for once.",
            )
        found[0].state, found[0].code = "fetched", ""
        found[0].fetched = FetchedBy(person, device, now_utc())
        return found[0]

    def end_old(self) -> None:
        """Let go of those whose time is over."""
        now = self._clock()
        self._end(lambda one: now >= one.ends)

    def close(self) -> None:
        """Let go of all of them."""
        self._thread.shutdown(cancel_futures=True)
        self._end(lambda _: True)
        for one in self._given:
            one.file.close()

    def _end(self, which: Callable[[GivenWeekend], bool]) -> None:
        for one in self._given:
            if one.state in ("looked at", "waits") and which(one):
                one.state, one.code = "over", ""
                one.file.close()


def _written(write: Callable[[BinaryIO], PartHolds]) -> tuple[BinaryIO, PartHolds, int]:
    file = tempfile.TemporaryFile()  # noqa: SIM115, it stays open as long as it waits
    try:
        holds = write(file)
        file.flush()
        return file, holds, file.seek(0, 2)
    except BaseException:
        file.close()
        raise


_GIVEN: Final[WeakKeyDictionary[Any, GivenWeekends]] = WeakKeyDictionary()


def given_weekends(datasette: Any) -> GivenWeekends:
    """Those of this server; they go when it ends."""
    found = _GIVEN.get(datasette)
    if found is None:
        found = _GIVEN[datasette] = GivenWeekends()
        finalize(datasette, found.close)
    return found
