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


def ticked_text(ticked: Sequence[str], typed: str) -> str:
    """The text for a field; empty where nothing is ticked or typed.

    >>> ticked_text(["tyres", "springs"], "softer"), ticked_text([], "ride height"), ticked_text(["nothing"], " ")
    ('tyres, springs: softer', 'ride height', 'nothing')
    """
    head, typed = ", ".join(ticked), typed.strip()
    return f"{head}: {typed}" if head and typed else head or typed


def refuse_nothing_beside_something(field: str, text: str, words: Sequence[str]) -> None:
    """Raise InputError if *nothing* is ticked beside something else."""
    found = ticked_in(text, words)
    if NOTHING in found.ticked and (found.typed or len(found.ticked) > 1):
        raise InputError(
            f"“{NOTHING}” is chosen, and something else is there too",
            code="nothing_and_something",
            place=Place(field=field),
            found=ticked_text([word for word in found.ticked if word != NOTHING], found.typed),
            remedy=f"Take away one of the two: “{NOTHING}”, or the rest. Nothing was changed.",
        )


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
        if set(ticked) <= {*words, NOTHING} and len(set(ticked)) == len(ticked):
            return TickedWords(ticked, typed)
    return TickedWords((), whole)
