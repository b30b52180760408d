"""The code that pairs the next phone: used once, slow to guess.

Wrong codes are counted by the address of the device that sent them, so that one device which guesses makes itself wait
and not the team; what all devices together may guess is limited as well, for one with many addresses.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from math import ceil
from secrets import compare_digest, randbelow
from time import monotonic
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError

DIGITS: Final = 8
WRONG_OF_ONE: Final = 5
"""Wrong codes within a minute from one device, after which that device waits."""
WRONG_A_MINUTE: Final = 10
"""Wrong codes within a minute from all devices together, after which every code waits."""
WRONG_IN_ALL: Final = 20
"""Wrong codes after which the code that is shown is replaced."""
_MINUTE: Final = 60.0

Announce = Callable[[str], None]
"""Called with why the code is a new one, in a sentence."""


class PairingCodes:
    """One code at a time, and the count of wrong ones: those typed, and phones' own codes that nobody has."""

    def __init__(self, announce: Announce = lambda _why: None, clock: Callable[[], float] = monotonic) -> None:
        self.announce = announce
        self._clock = clock
        self._wrong: deque[tuple[float, str]] = deque()
        self._wrong_in_all = 0
        self._code = _new_code()

    @property
    def code(self) -> str:
        """The code as its digits alone."""
        return self._code

    @property
    def shown(self) -> str:
        """The code in two groups: ``1234 5678``."""
        return in_groups(self._code)

    def check(self, typed: str, device: str) -> None:
        """Raise InputError for a wrong code, and for any while codes wait. It is used up by :meth:`use` alone.

        ``device`` is the address that it came from.
        """
        self.wait_if_many_were_wrong(device)
        digits = "".join(character for character in typed if character.isdecimal() and character.isascii())
        if not compare_digest(digits.encode(), self._code.encode()):
            self.count_wrong(device)
            raise InputError(
                "this is not the code",
                code="pairing_code_wrong",
                remedy="Type the eight digits that the laptop shows now; each code pairs one phone.",
            )

    def use(self, phone: str) -> None:
        """Have another code from now on, since this one paired a phone, named in words."""
        self._renew(f"Paired: {phone}.")

    def wait_if_many_were_wrong(self, device: str) -> None:
        """Raise InputError while codes of this device, or all codes, wait because of wrong ones."""
        self.wait_if_it_was_wrong(device)
        _wait(self._seconds_to_wait(None), f"{WRONG_A_MINUTE} wrong codes came within a minute, so every code waits")

    def wait_if_it_was_wrong(self, device: str) -> None:
        """Raise InputError while codes of this device wait because of its own wrong ones."""
        _wait(
            self._seconds_to_wait(device),
            f"{WRONG_OF_ONE} wrong codes came from this device within a minute, so it waits",
        )

    def _seconds_to_wait(self, device: str | None) -> int:
        """Whole seconds until a code of a device is looked at again, None for any; 0 where none waits."""
        now = self._clock()
        while self._wrong and now - self._wrong[0][0] >= _MINUTE:
            self._wrong.popleft()
        times = [at for at, by in self._wrong if device in (None, by)]
        most = WRONG_A_MINUTE if device is None else WRONG_OF_ONE
        return ceil(times[-most] + _MINUTE - now) if len(times) >= most else 0

    def count_wrong(self, device: str) -> None:
        """Count a wrong code of a device; after twenty of all together the code is replaced."""
        self._wrong.append((self._clock(), device))
        self._wrong_in_all += 1
        if self._wrong_in_all >= WRONG_IN_ALL:
            self._renew(f"{WRONG_IN_ALL} wrong codes were tried, so the code is another now.")

    def _renew(self, why: str) -> None:
        self._wrong_in_all = 0
        self._code = _new_code()
        self.announce(why)


def _wait(seconds: int, why: str) -> None:
    """Raise InputError with why, unless there is nothing to wait for."""
    if seconds:
        raise InputError(
            why,
            code="pairing_codes_wait",
            remedy=f"Try again in {counted(seconds, 'second')}; phones that are paired can go on writing.",
        )


def in_groups(code: str) -> str:
    """A code as it is read aloud.

    >>> in_groups("12345678")
    '1234 5678'
    """
    return f"{code[: DIGITS // 2]} {code[DIGITS // 2 :]}"


def _new_code() -> str:
    return f"{randbelow(10**DIGITS):0{DIGITS}d}"
