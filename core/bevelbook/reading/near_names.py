"""Names that may be two spellings of one: drawn alike, with a word more or less, or with a slip of the pen.

This is asked in the same way of a name that a file brings, of one that is typed, and of all that a book holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.reading.look_alikes import look_alikes

_MOST: Final = 8
"""Names that one name is like, at most."""
_SHORTEST_SLIP: Final = 4
"""A shorter word is not taken for another one: front-a and front-b are two diffs."""
_NEAR_WORD: Final = 0.75
"""How alike two words are of which one is a slip of the pen, as a share of their letters (difflib's ratio)."""
_COMPARED: Final = 300
"""Of more names with the same numbers in them, the latest so many are held against each other."""
_WORD: Final = late_pattern(r"[^\W_]+")
_DIGITS: Final = late_pattern(r"\d+")


def names_like(name: str, known: Sequence[str]) -> list[str]:
    """The known names that a new one may be another spelling of: drawn alike, with a word more or less, or with a slip
    of the pen. Names with other numbers are none.

    >>> names_like("5k", ["tin 5k", "tin 7k", "15k"]), names_like("Tannery hall", ["Tannery Hall"])
    (['tin 5k'], ['Tannery Hall'])
    >>> names_like("jorris", ["joris", "ana"]), names_like("K-03", ["K-01"]), names_like("front-b", ["front-a"])
    (['joris'], [], [])
    """
    alike = [one for group in look_alikes((name, *known)) if name in group for one in group if one != name]
    digits, words = _DIGITS.findall(name), _words(name)
    near = (one for one in known if one not in alike and _DIGITS.findall(one) == digits)
    return [*alike, *(one for one in near if _are_near(words, _words(one)))][:_MOST]


def near_pairs(names: Iterable[str]) -> list[tuple[str, str]]:
    """The pairs of names that may be two spellings of one, the earlier one first; of a group that is drawn alike the
    first with each other one.

    >>> near_pairs(["7k", "bo", "house 7k", "5k", "Bo K.", "BO"])
    [('bo', 'BO'), ('7k', 'house 7k'), ('bo', 'Bo K.')]
    """
    listed = list(dict.fromkeys(names))
    groups = look_alikes(listed)
    first = {name: group[0] for group in groups for name in group}
    by_digits: dict[tuple[str, ...], list[tuple[str, list[str]]]] = {}
    for name in listed:
        if first.get(name, name) == name:
            by_digits.setdefault(tuple(_DIGITS.findall(name)), []).append((name, _words(name)))
    return [(group[0], other) for group in groups for other in group[1:]] + [
        (one, other)
        for of_digits in by_digits.values()
        for (one, words), (other, others) in combinations(of_digits[-_COMPARED:], 2)
        if _are_near(words, others)
    ]


def _words(name: str) -> list[str]:
    return _WORD.findall(name.casefold())


def _are_near(words: Sequence[str], known: Sequence[str]) -> bool:
    """Whether one has all the words of the other, or each word is that of the other or a slip of the pen for it."""
    one, other = set(words), set(known)
    if one and other and (one <= other or one >= other):
        return True
    return len(words) == len(known) and all(map(_is_slip, words, known))


def _is_slip(word: str, known: str) -> bool:
    from difflib import SequenceMatcher

    is_long = min(len(word), len(known)) >= _SHORTEST_SLIP
    return word == known or (is_long and SequenceMatcher(None, word, known).ratio() >= _NEAR_WORD)
