"""A filled mass that is a reading of the oil alone: the scale was zeroed on the dry diff."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.declare.vocabulary import TOP_UP
from bevelbook.facts.scales import noise_of
from bevelbook.formulas.fill_target import is_zeroed_on_diff
from bevelbook.kept_json import object_in
from bevelbook.physics.weighing import dry_mass_change_seen_g

if TYPE_CHECKING:
    from bevelbook.entering.record import OddValue, PreparedRecord

LEAST_SHARE: Final = 0.5
"""Under this share of the oil a reading is asked about instead (our own figure)."""
_FILLED: Final = "filled_mass_g"
ZEROED: Final = "scale zeroed on the"
"""Begins what is kept beside a mass that was read with the scale zeroed."""
_HELD: Final = ("dry_mass_g", "oil_mass_g", "target_oil_mass_g", "kind", "scale")


def with_zeroed_fill(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The build with dry mass and reading as its filled mass, if the reading can only be of the oil; else as it is.

    What was typed stays under ``entered``, with the words that it was taken so. Where a mass of the whole diff stood
    before, it is something to confirm.
    """
    reading = entry.values.get(_FILLED)
    if entry.kind.name != "build" or reading is None:
        return entry
    held: dict[str, object] = {}
    if entry.row_id is not None:
        row = connection.execute(f"SELECT {', '.join(_HELD)} FROM builds WHERE id = ?", (entry.row_id,)).fetchone()
        held = dict(zip(_HELD, row, strict=True))
    dry, oil, target, kind, scale = (entry.values.get(name, held.get(name)) for name in _HELD)
    oil = target if oil is None else oil
    if dry is None or not oil or kind == TOP_UP:
        return entry
    noise = noise_of(connection, scale)
    seen_g = dry_mass_change_seen_g(noise, noise)
    if not LEAST_SHARE * oil <= reading or not is_zeroed_on_diff(reading, dry, oil, seen_g):
        return entry
    words = f"{ZEROED} diff: {reading:.2f} of {oil:.2f} g"
    others = tuple(one for one in entry.odd if one.field.name != _FILLED)
    return entry._replace(
        values={**entry.values, _FILLED: round(dry + reading, 6)},
        entered={**entry.entered, _FILLED: f"{entry.entered.get(_FILLED, f'{reading:g}')} ({words})"},
        odd=(*others, *over_a_whole_mass(connection, entry, _FILLED, dry + reading)),
        taken={**entry.taken, _FILLED: words},
    )


def over_a_whole_mass(
    connection: sqlite3.Connection, entry: PreparedRecord, column: str, whole_g: float
) -> tuple[OddValue, ...]:
    """A reading of the oil alone that takes the place of another mass which was read of the whole diff, as something to
    confirm: a slip looks the same. ``whole_g`` is what the reading makes with the dry mass."""
    from bevelbook.entering.record import OddValue

    if entry.row_id is None:
        return ()
    before_g, entered = connection.execute(
        f"SELECT {column}, entered FROM {entry.kind.table} WHERE id = ?", (entry.row_id,)
    ).fetchone()
    was_zeroed = ZEROED in str((object_in(entered) or {}).get(column, ""))
    if before_g is None or was_zeroed or f"{before_g:.2f}" == f"{whole_g:.2f}":
        return ()
    field, reading = entry.kind.field(column), entry.values[column]
    outside = f"the oil alone, with the {ZEROED} diff: that makes {whole_g:.2f} g, where {before_g:.2f} g stood"
    words = f"{field.words} of {reading:g} g is {outside}"
    return (OddValue(field, entry.entered.get(column, f"{reading:g}"), outside, words),)
