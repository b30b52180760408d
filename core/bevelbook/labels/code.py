"""The code on a label, for a phone: a short address where there is room, else the name alone in capitals.

QR code (ISO/IEC 18004), level Q, which reads with up to a quarter of it gone, and with all of its quiet zone.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import Final, Literal, NamedTuple
from urllib.parse import quote

from bevelbook.declare.errors import InputError

CodeKind = Literal["address", "name"]
QUIET_MODULES: Final = 4
LEAST_MODULE_MM: Final = 0.5
ALPHANUMERIC: Final = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
"""The letters of the mode that takes least room, in capitals alone."""
INSTALL: Final = "Run 'pip install \"bevelbook[labels]\"' and try again."


class LabelCode(NamedTuple):
    """A code as a picture: its rows of modules, dark ones True, without the quiet zone. ``is_compact`` is whether a
    name is in capitals, which take less room than other letters."""

    kind: CodeKind
    text: str
    modules: tuple[tuple[bool, ...], ...]
    is_compact: bool

    @property
    def wide(self) -> int:
        """Modules from edge to edge, the quiet zone with them."""
        return len(self.modules) + 2 * QUIET_MODULES


def needs_library() -> InputError | None:
    """The error where codes cannot be drawn here; None where they can."""
    if find_spec("segno") is not None:
        return None
    return InputError("labels need one more library, for their codes", code="no_segno", remedy=INSTALL)


def address_code(address: str, asked_as: str) -> LabelCode:
    """The code of the short address below which a name is found."""
    return _code("address", short_address(address, asked_as), is_compact=False)


def name_code(asked_as: str) -> LabelCode:
    """The code of a name: in capitals, where all its letters can be; else as it is written."""
    text = in_capitals(asked_as)
    return _code("name", text or asked_as, is_compact=text is not None)


def short_address(address: str, asked_as: str) -> str:
    """Where a browser finds what has a name.

    >>> short_address("http://team.local:8002", "rear-a/11"), short_address("http://team.local:8002/", "house 7k B2")
    ('http://team.local:8002/q/rear-a/11', 'http://team.local:8002/q/house%207k%20B2')
    """
    return f"{address.rstrip('/')}/q/{quote(asked_as, safe='/')}"


def in_capitals(name: str) -> str | None:
    """A name in the letters that take least room; None where one of its letters is not among them, or would be another
    name in capitals.

    >>> in_capitals("rear-a/11"), in_capitals("Öl 7"), in_capitals("rear_a")
    ('REAR-A/11', None, None)
    """
    capitals = name.upper()
    return capitals if set(capitals) <= ALPHANUMERIC and capitals.casefold() == name.casefold() else None


def _code(kind: CodeKind, text: str, *, is_compact: bool) -> LabelCode:
    import segno

    made = segno.make_qr(text, error="q", boost_error=False, encoding=None if text.isascii() else "utf-8")
    return LabelCode(kind, text, tuple(tuple(bool(one) for one in row) for row in made.matrix), is_compact)
