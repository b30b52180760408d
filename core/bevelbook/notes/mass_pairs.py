"""Two columns of masses that say together what they are: ``Weight before`` and ``Weight after``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.notes.fitting import fits
from bevelbook.notes.headings import Column, without_unit
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.places_in_headings import words_of
from bevelbook.notes.table import Row
from bevelbook.reading import ReadingError, read

_SIDES: Final = {"before": "dry_mass_g", "after": "total_mass_g"}
_AROUND: Final = frozenset(("weight", "mass", "wt", "g", "oil", "fill", "filling", "of", "diff", "the"))


def named_in_pair(heading: str) -> str | None:
    """The mass that a heading names if the other one of its pair is there; else None.

    >>> named_in_pair("Weight before"), named_in_pair("AFTER (g)"), named_in_pair("Laps after")
    ('dry_mass_g', 'total_mass_g', None)
    """
    words = [word for word in words_of(without_unit(heading)) if word not in _AROUND]
    return _SIDES.get(words[0]) if len(words) == 1 else None


def mass_pair(columns: Sequence[Column], rows: Sequence[Row]) -> dict[int, str]:
    """The places of the two columns of a pair, each with its mass; empty unless there are just these two, and the
    second is the heavier one in every row that has both."""
    named = [(column.place, named) for column in columns if (named := named_in_pair(column.heading))]
    if sorted(name for _, name in named) != sorted(_SIDES.values()):
        return {}
    places = {name: place for place, name in named}
    dry, total = places["dry_mass_g"], places["total_mass_g"]
    both = [(row[dry], row[total]) for row in rows if max(dry, total) < len(row) and row[dry] and row[total]]
    masses = [(_grams("dry_mass_g", one), _grams("total_mass_g", other)) for one, other in both]
    is_filled = all(one is None or other is None or one < other for one, other in masses)
    fit = fits("dry_mass_g", None, [one for one, _ in both]) and fits("total_mass_g", None, [one for _, one in both])
    return dict(named) if is_filled and fit else {}


def _grams(name: str, cell: str) -> float | None:
    try:
        value = read(BY_NAME[name], str(cell))
    except ReadingError:
        return None
    return value if isinstance(value, float) else None
