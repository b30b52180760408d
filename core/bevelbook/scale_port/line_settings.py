"""How a port is set for a scale, as typed: ``9600,8N1``; and what a scale is asked with."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.declare.late_pattern import late_pattern

USUAL: Final = "9600,8N1"
_SETTING: Final = late_pattern(r"(\d{3,7})(?:[ ,]+([78])([NEOMS])([12]))?", re.IGNORECASE)
_ESCAPE: Final = late_pattern(r"\\(r|n|t|\\|x[0-9A-Fa-f]{2})")
_PLAIN: Final = {"r": "\r", "n": "\n", "t": "\t", "\\": "\\"}


class LineSettings(NamedTuple):
    """Baud, bits of a character, parity (N none, E even, O odd, M mark, S space) and stop bits."""

    baud: int
    bits: int = 8
    parity: str = "N"
    stop_bits: int = 1


def line_settings(text: str) -> LineSettings:
    """The setting as typed; without bits and parity they are 8N1. Raises InputError.

    >>> line_settings("2400,7E1")
    LineSettings(baud=2400, bits=7, parity='E', stop_bits=1)
    >>> line_settings("4800")
    LineSettings(baud=4800, bits=8, parity='N', stop_bits=1)
    """
    found = _SETTING.fullmatch(text.strip())
    if found is None:
        raise InputError(
            "a serial line cannot be set like that",
            code="scale_line_setting",
            found=text,
            wanted="baud, then bits, parity and stop bits, such as 9600,8N1 or 2400,7E1",
            remedy="The menu or the manual of the scale says how it prints.",
        )
    baud, bits, parity, stop_bits = found.groups()
    return LineSettings(int(baud), int(bits or 8), (parity or "N").upper(), int(stop_bits or 1))


def asking_bytes(text: str) -> bytes:
    """What is sent to a scale that prints only when asked: the text with CR and LF behind it; with a sign written as
    ``\\r``, ``\\n``, ``\\t`` or ``\\x05`` in it, that alone. Raises InputError for letters beyond ASCII.

    >>> asking_bytes("P")
    b'P\\r\\n'
    >>> asking_bytes(r"\\x05")
    b'\\x05'
    """
    escapes = {found[1] for found in _ESCAPE.finditer(text)} - {"\\"}
    sent = _ESCAPE.sub(lambda one: _PLAIN.get(one[1]) or chr(int(one[1][1:], 16)), text)
    try:
        return sent.encode("latin-1" if escapes else "ascii") + (b"" if escapes else b"\r\n")
    except UnicodeEncodeError:
        raise InputError(
            "a scale is asked with plain letters, digits and signs alone",
            code="scale_line_setting",
            found=text,
            remedy=r"Write any other byte as \x and two digits, such as \x05.",
        ) from None
