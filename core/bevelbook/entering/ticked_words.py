"""A text made of words that are ticked and words that are typed: ``tyres, springs: softer at the front``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.vocabulary import NOTHING
from bevelbook.facts.said_nothing import says_nothing


class TickedWords(NamedTuple):
    """Which words are ticked, :data:`NOTHING` among them, and what was typed beside them."""

    ticked: tuple[str, ...]
    typed: str


def ticked_text(field: str, ticked: Sequence[str], typed: str) -> str:
    """The text for a field; empty where nothing is ticked or typed.

    Raises InputError if *nothing* is ticked beside something else.

    >>> ticked_text("changed", ["tyres", "springs"], "softer"), ticked_text("changed", [], "ride height")
    ('tyres, springs: softer', 'ride height')
    >>> ticked_text("changed", ["nothing"], ""), ticked_text("changed", [], " ")
    ('nothing', '')
    """
    typed = typed.strip()
    others = [word for word in ticked if word != NOTHING]
    if NOTHING in ticked and (others or typed):
        raise InputError(
            f"“{NOTHING}” is ticked, and something else is there too",
            code="nothing_and_something",
            place=Place(field=field),
            found=ticked_text(field, others, typed),
            remedy=f"Take away one of the two: “{NOTHING}”, or the rest. Nothing was changed.",
        )
    head = ", ".join(ticked)
    return f"{head}: {typed}" if head and typed else head or typed


def ticked_in(text: str | None, words: Sequence[str]) -> TickedWords:
    """The same taken apart, so that :func:`ticked_text` makes the same text of it.

    >>> ticked_in("tyres, springs: softer", ("tyres", "oil", "springs"))
    TickedWords(ticked=('tyres', 'springs'), typed='softer')
    >>> ticked_in("tyres, new rear wing", ("tyres", "oil")), ticked_in("No", ("tyres",)).ticked
    (TickedWords(ticked=(), typed='tyres, new rear wing'), ('nothing',))
    """
    whole = (text or "").strip()
    if says_nothing(whole):
        return TickedWords((NOTHING,), "")
    head, colon, rest = whole.partition(": ")
    for known, typed in ((head, rest if colon else ""), ("", whole)):
        ticked = tuple(known.split(", ")) if known else ()
        if set(ticked) <= set(words) and len(set(ticked)) == len(ticked):
            return TickedWords(ticked, typed)
    return TickedWords((), whole)
