"""Names that are words of the language too: they are listed before they go out of texts."""

from __future__ import annotations

from functools import cache
from typing import Final

from bevelbook.declare import vocabulary
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.reading.names_in_texts import words_of

_LEAST_LETTERS: Final = 3
"""A shorter name is an initial or half a word."""
_LIST: Final = """
am an as at be by do go ha he hi if in is it la lo ma me mi my no of oh ok on or pa so ta to up us we
april art august autumn basil beau bill black blue bob brown buck bud bunny carol chance chase chip chuck clay cliff
coach cook crew dale dawn dean don drew driver duke dusty earl eve ever faith fern fisher flint forest frank gage gale
gene glen grace grant gray green guy hall hank hazel heath holly hope hunter iris ivy jack jade jan jay jet joy june
ken king lance laurel lily link mace mark mason max may mel mike miles nick norm olive page pat pearl peg penny pierce
piper price ray red reed rich rip river rob robin rock rod rose ruby rush rusty sandy scooter scout sierra skip sky
spike spring star stone storm stormy sue summer sunny tab terry tip tom trip victor violet wade ward web white will
willow win winter wood woody young
"""
_WORDS: Final = frozenset(_LIST.split())
"""English; a list of our own."""
_LETTERS: Final = late_pattern(r"[^\W\d_]+")


@cache
def common_words() -> frozenset[str]:
    """Words that a name may be as well: of everyday language, and of the lists that a record is filled in with."""
    said = [
        word
        for name, value in vars(vocabulary).items()
        if name.isupper() and isinstance(value, tuple) and all(isinstance(one, str) for one in value)
        for text in value
        for word in _LETTERS.findall(text.casefold())
    ]
    return _WORDS | frozenset(said)


def is_common_word(name: str) -> bool:
    """Whether a name of one word is a word of the language too, or too short to be anything else.

    >>> [is_common_word(name) for name in ("May", "jo", "anna", "may brook")]
    [True, True, False, False]
    """
    words = words_of(name)
    return len(words) == 1 and (words[0] in common_words() or len(words[0]) < _LEAST_LETTERS)
