"""Names that are words of the language too: they are listed before they go out of texts."""

from __future__ import annotations

from typing import Final

from bevelbook.store.erased_marks import words_of

_LEAST_LETTERS: Final = 3
"""A shorter name is an initial or half a word."""
_LIST: Final = """
april art august autumn basil beau bill black blue bob brown buck bud carol chance chase chip chuck clay cliff dale
dawn dean drew dusty eve faith fern flint frank gage gene glen grace grant gray green guy hank hazel heath holly
hope ivy jack jade june ken lance link mace mark mason max may mel mike miles nick norm olive page pat pearl peg
penny pierce piper ray reed rich rob rock rod rose ruby rush rusty sandy skip spring star stone stormy sue summer
sunny terry tip tom trip victor wade ward web white will win woody young
"""
_WORDS: Final = frozenset(_LIST.split())
"""English; a list of our own."""


def is_common_word(name: str) -> bool:
    """Whether a name of one word is a word of the language too, or too short to be anything else.

    >>> [is_common_word(name) for name in ("May", "jo", "anna", "may brook")]
    [True, True, False, False]
    """
    words = words_of(name)
    return len(words) == 1 and (words[0] in _WORDS or len(words[0]) < _LEAST_LETTERS)
