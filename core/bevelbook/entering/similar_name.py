"""A new name that looks like that of another record: it is written, and said."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.errors import shown
from bevelbook.reading.look_alikes import odd_letters
from bevelbook.reading.near_names import names_like
from bevelbook.records import Kind
from bevelbook.store.lookup import labels_of

_NAMED_BY_PEOPLE: Final = ("person", "car", "venue", "event", "scale", "seal", "diff", "fluid")


def similar_name(connection: sqlite3.Connection, kind: Kind, label: object) -> tuple[str, ...]:
    """A sentence on the names that look like a new one; empty where there is none, or for kinds without such names."""
    if kind.name not in _NAMED_BY_PEOPLE or not isinstance(label, str):
        return ()
    held = [one for one in labels_of(connection, kind) if one != label]
    others = [f"{shown(one)}{_odd(one)}" for one in names_like(label, held)]
    if not others:
        return ()
    return (f"{shown(label)}{_odd(label)} looks like {' and '.join(others)}: is it the same {kind.name}?",)


def _odd(name: str) -> str:
    odd = odd_letters(name)
    return f" (with {', '.join(odd)})" if odd else ""
