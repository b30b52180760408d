"""A page of the manual for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap
from typing import Final

from bevelbook.display.format import LINE
from bevelbook.manual.contents import Block, Bullets, Cautions, CommandLine, Entries, ManualEntry, ManualPage, Paragraph

LONGEST_TERM: Final = 24
"""Letters of a term up to which its explanation begins on the same line."""


def page_lines(page: ManualPage) -> Iterator[str]:
    """A page, line by line, at most ``LINE`` letters wide where a word allows it."""
    yield page.title
    yield from _set_in(page.lead, "")
    for section in page.sections:
        yield ""
        if section.title:
            yield section.title
        for block in section.blocks:
            yield from _block_lines(block)


def _block_lines(block: Block) -> Iterator[str]:
    match block:
        case Paragraph(text):
            yield from _set_in(text, "  ")
        case CommandLine(text):
            yield f"  {text}"
        case Bullets(lines) | Cautions(lines):
            for line in lines:
                yield from _set_in(line, "  - ", "    ")
        case Entries(entries):
            width = max((len(one.term) for one in entries if len(one.term) <= LONGEST_TERM), default=0)
            for one in entries:
                yield from _entry_lines(one, width)


def _entry_lines(entry: ManualEntry, width: int) -> Iterator[str]:
    further = " " * (width + 4)
    words = entry.words
    if len(entry.term) > width:
        yield f"  {entry.term}"
        yield from _set_in(words, further)
    else:
        yield from _set_in(words, f"  {entry.term:<{width}}  ", further)
    if entry.beside:
        yield from _set_in(entry.beside, further)


def _set_in(text: str, first: str, further: str | None = None) -> list[str]:
    """Lines of a text behind a beginning; a text without words is the beginning alone."""
    lines = wrap(
        text,
        LINE,
        initial_indent=first,
        subsequent_indent=first if further is None else further,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return lines or [first.rstrip()]
