"""Text on lines up to a given width: words stay whole, and a command to copy stays on its line. Whatever is broken into
lines for a terminal is broken here."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.printable import JOINERS
from bevelbook.display.line_width import terminal_width
from bevelbook.display.unbroken import HELD, KEPT, held_with_commands, released

_COMMAND: Final = late_pattern(r"\s*(?:\$ |[^:.]{1,30}: +)?bevelbook ")
_BOX: Final = late_pattern(r"\[ \] ")
"""A box to tick: it stays whole, and with the word that it is for."""
_BEFORE_WORDS: Final = late_pattern(r"\s*(?:(?:->|-|\d+\.|\[.\]|\d+) +)?")


def fitted(line: str) -> list[str]:
    """A line as lines that fit the terminal, each further one under the first one's words.

    The line as it is without a terminal, and where it is a command to copy.

    >>> fitted("a line of any length where there is no terminal")
    ['a line of any length where there is no terminal']
    """
    width = terminal_width()
    if width is None or display_width(line) <= width or _COMMAND.match(line):
        return [line]
    return hanging(line, width)


def hanging(line: str, width: int) -> list[str]:
    """A line on lines at most ``width`` wide where a word allows it, each further one under the first one's words.

    >>> hanging("  - shims under the gear", 15)
    ['  - shims under', '    the gear']
    """
    found = _BEFORE_WORDS.match(line)
    before = found[0] if found else ""
    first, *further = wrapped_words(line[len(before) :], width - display_width(before))
    under = " " * display_width(before)
    return [before + first, *(under + words for words in further)]


def display_width(text: str) -> int:
    """How many columns of the terminal a text takes: two for a wide character, none for a combining mark.

    Source: Unicode Standard Annex 11, East Asian Width (W and F are wide).

    >>> display_width("oil"), display_width("油"), display_width("e\u0301")
    (3, 2, 1)
    """
    if text.isascii():
        return len(text)
    from unicodedata import category, east_asian_width

    return sum(
        0 if category(c) in ("Mn", "Me") or c in JOINERS else 2 if east_asian_width(c) in "WF" else 1 for c in text
    )


def wrapped_words(text: str, width: int) -> list[str]:
    """The words of a text on lines at most ``width`` wide; a word that is wider has a line of its own.

    A number stays with its unit, a box to tick with its word, a command whole.

    >>> wrapped_words("[ ] smooth [ ] gritty", 14)
    ['[ ] smooth', '[ ] gritty']
    >>> wrapped_words("three fillings of oil", 9)
    ['three', 'fillings', 'of oil']
    >>> wrapped_words("see 'bevelbook help import' for it", 9)
    ['see', "'bevelbook help import'", 'for it']
    """
    lines = [""]
    for word in _words(text, width):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if lines[-1] and display_width(longer) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return [released(line) for line in lines]


def wrapped_under(text: str, width: int, first: str = "", further: str | None = None) -> list[str]:
    """A text on lines at most ``width`` wide with what stands before them: ``first`` before the first, ``further``
    before the others (the same where it is None). No line for a text without words.

    A line break in it counts as a blank, and a word, a command, a box with its word or a number with its unit is never
    broken.

    >>> wrapped_under("oil rear-a/12 and 'bevelbook help import'", 12, "- ", "  ")
    ['- oil', '  rear-a/12', '  and', "  'bevelbook help import'"]
    """
    from textwrap import wrap

    lines = wrap(
        _held(text),
        width,
        initial_indent=first,
        subsequent_indent=first if further is None else further,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [released(line) for line in lines]


def _held(text: str) -> str:
    return _BOX.sub(f"[{KEPT}]{KEPT}", held_with_commands(text))


def _words(text: str, width: int) -> Iterator[str]:
    """The words of a text; a number and its unit are one where that fits the width, a command is one in any."""
    for word in _held(text).split(" "):
        if HELD in word and display_width(word) > width:
            yield from word.split(HELD)
        else:
            yield word
