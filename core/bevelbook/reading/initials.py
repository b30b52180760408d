"""Whether a letter beside a name is an initial: "b. lindqvist", "A. Berg", "Bo L.", "Lindqvist, B."

A letter may as well be a word ("saw a Berg"), a unit ("5 l Lindqvist") or half of one ("Bo O-ring"). Whose initial it
can be is of ``names_in_texts``; here is what the signs around it say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern

_BEFORE: Final = late_pattern(r"\.?\s{0,2}|\.?[-_\u2010\u2011]")
"""What may stand between an initial and the name behind it."""
_AFTER: Final = late_pattern(r",?\s{1,2}|[-_.\u2010\u2011]")
"""What may stand between a name and the initial behind it."""
_COMMA: Final = ","
_JOINED_BEFORE: Final = late_pattern(r"[^\W_][-\u2010\u2011'\u2019&/+=\u00b0]$")
_JOINED_AFTER: Final = late_pattern(r"[-\u2010\u2011&/+=]\w|['\u2019](?!s\b)\w")
_WORD_BEHIND: Final = late_pattern(r"\.\s{0,2}([^\W\d_])[^\W\d_]")
_APOSTROPHE: Final = ("'", "\u2019")
_NUMBER_BEFORE: Final = late_pattern(r"\d\s?$")
_WORDS_OF_ONE_LETTER: Final = frozenset("aàáeèéiíoóuúyskvwzå")
"""In languages that a team may write, and the s of a name (common practice, no source)."""
_I: Final = "I"
_STOP_OF_INITIAL: Final = late_pattern(r"\.(?=\s?[,;:)]|\s+[^\W\d_A-Z])")
"""The full stop of an initial, where the sentence goes on behind it."""


def is_initial_before(text: str, start: int, end: int, next_start: int) -> bool:
    """Whether the letter from ``start`` to ``end`` is an initial of the name or the initial that begins at
    ``next_start``."""
    between = text[end:next_start]
    if _BEFORE.fullmatch(between) is None:
        return False
    return _is_initial(text, start, end, is_marked=between[:1] in (".", "-", "_", "\u2010", "\u2011"))


def is_initial_after(text: str, start: int, end: int, last_end: int, *, follows_initial: bool) -> bool:
    """Whether the letter from ``start`` to ``end`` is an initial of the name, or beside the initial, that ends at
    ``last_end``."""
    between = text[last_end:start]
    is_dotted = text[end : end + 1] == "."
    if (_BEFORE if follows_initial else _AFTER).fullmatch(between) is None:
        return False
    if _COMMA in between and (not is_dotted or _is_of_the_next(text, end)):
        return False
    is_joined = not between[-1:].isspace()
    if not is_dotted and _JOINED_AFTER.match(text, end):
        return False
    return _is_initial(text, start, end, is_marked=is_dotted or is_joined)


def _is_of_the_next(text: str, end: int) -> bool:
    """Whether a name may follow this initial: "Lindqvist, A. Berg"."""
    word = _WORD_BEHIND.match(text, end)
    return word is not None and word[1].isupper()


def _is_initial(text: str, start: int, end: int, *, is_marked: bool) -> bool:
    letter = text[start:end]
    before = text[max(0, start - 2) : start]
    if before.endswith(_APOSTROPHE):
        return False
    if _NUMBER_BEFORE.search(before) and not (is_marked and letter.isupper()):
        return False
    if is_marked:
        return True
    return letter != _I and letter not in _WORDS_OF_ONE_LETTER and _JOINED_BEFORE.search(before) is None


def end_of_initial(text: str, end: int) -> int:
    """Where an initial that is behind its name ends: with its full stop, unless that may end the sentence.

    >>> [end_of_initial(text, 4) for text in ("Bo L. says", "Bo L. Then", "Bo L")]
    [5, 4, 4]
    """
    stop = _STOP_OF_INITIAL.match(text, end)
    return end if stop is None else stop.end()


class LetterBeside(NamedTuple):
    """A letter that is left beside what stands for a person (the text ``who``), and both as ``text`` has them."""

    letter: str
    who: str
    text: str


def letters_beside(text: str, neutral: str) -> Iterator[LetterBeside]:
    """The letters that stand alone before or behind what stands for a person, a pattern with one group."""
    for found in re.finditer(rf"(?<![\w'\u2019])([^\W\d_])\.?[\s_-]{{1,2}}{neutral}", text):
        yield LetterBeside(found[1], found[2], found[0])
    for found in re.finditer(rf"{neutral},?\s{{1,2}}([^\W\d_])(?![\w'\u2019-])", text):
        yield LetterBeside(found[2], found[1], found[0])
