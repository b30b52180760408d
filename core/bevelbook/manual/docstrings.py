"""Docstrings as blocks of the manual: paragraphs, lists of names with their meaning, examples to type."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from itertools import pairwise
from textwrap import dedent
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.manual.contents import Block, CommandLine, Entries, ManualEntry, Paragraph

_DEFINED: Final = late_pattern(r"(\S+) {2,}(\S.*)")
_MARKED: Final = (
    (late_pattern(r":[a-z]+:`~?([^`]+)`"), lambda found: found[1].rpartition(".")[2]),
    (late_pattern(r"``([^`]+)``"), lambda found: found[1]),
)
_SET_IN: Final = "    "
_NAMED_FILE: Final = late_pattern(r"``([\w.]+\.\w+)``::$")


class ExampleFile(NamedTuple):
    """A file of an example; ``name`` is empty for the plugin itself."""

    name: str
    text: str


def plain(text: str) -> str:
    """A text of a docstring without its marks, on one line.

    >>> plain("See :class:`~bevelbook.plugin.chart.Chart`, or ``None``.")
    'See Chart, or None.'
    """
    for pattern, words in _MARKED:
        text = pattern.sub(words, text)
    return " ".join(text.split())


def summary_of(documented: object) -> str:
    """The first paragraph of a docstring; empty without one."""
    return plain(next(iter(_parts(inspect.getdoc(documented) or "")), ""))


def example_of(documented: object) -> tuple[ExampleFile, ...]:
    """The files of the example in a docstring: the lines set in behind ``::``."""
    parts = _parts(inspect.getdoc(documented) or "")
    found = []
    for before, part in pairwise(parts):
        if before.endswith("::") and part.startswith(_SET_IN):
            named = _NAMED_FILE.search(before)
            found.append(ExampleFile(named[1] if named else "", dedent(part) + "\n"))
    return tuple(found)


def blocks_of(doc: str) -> Iterator[Block]:
    """A docstring, block by block."""
    for part in _parts(doc):
        lines = part.split("\n")
        if part.startswith((">>>", _SET_IN)):
            yield CommandLine(dedent(part))
        elif all(_DEFINED.match(line) or line.startswith("  ") for line in lines) and _DEFINED.match(lines[0]):
            yield Entries(tuple(_defined(lines)), True)
        elif part != "::":
            yield Paragraph(plain(f"{part.removesuffix('::')}:" if part.endswith("::") else part))


def _parts(doc: str) -> list[str]:
    """A docstring split at its blank lines; what is set in stays together with the blank lines in it."""
    found: list[str] = []
    is_begun = False
    for line in doc.strip("\n").split("\n"):
        is_blank = not line.strip()
        is_set_in = bool(found) and found[-1].startswith(_SET_IN)
        if is_blank:
            is_begun = False
            if is_set_in:
                found[-1] += "\n"
        elif is_begun or (is_set_in and line.startswith(_SET_IN)):
            found[-1] += f"\n{line}"
            is_begun = True
        else:
            found.append(line)
            is_begun = True
    return [part.rstrip("\n") for part in found]


def _defined(lines: list[str]) -> Iterator[ManualEntry]:
    held: list[str] = []
    term = ""
    for line in lines:
        found = _DEFINED.match(line)
        if found and not line.startswith(" "):
            if term:
                yield ManualEntry(term, plain(" ".join(held)))
            term, held = found[1], [found[2]]
        else:
            held.append(line)
    yield ManualEntry(term, plain(" ".join(held)))
