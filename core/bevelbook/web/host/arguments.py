"""The arguments of an address as a page declares them, and the refusal of any other: which one, what it had, what is
taken."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any, Final, NamedTuple
from urllib.parse import unquote_to_bytes

from bevelbook.declare.errors import near_misses
from bevelbook.declare.printable import printable
from bevelbook.web.host.private_datasette import Base400

_SHOWN: Final = 80
"""Letters of a name or a value that a refusal repeats."""
_LISTED: Final = 40
"""Names that a refusal lists at most."""


class OddArgument(Base400):  # type: ignore[misc]
    """An argument of an address that is not taken there: its name, and what it may have meant."""

    status = 400

    def __init__(self, words: str, name: str | None = None, remedy: str | None = None) -> None:
        super().__init__(words)
        self.name = name
        self.remedy = remedy


class Argument(NamedTuple):
    """An argument that is taken: its name, which values fit, in words (*it takes a whole number*) and as a test, and
    whether there may be several. One without a value is as good as none, unless ``is_needed`` says otherwise."""

    name: str
    takes: str = "a text"
    fits: Callable[[str], bool] = bool
    may_repeat: bool = False
    is_needed: bool = False


ANYTHING: Final = Argument("*")
"""Taken by an address at which there is nothing: that is what it says, whatever was asked of it."""
Given = Sequence[tuple[str, str]]
"""Names and values of the arguments of an address, in their order."""
Takes = Sequence[Argument] | Callable[[Any, Mapping[str, str | None]], Sequence[Argument]]
"""The arguments that a page takes; where that depends, a function of the Datasette and the places of the address."""


def any_text(name: str) -> Argument:
    """One that takes any text."""
    return Argument(name)


def any_texts(names: Iterable[str]) -> tuple[Argument, ...]:
    """Several that each take any text."""
    return tuple(map(any_text, names))


def one_of(name: str, *words: str) -> Argument:
    """One that takes one of a few words."""
    return Argument(name, " or ".join(words), lambda given: given.strip() in words)


def whole(name: str, least: int, most: int) -> Argument:
    """One that takes a whole number between two."""
    return Argument(name, f"a whole number from {least} to {most}", is_whole(least, most))


def is_whole(least: int, most: int) -> Callable[[str], bool]:
    """Whether a text is a whole number between two."""

    def fits(given: str) -> bool:
        found = given.strip()
        return found.isascii() and found.isdigit() and len(found) <= len(str(most)) and least <= int(found) <= most

    return fits


def is_day(given: str) -> bool:
    """Whether a text is a day: ``2026-05-04``."""
    if not re.fullmatch(r"\d{4}-\d\d-\d\d", given, re.ASCII):
        return False
    try:
        date.fromisoformat(given)
    except ValueError:
        return False
    return True


def given_in(query: str) -> Given:
    """The arguments in the query of an address. Raises OddArgument for one that cannot be read as text."""
    found = []
    for pair in query.split("&"):
        if pair:
            name, _, value = pair.partition("=")
            found.append((_letters(name, pair), _letters(value, pair)))
    return found


def refuse_odd(given: Given, takes: Sequence[Argument]) -> None:
    """Raises OddArgument for the first argument that is not taken, or not with what it has, or not so often."""
    if ANYTHING in takes:
        return
    known = {one.name: one for one in takes}
    seen: dict[str, str] = {}
    for name, value in given:
        one = known.get(name)
        if one is None:
            raise not_taken(name, value, [other.name for other in takes])
        refuse_value(one, value)
        if name in seen and not one.may_repeat:
            raise twice(name, seen[name], value)
        seen[name] = value


def refuse_value(one: Argument, value: str) -> None:
    """Raises OddArgument where an argument has a value that it does not take."""
    if (value.strip() and not one.fits(value)) or (one.is_needed and not value.strip()):
        raise OddArgument(
            f"The argument {_shown(one.name, value)} of the address is not taken: it takes {one.takes}.", one.name
        )


def twice(name: str, first: str, second: str) -> OddArgument:
    """The refusal of an argument that is there more than once."""
    return OddArgument(
        f"The argument {_short(name)} is in the address more than once: {_shown(name, first)} and "
        f"{_shown(name, second)}. It is taken once.",
        name,
    )


def not_taken(name: str, value: str, names: Sequence[str], beside: str = "") -> OddArgument:
    """The refusal of an argument that a page has not; ``beside`` is what else it takes, in words."""
    listed = ", ".join(names[:_LISTED]) + (", and more" if len(names) > _LISTED else "")
    taken = " and ".join(part for part in (beside, listed) if part)
    return OddArgument(
        f"The argument {_shown(name, value)} of the address is not known here: "
        f"{f'this page takes {taken}' if taken else 'this page takes none'}.",
        name,
        near_misses(name, names) or None,
    )


def _letters(raw: str, pair: str) -> str:
    try:
        found = unquote_to_bytes(raw.replace("+", " ").encode("latin-1")).decode("utf-8")
    except UnicodeDecodeError:
        found = "\0"
    if "\0" in found:
        raise OddArgument(f"The argument {_short(pair)} of the address cannot be read: it takes letters of UTF-8.")
    return found


def _shown(name: str, value: str) -> str:
    return f"{_short(name)}={_short(value)}"


def _short(given: str) -> str:
    return printable(given[:_SHOWN]) + ("…" if len(given) > _SHOWN else "")
