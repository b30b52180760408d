"""Where a diff was in the car: as written with the run, else where it usually runs, and which of the two."""

from __future__ import annotations

from typing import Final

PLACE: Final = "coalesce(x.position, d.usual_position)"
"""The place of the diff ``d`` in the run of the row ``x`` of run_diffs."""
IS_USUAL_PLACE: Final = "x.position IS NULL AND d.usual_position IS NOT NULL"
"""Whether that is its usual place, since the run does not say."""
PLACE_FROM: Final = f"CASE WHEN {IS_USUAL_PLACE} THEN 'usual' WHEN x.position IS NOT NULL THEN 'run' END"
USUAL: Final = "usual"


def place_words(place: str | None, place_from: str | None) -> str:
    """A place as people read it; its usual one is marked.

    >>> place_words("rear", "run"), place_words("rear", USUAL), place_words(None, None)
    ('rear', 'rear, its usual place', '')
    """
    return f"{place}, its usual place" if place and place_from == USUAL else place or ""
