"""The help of a command on lines that are broken like all other text: between words, never within a command to copy."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import click

_AS_IT_IS: Final = "\b"
"""The line above a paragraph whose lines stay as they are."""
_NARROWEST: Final = 10
"""Columns that the words behind an option have at least."""
_UNDER: Final = 4
"""Columns by which they are set in below it where one of them, or a command, is too wide to stand behind it."""


class HelpFormatter(click.HelpFormatter):
    """Click's, with paragraphs and the words behind an option set by ``bevelbook.display.wrapping``."""

    def write_text(self, text: str) -> None:
        self.write("\n\n".join(_paragraphs(text, self.width, " " * self.current_indent)) + "\n")

    def write_dl(self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2) -> None:
        left = [*rows]
        first = min(max((len(term) for term, _ in left), default=0), col_max) + col_spacing
        for term, about in left:
            room = self.current_indent + first
            lines = _behind(about, max(self.width - first - 2, _NARROWEST))
            if max(map(len, lines), default=0) > self.width - room:
                room = self.current_indent + _UNDER
                lines = _behind(about, self.width - room)
            before = f"{'':>{self.current_indent}}{term}"
            if lines and len(before) + col_spacing <= room:
                before += " " * (room - len(before)) + lines.pop(0)
            self.write("".join(f"{line.rstrip(' ')}\n" for line in (before, *(" " * room + line for line in lines))))


class HelpContext(click.Context):
    """The context of a command whose help is set so."""

    formatter_class = HelpFormatter


def _behind(about: str, width: int) -> list[str]:
    """The lines of what is said behind an option."""
    return "\n\n".join(_paragraphs(about, width, "")).split("\n") if about else []


def _paragraphs(text: str, width: int, indent: str) -> Iterator[str]:
    """The paragraphs of a help, which blank lines part, each as its lines after an indent."""
    from bevelbook.display.wrapping import wrapped_under

    for paragraph in text.strip("\n").split("\n\n"):
        lines = paragraph.strip("\n").split("\n")
        if lines[0].strip(" ") == _AS_IT_IS:
            yield "\n".join(indent + line for line in lines[1:])
        else:
            yield "\n".join(wrapped_under(" ".join(line.strip() for line in lines), width, indent))
