"""How a diff turned by hand, in a sentence."""

from __future__ import annotations

from typing import Final

_AS_SAID: Final = {"tight spot": "with a tight spot"}
"""Words for a feel that does not follow "turned" as it is written."""


def turned_in_words(feel: str | None) -> str:
    """A feel as it follows "it turned".

    >>> turned_in_words("stiff all round"), turned_in_words("tight spot")
    ('stiff all round', 'with a tight spot')
    """
    return _AS_SAID.get(feel or "", feel or "")
