"""A name as one word of a command that is printed for people to copy."""

from __future__ import annotations

import shlex
from typing import Final

_ODD: Final = frozenset('"$`\\!')
"""Signs that mean something to a shell also in double quotes."""


def in_command(text: str) -> str:
    """A text as one word of a command, in double quotes where it needs any: in a sentence a command stands in single
    ones, and what is between these is copied.

    >>> print(in_command("rear-a/3"), in_command("rear A"), in_command("bo's tin"), in_command("cost $5"))
    rear-a/3 "rear A" "bo's tin" 'cost $5'
    """
    whole = shlex.quote(text)
    return whole if whole == text or not _ODD.isdisjoint(text) else f'"{text}"'
