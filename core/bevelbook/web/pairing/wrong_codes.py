"""Codes that were tried and are wrong, which makes guessing slow.

They are counted by the address of the device that sent them, so that one device which guesses makes itself wait and not
the team; what all devices together may guess is limited as well, for one with many addresses.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from math import ceil
from time import monotonic
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError

WRONG_OF_ONE: Final = 5
"""Wrong codes within a minute from one device, after which that device waits."""
WRONG_A_MINUTE: Final = 10
"""Wrong codes within a minute from all devices together, after which every code waits."""
WRONG_IN_ALL: Final = 20
"""Wrong codes after which a code that stands is given up."""
_MINUTE: Final = 60.0


class WrongCodes:
    """The count of wrong codes of one kind; ``in_all`` is how many since it was last cleared."""

    def __init__(self, clock: Callable[[], float] = monotonic) -> None:
        self._clock = clock
        self._wrong: deque[tuple[float, str]] = deque()
        self.in_all = 0

    def wait_if_many(self, device: str) -> None:
        """Raise InputError while codes of this device, or all codes, wait because of wrong ones."""
        self.wait_if_own(device)
        _wait(self._seconds_to_wait(None), f"{WRONG_A_MINUTE} wrong codes came within a minute, so every code waits")

    def wait_if_own(self, device: str) -> None:
        """Raise InputError while codes of this device wait because of its own wrong ones."""
        _wait(
            self._seconds_to_wait(device),
            f"{WRONG_OF_ONE} wrong codes came from this device within a minute, so it waits",
        )

    def count(self, device: str) -> bool:
        """Count a wrong code of a device; whether these are so many in all that the code has to go."""
        self._wrong.append((self._clock(), device))
        self.in_all += 1
        return self.in_all >= WRONG_IN_ALL

    def _seconds_to_wait(self, device: str | None) -> int:
        """Whole seconds until a code of a device is looked at again, None for any; 0 where none waits."""
        now = self._clock()
        while self._wrong and now - self._wrong[0][0] >= _MINUTE:
            self._wrong.popleft()
        times = [at for at, by in self._wrong if device in (None, by)]
        most = WRONG_A_MINUTE if device is None else WRONG_OF_ONE
        return ceil(times[-most] + _MINUTE - now) if len(times) >= most else 0


def _wait(seconds: int, why: str) -> None:
    """Raise InputError with why, unless there is nothing to wait for."""
    if seconds:
        raise InputError(
            why,
            code="pairing_codes_wait",
            remedy=f"Try again in {counted(seconds, 'second')}; phones that are paired can go on writing.",
        )
