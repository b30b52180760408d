"""The code that pairs the next phone: used once, slow to guess."""

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
WRONG_A_MINUTE: Final = 5
"""Wrong codes within a minute, from any device, after which every code waits."""
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
        self._wrong: deque[float] = deque()
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

    def check(self, typed: str) -> None:
        """Raise InputError for a wrong code, and for any while codes wait. It is used up by :meth:`use` alone."""
        self.wait_if_many_were_wrong()
        digits = "".join(character for character in typed if character.isdecimal() and character.isascii())
        if not compare_digest(digits.encode(), self._code.encode()):
            self.count_wrong()
            raise InputError(
                "this is not the code",
                code="pairing_code_wrong",
                remedy="Type the eight digits that the laptop shows now; each code pairs one phone.",
            )

    def use(self, phone: str) -> None:
        """Have another code from now on, since this one paired a phone, named in words."""
        self._renew(f"Paired: {phone}.")

    def wait_if_many_were_wrong(self) -> None:
        """Raise InputError while codes wait because of wrong ones."""
        seconds = self.seconds_to_wait
        if seconds:
            raise InputError(
                f"{WRONG_A_MINUTE} wrong codes came within a minute, so every code waits",
                code="pairing_codes_wait",
                remedy=f"Try again in {counted(seconds, 'second')}; phones that are paired can go on writing.",
            )

    @property
    def seconds_to_wait(self) -> int:
        """Whole seconds until a code is looked at again; 0 where none waits."""
        now = self._clock()
        while self._wrong and now - self._wrong[0] >= _MINUTE:
            self._wrong.popleft()
        return ceil(self._wrong[0] + _MINUTE - now) if len(self._wrong) >= WRONG_A_MINUTE else 0

    def count_wrong(self) -> None:
        """Count a wrong code; after twenty the code is replaced."""
        self._wrong.append(self._clock())
        self._wrong_in_all += 1
        if self._wrong_in_all >= WRONG_IN_ALL:
            self._renew(f"{WRONG_IN_ALL} wrong codes were tried, so the code is another now.")

    def _renew(self, why: str) -> None:
        self._wrong_in_all = 0
        self._code = _new_code()
        self.announce(why)


def in_groups(code: str) -> str:
    """A code as it is read aloud.

    >>> in_groups("12345678")
    '1234 5678'
    """
    return f"{code[: DIGITS // 2]} {code[DIGITS // 2 :]}"


def _new_code() -> str:
    return f"{randbelow(10**DIGITS):0{DIGITS}d}"
