"""The words of a heading: without differences that mean nothing, and parted into a name and the unit behind it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from typing import Final

from bevelbook.declare.unseen import without_unseen
from bevelbook.reading.faults import trimmed

_MARKS: Final = " :*†‡§?¹²³⁴⁵⁶⁷⁸⁹⁰"
"""What may be behind a heading and says nothing of its meaning."""


def folded(heading: str) -> str:
    """A heading without differences of case, blanks, underscores and dots, and without a colon or a footnote mark
    behind it.

    >>> folded(" Dry_Mass: "), folded("Oil in*"), folded("diff #")
    ('dry mass', 'oil in', 'diff #')
    """
    plain = unicodedata.normalize("NFC", without_unseen(trimmed(heading))).casefold()
    words = " ".join(plain.replace("_", " ").replace(".", " ").split())
    return words.rstrip(_MARKS) or words


def name_and_unit(heading: str) -> Iterator[tuple[str, str, bool]]:
    """``dry mass (g)``, ``dry mass [g]``, ``dry mass / g``, ``dry mass in g``, ``dry_mass_g``: the name, the unit's
    text, and whether brackets mark it as a unit."""
    plain = " ".join(heading.replace("_", " ").split()).rstrip(_MARKS + ".")
    for opening, closing in ("()", "[]"):
        if plain.endswith(closing) and opening in plain:
            bare, _, unit = plain[:-1].rpartition(opening)
            yield bare.strip(), unit.strip(), True
            return
    for sign in ("/", ",", " "):
        bare, found, unit = plain.rpartition(sign)
        if found and unit.strip():
            yield bare.rstrip(" ,/-–:").removesuffix(" in"), unit.strip(), False
