"""What a page of the manual is made of. The terminal and the browser show the same contents."""

from __future__ import annotations

from typing import Any, NamedTuple


class Paragraph(NamedTuple):
    """A few sentences."""

    text: str

    @property
    def kind(self) -> str:
        return "paragraph"


class Bullets(NamedTuple):
    """Lines of a list."""

    lines: tuple[str, ...]

    @property
    def kind(self) -> str:
        return "bullets"


class CommandLine(NamedTuple):
    """A command as it is typed, or the lines of a program for another one."""

    text: str

    @property
    def kind(self) -> str:
        return "command"


class Cautions(NamedTuple):
    """Cautions of the work, shown in a box."""

    lines: tuple[str, ...]

    @property
    def kind(self) -> str:
        return "cautions"


class ManualEntry(NamedTuple):
    """A term with its explanation; ``beside`` is a quieter line under it, ``topic`` the page it leads to."""

    term: str
    words: str
    beside: str = ""
    topic: str = ""


class Entries(NamedTuple):
    """Terms with their explanations. ``are_typed`` where the terms are words of a command, a file or the database."""

    entries: tuple[ManualEntry, ...]
    are_typed: bool = False

    @property
    def kind(self) -> str:
        return "entries"


Block = Paragraph | Bullets | CommandLine | Cautions | Entries


class Section(NamedTuple):
    """A part of a page; without a title it begins the page."""

    title: str
    blocks: tuple[Block, ...]


class ManualPage(NamedTuple):
    """One page. ``topic`` is the word that asks for it, ``lead`` the sentence under its title."""

    topic: str
    title: str
    lead: str
    sections: tuple[Section, ...]

    def as_dict(self) -> dict[str, Any]:
        """The page for programs."""
        return {
            "topic": self.topic,
            "title": self.title,
            "lead": self.lead,
            "sections": [
                {"title": section.title, "blocks": [_block(block) for block in section.blocks]}
                for section in self.sections
            ],
        }


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Entries):
        return {"kind": block.kind, "entries": [entry._asdict() for entry in block.entries]}
    return {"kind": block.kind, **block._asdict()}
