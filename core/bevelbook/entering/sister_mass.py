"""The mass of an empty sister housing, asked about as it is typed where it cannot be the sister that is known."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_SISTER: Final = "sister_mass_g"
_MASSES: Final = {"build": "closed_mass_g", "weighing": "mass_g", "opening": "closed_mass_g"}
"""The mass of the whole diff, by the kinds of record that may have a sister beside it."""
OFF_SHARE: Final = 0.1
"""Water changes a housing by less than this share of its mass: nylon holds at most 8 % (``water_uptake.csv``)."""
EMPTY_SHARE: Final = 0.8
"""An empty housing weighs less than this share of the whole diff (our own figure)."""
_KNOWN: Final = """
SELECT sister_mass_g, day FROM (
    SELECT sister_mass_g, built_on AS day, id, id AS build FROM builds
    UNION ALL SELECT sister_mass_g, weighed_on, id, build FROM weighings
    UNION ALL SELECT sister_mass_g, opened_on, id, build FROM openings
) s WHERE s.sister_mass_g IS NOT NULL AND s.id IS NOT :own
AND s.build IN (SELECT id FROM builds WHERE diff = :diff)
ORDER BY abs(sister_mass_g - :sister_g), day DESC, s.id LIMIT 1
"""


def with_sister_asked(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The record, with its sister mass as something to confirm where water cannot have made it of the one that is known
    of that diff, or where it is that of a whole diff."""
    from bevelbook.entering.record import OddValue

    mass_name = _MASSES.get(entry.kind.name)
    sister_g = entry.values.get(_SISTER)
    if mass_name is None or sister_g is None:
        return entry
    outside = _off_known(connection, entry, sister_g) or _is_whole(connection, entry, sister_g, mass_name)
    if outside is None:
        return entry
    field = entry.kind.field(_SISTER)
    words = f"the mass of the sister housing, {sister_g:g} g, is {outside}"
    others = tuple(one for one in entry.odd if one.field.name != _SISTER)
    return entry._replace(odd=(*others, OddValue(field, entry.entered.get(_SISTER, ""), outside, words)))


def _off_known(connection: sqlite3.Connection, entry: PreparedRecord, sister_g: float) -> str | None:
    """How far it is off the nearest that is known; where a slip was confirmed the sister itself is still among them."""
    build = _value(connection, entry, "build")
    if entry.kind.name == "build":
        diff = _value(connection, entry, "diff")
    else:
        row = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()
        diff = row[0] if row else None
    known = connection.execute(_KNOWN, {"own": entry.row_id, "diff": diff, "sister_g": sister_g}).fetchone()
    if known is None or abs(sister_g - known[0]) <= OFF_SHARE * known[0]:
        return None
    on = f" on {known[1]}" if known[1] else ""
    return (
        f"{abs(sister_g - known[0]):.2f} g {'heavier' if sister_g > known[0] else 'lighter'} than the sister housing "
        f"was{on} ({known[0]:.2f} g), more than water explains: was it misread, or another thing?"
    )


def _is_whole(connection: sqlite3.Connection, entry: PreparedRecord, sister_g: float, mass_name: str) -> str | None:
    mass_g = _value(connection, entry, mass_name)
    if mass_g is None and entry.kind.name != "build":
        return None
    if mass_g is None:
        mass_g = _value(connection, entry, "filled_mass_g") or _value(connection, entry, "dry_mass_g")
    if mass_g is None or sister_g < EMPTY_SHARE * mass_g:
        return None
    return f"as much as a whole diff weighs ({mass_g:.2f} g): the sister is an empty housing"


def _value(connection: sqlite3.Connection, entry: PreparedRecord, name: str) -> Any:
    """A value of the record: as typed now, else as it is written."""
    if name in entry.values or entry.row_id is None or name not in entry.kind.columns:
        return entry.values.get(name)
    row = connection.execute(f"SELECT {name} FROM {entry.kind.table} WHERE id = ?", (entry.row_id,)).fetchone()
    return row[0] if row else None
