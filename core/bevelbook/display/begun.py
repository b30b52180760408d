"""Words as they begin a sentence: with a capital, but a name keeps the letters that a person gave it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from bevelbook.declare import vocabulary

_WITH_A_HYPHEN: Final = frozenset(
    word
    for listed in vars(vocabulary).values()
    if isinstance(listed, tuple)
    for words in listed
    if isinstance(words, str)
    for word in words.split()
    if "-" in word
)
"""Words of the lists that are written with a hyphen: ``case-side``."""


def begun(words: str, names: Iterable[str] = ()) -> str:
    """The words with a capital at their start, unless a name is there: one of ``names``, or a first word with a mark
    that words of a sentence do not have, as the names of diffs and builds do. A unit such as cSt keeps its letters too.

    >>> begun("not decided"), begun("b is faster than a", ("a", "b")), begun("better by 2", ("b",))
    ('Not decided', 'b is faster than a', 'Better by 2')
    >>> begun("rear-a/2 is open already"), begun("rear-a's last weighing"), begun("case-side shaft: dry")
    ('rear-a/2 is open already', "rear-a's last weighing", 'Case-side shaft: dry')
    >>> begun("cSt at 25 °C"), begun("kind of oil, mixed")
    ('cSt at 25 °C', 'Kind of oil, mixed')
    """
    if any(name and words.startswith(name) and not words[len(name) :][:1].isalnum() for name in names):
        return words
    if _is_a_name(words.partition(" ")[0].rstrip(".,:;?!")):
        return words
    return words[:1].upper() + words[1:]


def _is_a_name(word: str) -> bool:
    """Whether a word has a mark or a capital where words of a sentence have none."""
    bare = word.replace("'", "")
    return word not in _WITH_A_HYPHEN and not (bare.isalpha() and bare[1:] == bare[1:].lower())
