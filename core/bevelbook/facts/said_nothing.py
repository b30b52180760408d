"""Words that say of a run that nothing was changed before it or happened in it: written down, so not unknown."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.vocabulary import NOTHING

SAYS_NOTHING: Final = (NOTHING, "nothing else", "none", "no", "-")
"""What people write for it."""


def says_nothing(text: str | None) -> bool:
    """Whether a text says that there was nothing; an empty one says nothing at all.

    >>> says_nothing("Nothing"), says_nothing("no"), says_nothing("new rear springs"), says_nothing(None)
    (True, True, False, False)
    """
    return text is not None and text.strip().casefold() in SAYS_NOTHING


def something_sql(column: str) -> str:
    """SQL for the text of a column; NULL where it says that there was nothing."""
    words = ", ".join(f"'{word}'" for word in SAYS_NOTHING)
    return f"CASE WHEN lower(trim({column})) NOT IN ({words}) THEN {column} END"
