"""How wide a line for people may be: as wide as the terminal, a sentence never wider than is easy to read."""

from __future__ import annotations

from contextvars import ContextVar
from typing import Final

WIDEST: Final = 100
"""Columns from which a sentence goes on in the next line, in the widest terminal and where there is none."""
NARROWEST: Final = 30
"""Columns that a line may always have: in fewer no table and no option can be read."""
_TERMINAL: Final[ContextVar[int | None]] = ContextVar("columns of the terminal", default=None)


def set_terminal_width(columns: int | None) -> None:
    """Say how many columns the terminal has; None where the lines go to a file or to another program."""
    _TERMINAL.set(None if columns is None else max(columns, NARROWEST))


def terminal_width() -> int | None:
    """Columns of the terminal, at least ``NARROWEST``; None where there is none and lines may be of any length."""
    return _TERMINAL.get()


def line_width() -> int:
    """Columns that a sentence may take.

    >>> line_width()
    100
    """
    return min(terminal_width() or WIDEST, WIDEST)
