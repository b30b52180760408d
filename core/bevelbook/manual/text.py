"""A page of the manual for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.display.line_width import line_width
from bevelbook.display.table import table_lines
from bevelbook.display.wrapping import wrapped_under
from bevelbook.manual.contents import Block, Bullets, Cautions, CommandLine, Entries, ManualEntry, ManualPage, Paragraph

LONGEST_TERM: Final = 24
"""Columns of the terminal up to which a term shares its line with its explanation."""


def page_lines(page: ManualPage) -> Iterator[str]:
    """A page, line by line, at most ``line_width()`` letters wide where a word allows it."""
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
            yield from (f"  {line}" for line in text.split("\n"))
        case Bullets(lines) | Cautions(lines):
            for line in lines:
                yield from _set_in(line, "  - ", "    ")
        case Entries(entries):
            rows = [row for entry in entries for row in _entry_rows(entry)]
            yield from table_lines(rows, indent="  ", widest=LONGEST_TERM, wrap_at=line_width())


def _entry_rows(entry: ManualEntry) -> Iterator[tuple[str, str]]:
    yield entry.term, entry.words
    if entry.beside:
        yield "", entry.beside


def _set_in(text: str, first: str, further: str | None = None) -> list[str]:
    """A wrapped text after its first words or indent; without words only those."""
    return wrapped_under(text, line_width(), first, further) or [first.rstrip()]
