"""The masses of a bottle checked as they are typed: full it weighs more than empty."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.declare.errors import InputError, Place

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_FULL: Final = "full_mass_g"
_EMPTY: Final = "empty_mass_g"


def with_bottle_masses_checked(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The record as it is. Raises InputError for a bottle that would weigh no more full than empty; a mass that is not
    typed now is as its record has it."""
    typed = [name for name in (_FULL, _EMPTY) if entry.values.get(name) is not None]
    if entry.kind.name != "bottle" or not typed:
        return entry
    held = None
    if entry.row_id is not None:
        held = connection.execute(f"SELECT {_FULL}, {_EMPTY} FROM bottles WHERE id = ?", (entry.row_id,)).fetchone()
    was = dict(zip((_FULL, _EMPTY), held or (None, None), strict=True))
    full_g, empty_g = (entry.values.get(name, was[name]) for name in (_FULL, _EMPTY))
    if full_g is None or empty_g is None or full_g > empty_g:
        return entry
    raise InputError(
        f"a full bottle of {full_g:g} g cannot weigh less than, or as much as, the empty one of {empty_g:g} g",
        code="full_not_over_empty",
        place=Place(field=typed[-1]),
        found=entry.entered.get(typed[-1]),
        remedy="Read both again, with the cap on: is one of them the other?",
    )
