"""The masses of a bottle checked as they are typed: full it weighs more than empty, and on the scale something in
between."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.facts.bottles_left import NOISE_G

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_FULL: Final = "full_mass_g"
_EMPTY: Final = "empty_mass_g"


def with_bottle_masses_checked(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The record as it is. Raises InputError for a bottle that would weigh no more full than empty, or of which a
    reading on the scale would be under its empty mass or over its full one; and for a bottle checked without a mass or
    a look. What is not typed now is as its record has it."""
    if entry.kind.name == "bottle_check":
        _check_reading(connection, entry)
    elif entry.kind.name == "bottle":
        _check_masses(connection, entry)
    return entry


def _check_masses(connection: sqlite3.Connection, entry: PreparedRecord) -> None:
    typed = [name for name in (_FULL, _EMPTY) if entry.values.get(name) is not None]
    if not typed:
        return
    held = None
    if entry.row_id is not None:
        held = connection.execute(f"SELECT {_FULL}, {_EMPTY} FROM bottles WHERE id = ?", (entry.row_id,)).fetchone()
    was = dict(zip((_FULL, _EMPTY), held or (None, None), strict=True))
    full_g, empty_g = (entry.values.get(name, was[name]) for name in (_FULL, _EMPTY))
    if full_g is not None and empty_g is not None and full_g <= empty_g:
        raise InputError(
            f"a full bottle of {full_g:g} g cannot weigh less than, or as much as, the empty one of {empty_g:g} g",
            code="full_not_over_empty",
            place=Place(field=typed[-1]),
            found=entry.entered.get(typed[-1]),
            remedy="Read both again, with the cap on: is one of them the other?",
        )
    least_g, most_g = connection.execute(
        "SELECT min(mass_g), max(mass_g) FROM bottle_checks WHERE bottle = ?", (entry.row_id,)
    ).fetchone()
    if empty_g is not None and least_g is not None and _EMPTY in typed:
        _refuse_under(empty_g, least_g, _EMPTY, entry.entered.get(_EMPTY))
    if full_g is not None and most_g is not None and _FULL in typed:
        _refuse_over(full_g, most_g, _FULL, entry.entered.get(_FULL))


def _check_reading(connection: sqlite3.Connection, entry: PreparedRecord) -> None:
    held = (None, None, None)
    if entry.row_id is not None:
        asked = "SELECT bottle, mass_g, level FROM bottle_checks WHERE id = ?"
        held = connection.execute(asked, (entry.row_id,)).fetchone() or held
    bottle, mass_g, level = (
        entry.values.get(name, was) for name, was in zip(("bottle", "mass_g", "level"), held, strict=True)
    )
    if mass_g is None and level is None:
        raise InputError(
            "the bottle was neither weighed nor looked at",
            code="missing_input",
            place=Place(field="mass_g"),
            remedy=Sentence("Give ", Named("mass_g"), ", or ", Named("level"), " where there is no scale."),
        )
    masses = connection.execute(f"SELECT {_FULL}, {_EMPTY} FROM bottles WHERE id = ?", (bottle,)).fetchone()
    if mass_g is None or masses is None:
        return
    if masses[1] is not None:
        _refuse_under(masses[1], mass_g, "mass_g", entry.entered.get("mass_g"))
    if masses[0] is not None:
        _refuse_over(masses[0], mass_g, "mass_g", entry.entered.get("mass_g"))


def _refuse_under(empty_g: float, mass_g: float, field: str, found: str | None) -> None:
    if mass_g < empty_g - NOISE_G:
        raise InputError(
            f"a bottle of {mass_g:g} g on the scale cannot weigh less than the empty one of {empty_g:g} g",
            code="bottle_under_empty",
            place=Place(field=field),
            found=found,
            remedy="Weigh it again with its cap on, or correct the empty mass of the bottle.",
        )


def _refuse_over(full_g: float, mass_g: float, field: str, found: str | None) -> None:
    if mass_g > full_g + NOISE_G:
        raise InputError(
            f"a bottle of {mass_g:g} g on the scale cannot weigh more than the full one of {full_g:g} g",
            code="bottle_over_full",
            place=Place(field=field),
            found=found,
            remedy="Weigh it again, and nothing else with it. If it was filled up, give the bottle its new full mass "
            "first.",
        )
