"""One thing of a list as a block that fits a phone: a head with a word beside it, then short lines."""

from __future__ import annotations

from typing import Final, NamedTuple

from markupsafe import Markup

Words = Markup | str
_LONGEST_WORD: Final = 22
"""Letters that stand beside a head on a phone."""


class ListedBlock(NamedTuple):
    """A block of a list: ``head`` is read first, ``word`` is at its right, then ``lines``, the last in quiet ink."""

    head: Words
    word: Words = ""
    lines: tuple[Words, ...] = ()
    quiet: Words = ""


def block(head: Words, word: Words = "", *lines: Words, quiet: Words = "") -> ListedBlock:
    """A block without its empty lines; a word that is too long to stand beside the head is the first of them.

    >>> block("7,000 cSt", "keep", "", "felt planted").lines
    ('felt planted',)
    >>> block("7,000 cSt", "kept and changed on 2 days").lines
    ('kept and changed on 2 days',)
    """
    if len(Markup(word).striptags()) > _LONGEST_WORD:
        word, lines = "", (word, *lines)
    return ListedBlock(head, word, tuple(line for line in lines if line), quiet)


def joined(*parts: Words | None, by: str = ", ") -> Words:
    """The parts that are not empty, one after the other.

    >>> str(joined("rear", "", "7,000 cSt"))
    'rear, 7,000 cSt'
    """
    return Markup(by).join(part for part in parts if part)
