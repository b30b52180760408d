"""Text that a terminal can show: no control character, and none that turns the direction of what follows."""

from __future__ import annotations

from typing import Final

_NEVER_PRINTED: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
JOINERS: Final = frozenset("\u200c\u200d")
"""Characters without width that some scripts need between letters."""


def printable(text: str) -> str:
    """A text on one line: line breaks and tabs as blanks, other control characters written out as escapes.

    >>> printable("red\\x1b[2J\\nbox")
    'red\\\\x1b[2J box'
    """
    if text.isascii() and text.isprintable():
        return text
    from unicodedata import category

    return "".join(
        " "
        if c in "\t\n\r"
        else c.encode("unicode_escape").decode()
        if category(c) in _NEVER_PRINTED and c not in JOINERS
        else c
        for c in text
    )
