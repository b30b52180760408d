"""Headings that are not known but near to one that is: what is proposed, and never taken unless a person says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.notes.headings import Heading, folded, matched, without_unit
from bevelbook.notes.note_columns import MEANINGS, NAMES
from bevelbook.notes.row_words import filled_cells, has_words_only, starts_as_number
from bevelbook.notes.table import Row, height

_NEAR: Final = 0.75
"""How alike two headings are at least, as a share of their letters (difflib's ratio)."""
_NEAR_SHORT: Final = 0.85
_SHORT: Final = 5
_KNOWN: Final = {**{folded(name): (name,) for name in NAMES}, **MEANINGS}
_LONGEST: Final = 60
_FEWEST_CELLS: Final = 2
_MOST_CELLS: Final = 200
"""A row that is wider is not looked at: no sheet of notes has so many columns."""


@lru_cache(4096)
def near_fields(heading: str) -> tuple[str, ...]:
    """The fields that a heading may mean by its spelling: one letter wrong, or a known heading with words around it.

    >>> near_fields("Dry wieght"), near_fields("weight of diff, dry"), near_fields("Humour")
    (('dry_mass_g',), ('dry_mass_g',), ())
    """
    from difflib import SequenceMatcher

    low = without_unit(heading)
    if not low or len(low) > _LONGEST:
        return ()
    if low in _KNOWN:
        return _KNOWN[low]
    best, found = 0.0, ""
    matcher = SequenceMatcher(None, "", low)
    for word in _KNOWN:
        matcher.set_seq1(word)
        wanted = max(best, _NEAR if min(len(word), len(low)) >= _SHORT else _NEAR_SHORT)
        if matcher.real_quick_ratio() >= wanted and matcher.quick_ratio() >= wanted:
            ratio = matcher.ratio()
            if ratio >= wanted and ratio > best:
                best, found = ratio, word
    if not found:
        words = set(low.replace(",", " ").split())
        inside = [word for word in _KNOWN if len(word) > 2 and words >= set(word.split())]
        found = max(inside, key=lambda word: (len(word.split()), len(word)), default="")
    return _KNOWN.get(found, ())


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
        score = sum(1 for column in columns if column.is_known or near_fields(column.heading))
        below = filled_cells(rows[number + 1]) if number + 1 < len(rows) else {}
        is_table = len(below) > 1 and set(below) <= set(cells) and any(map(starts_as_number, below.values()))
        is_near = score >= _FEWEST_CELLS and 2 * score >= len(cells)
        if (is_near or is_table or is_here) and (best is None or score > best.score):
            best = Likely(Heading(number, columns, tuple(row), delimiter), score)
    return best
