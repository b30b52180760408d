"""Who may hold a phone: the people of the book, and a new name."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.unseen import is_unseen
from bevelbook.facts.standing import stands_alone_sql

LONGEST: Final = 60
"""Letters of the name of a person or a phone."""


def people_of(connection: sqlite3.Connection) -> list[str]:
    """The recorded people, by name."""
    every = connection.execute(f"SELECT name FROM people WHERE {stands_alone_sql('person')} ORDER BY name, id")
    return [str(row[0]) for row in every]


def usable_name(text: str, field: str, words: str) -> str:
    """A name as it is kept, its spaces single. Raises InputError with the field as place."""
    name = " ".join(text.split())
    if not name:
        raise InputError(
            f"{words} is missing", code="pairing_name", place=Place(field=field), remedy="Nothing was stored."
        )
    if len(name) > LONGEST or any(not one.isprintable() or is_unseen(one) for one in name):
        raise InputError(
            f"{words} has more than {LONGEST} letters, or signs that nobody sees",
            code="pairing_name",
            place=Place(field=field),
            remedy="Nothing was stored.",
        )
    return name


def as_recorded(name: str, people: list[str]) -> str | None:
    """The recorded person that a name means, whatever its capitals; None for a new one."""
    return next((one for one in people if one.casefold() == name.casefold()), None)
