"""Headings that are not known but near to one that is: what is proposed, and never taken unless a person says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.notes.headings import Heading, matched, without_unit
from bevelbook.notes.note_columns import MEANINGS, NAMES, TEMP_AT
from bevelbook.notes.places_in_headings import place_and_rest, words_of
from bevelbook.notes.row_words import filled_cells, has_words_only, starts_as_number
from bevelbook.notes.table import Row, height
from bevelbook.reading.heading_words import folded

_NEAR: Final = 0.75
"""How alike two headings are at least, as a share of their letters (difflib's ratio)."""
_NEAR_SHORT: Final = 0.85
_SHORT: Final = 5
_NEAR_WORD: Final = 0.7
"""The same of two words of which one is a slip of the pen."""
_SHORTEST_SLIP: Final = 4
"""A shorter word is not taken for another one: air, rear, dry and day are one letter apart."""
_KNOWN: Final = {**{folded(name): (name,) for name in NAMES}, **MEANINGS}
_OTHER_PARTS: Final = frozenset(("motor", "engine", "tyre", "tire", "wheel", "battery", "servo", "body", "clutch"))
"""Parts of a car of which a field without their name says nothing."""
_VOCABULARY: Final = frozenset(word for known in _KNOWN for word in words_of(known)) | _OTHER_PARTS
_SAME_WORDS: Final = {"".join(sorted(words_of(known))): known for known in reversed(_KNOWN)}
_SAYING_NOTHING: Final = frozenset(("of", "the", "in", "a", "my", "our", "diff", "g", "and", "with"))
_OF_ANYTHING: Final = frozenset(
    ("number", "name", "unit", "time", "best", "fastest", "place", "fill", "change", "full")
)
"""Known headings that other words give another meaning: the number of a motor does not name a diff."""
_LONGEST: Final = 60
_FEWEST_CELLS: Final = 2
_MOST_CELLS: Final = 200
"""A row that is wider is not looked at: no sheet of notes has so many columns."""


class Near(NamedTuple):
    """The fields that a heading may mean. Unless ``is_likely`` they are offered and not proposed."""

    names: tuple[str, ...] = ()
    is_likely: bool = False


@lru_cache(4096)
def near_fields(heading: str, diff_at: str = "") -> Near:
    """The fields that a heading may mean by its words: in another order, one letter wrong, or with words around them.

    A heading with a place means a field of the row's own diff only where that diff is at this place, ``diff_at``; else
    it is the temperature of the diff there, or nothing.

    >>> near_fields("Dry wieght").names, near_fields("weight of diff, dry").names, near_fields("Humour").names
    (('dry_mass_g',), ('dry_mass_g',), ())
    >>> near_fields("Front oil"), near_fields("Front oil", "front").names
    (Near(names=(), is_likely=False), ('oil_mass_g', 'viscosity_cst', 'fluid'))
    """
    low = without_unit(heading)
    if not low or len(low) > _LONGEST:
        return Near()
    if low in _KNOWN:
        return Near(_KNOWN[low], is_likely=True)
    place, rest = place_and_rest(low)
    if place:
        if rest in _KNOWN and (place == diff_at or _KNOWN[rest] == ("diff",)):
            return Near(_KNOWN[rest], is_likely=True)
        found = _by_words(low)
        at_place = tuple(name for name in found.names if TEMP_AT.get(name) == place)
        if at_place:
            return Near(at_place, found.is_likely)
        is_temperature = rest in ("temp", "temperature")
        return Near(tuple(name for name, where in TEMP_AT.items() if where == place and is_temperature))
    return _by_words(low)


def _by_words(low: str) -> Near:
    words = words_of(low)
    same = _SAME_WORDS.get("".join(sorted(words)))
    found = same or _misspelt(low)
    if found:
        return Near(_KNOWN[found], is_likely=True)
    inside = [known for known in _KNOWN if len(known) > 2 and set(words) >= set(known.split())]
    found = max(inside, key=lambda known: (len(known.split()), len(known)), default="")
    names = _KNOWN.get(found, ())
    left = set(words) - set(found.split())
    if left & _OTHER_PARTS:
        return Near()
    is_general = len(names) > 1 or found in _OF_ANYTHING
    return Near(names, bool(names) and not (is_general and left - _SAYING_NOTHING))


def _misspelt(low: str) -> str:
    """The known heading that this one is with a letter wrong in some word; empty if there is none."""
    from difflib import SequenceMatcher

    best, found = 0.0, ""
    matcher = SequenceMatcher(None, "", low)
    for known in _KNOWN:
        matcher.set_seq1(known)
        wanted = max(best, _NEAR if min(len(known), len(low)) >= _SHORT else _NEAR_SHORT)
        if matcher.real_quick_ratio() >= wanted and matcher.quick_ratio() >= wanted:
            ratio = matcher.ratio()
            if ratio >= wanted and ratio > best and _are_slips(words_of(low), words_of(known)):
                best, found = ratio, known
    return found


def _are_slips(words: Sequence[str], known: Sequence[str]) -> bool:
    """Whether each word is the known one, or a slip of the pen for it: long enough, and no word of the trade itself."""
    from difflib import SequenceMatcher

    return len(words) == len(known) and all(
        word == meant
        or (
            word not in _VOCABULARY
            and min(len(word), len(meant)) >= _SHORTEST_SLIP
            and SequenceMatcher(None, word, meant).ratio() >= _NEAR_WORD
        )
        for word, meant in zip(words, known, strict=True)
    )


class Likely(NamedTuple):
    """The row that looks most like a heading; ``score`` is how many of its cells are known or near to a known one."""

    heading: Heading
    score: int


def likely_heading(
    rows: Sequence[Row], own: Mapping[str, str], line: int | None, delimiter: str, *, first_line: int = 1
) -> Likely | None:
    """The row that looks most like a heading though too few of its cells are known; None if no row does.

    It has words only, in two cells or more. Where no cell is near to a known heading, it is the first such row that is
    not narrower than the next and has a number below it. A row given by its line is taken as it is; the first row is on
    ``first_line``.
    """
    best: Likely | None = None
    here = first_line
    for number, row in enumerate(rows):
        cells = filled_cells(row)
        is_here = line == here
        here += height(row)
        if line is not None and not is_here:
            continue
        if len(cells) < _FEWEST_CELLS or not (is_here or (len(cells) <= _MOST_CELLS and has_words_only(row))):
            continue
        columns = tuple(matched(cell, place, own) for place, cell in enumerate(row))
        score = sum(1 for column in columns if column.is_known or _is_near(column.heading))
        below = filled_cells(rows[number + 1]) if number + 1 < len(rows) else {}
        is_table = len(below) > 1 and set(below) <= set(cells) and any(map(starts_as_number, below.values()))
        is_near = score >= _FEWEST_CELLS and 2 * score >= len(cells)
        if (is_near or is_table or is_here) and (best is None or score > best.score):
            best = Likely(Heading(number, columns, tuple(row), delimiter), score)
    return best


def _is_near(heading: str) -> bool:
    return bool(near_fields(heading, place_and_rest(folded(heading))[0]).names)
