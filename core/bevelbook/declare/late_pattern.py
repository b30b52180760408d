"""A regular expression that is compiled when it is first asked: a command needs few of the hundreds that there are, and
compiling them all would take longer than most commands."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from re import Pattern


class _LatePattern:
    """Stands for a pattern until something of it is asked for."""

    def __init__(self, text: str, flags: int) -> None:
        self.pattern, self._flags = text, flags

    def __getattr__(self, name: str) -> Any:
        found = getattr(re.compile(self.pattern, self._flags), name)
        if not name.startswith("_"):
            setattr(self, name, found)
        return found

    def __repr__(self) -> str:
        return f"late_pattern({self.pattern!r})"


def late_pattern(text: str, flags: int = 0) -> Pattern[str]:
    """What ``re.compile`` gives, made at its first use. Raises re.error then, for a text that is none.

    >>> late_pattern("b+").sub("x", "abba")
    'axa'
    """
    late: Any = _LatePattern(text, flags)
    return late  # type: ignore[no-any-return]
