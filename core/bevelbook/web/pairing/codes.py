"""The code that pairs the next phone: used once, slow to guess."""

from __future__ import annotations

from collections.abc import Callable
from secrets import compare_digest, randbelow
from time import monotonic
from typing import Final

from bevelbook.declare.errors import InputError
from bevelbook.web.pairing.wrong_codes import WRONG_IN_ALL, WrongCodes

DIGITS: Final = 8

Announce = Callable[[str], None]
"""Called with why the code is a new one, in a sentence."""


class PairingCodes:
    """One code at a time, and the count of wrong ones: those typed, and phones' own codes that nobody has."""

    def __init__(self, announce: Announce = lambda _why: None, clock: Callable[[], float] = monotonic) -> None:
        self.announce = announce
        self._wrong = WrongCodes(clock)
        self._code = new_code()

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
        if not is_code(typed, self._code):
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
        self._wrong.wait_if_many(device)

    def wait_if_it_was_wrong(self, device: str) -> None:
        """Raise InputError while codes of this device wait because of its own wrong ones."""
        self._wrong.wait_if_own(device)

    def count_wrong(self, device: str) -> None:
        """Count a wrong code of a device; after twenty of all together the code is replaced."""
        if self._wrong.count(device):
            self._renew(f"{WRONG_IN_ALL} wrong codes were tried, so the code is another now.")

    def _renew(self, why: str) -> None:
        self._wrong.in_all = 0
        self._code = new_code()
        self.announce(why)


def is_code(typed: str, code: str) -> bool:
    """Whether a text is a code, whatever stands between its digits; how long that takes says nothing of it."""
    digits = "".join(character for character in typed if character.isdecimal() and character.isascii())
    return compare_digest(digits.encode(), code.encode())


def in_groups(code: str) -> str:
    """A code as it is read aloud.

    >>> in_groups("12345678")
    '1234 5678'
    """
    return f"{code[: DIGITS // 2]} {code[DIGITS // 2 :]}"


def new_code() -> str:
    """A code that nobody can guess before it is shown."""
    return f"{randbelow(10**DIGITS):0{DIGITS}d}"
