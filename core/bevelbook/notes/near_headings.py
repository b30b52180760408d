"""Headings that are not known but near to one that is: what is proposed, and never taken unless a person says so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from functools import lru_cache
from typing import Final

from bevelbook.notes.headings import folded, matched, without_unit
from bevelbook.notes.note_columns import MEANINGS, NAMES
from bevelbook.notes.table import Row
from bevelbook.reading.faults import trimmed

_NEAR: Final = 0.75
"""How alike two headings are at least, as a share of their letters (difflib's ratio)."""
_NEAR_SHORT: Final = 0.85
_SHORT: Final = 5
_KNOWN: Final = {**{folded(name): (name,) for name in NAMES}, **MEANINGS}
_LONGEST: Final = 60
_FEWEST_NEAR: Final = 2


@lru_cache(4096)
def near_fields(heading: str) -> tuple[str, ...]:
    """The fields that a heading may mean by its spelling: one letter wrong, or a known heading with words around it.

    >>> near_fields("Dry wieght"), near_fields("weight of diff, dry"), near_fields("Humour")
    (('dry_mass_g',), ('dry_mass_g',), ())
    """
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


def likely_heading(rows: Sequence[Row], own: Mapping[str, str]) -> int | None:
    """The row that looks most like a heading though too few of its cells are known: two or more known or near, no
    numbers. None if no row does."""
    best: tuple[int, int] | None = None
    for number, row in enumerate(rows):
        cells = [cell for cell in row if trimmed(cell)]
        if len(cells) < _FEWEST_NEAR or any(_is_number(cell) for cell in cells):
            continue
        score = sum(1 for place, cell in enumerate(cells) if matched(cell, place, own).is_known or near_fields(cell))
        if score >= _FEWEST_NEAR and 2 * score >= len(cells) and (best is None or score > best[0]):
            best = (score, number)
    return best[1] if best else None


def _is_number(cell: str) -> bool:
    return trimmed(cell).replace(".", "").replace(",", "").replace("-", "").isdecimal()
