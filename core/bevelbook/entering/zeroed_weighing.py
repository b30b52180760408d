"""A weighing whose reading is of the oil alone: the scale was zeroed on the dry diff."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.entering.zeroed_fill import LEAST_SHARE, ZEROED, over_a_whole_mass
from bevelbook.facts.dry_mass import dry_mass_of
from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.facts.scales import noise_of
from bevelbook.formulas.fill_target import is_zeroed_on_diff
from bevelbook.physics.weighing import dry_mass_change_seen_g
from bevelbook.records.facts import BuildFacts

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_MASS: Final = "mass_g"
_WHOLE: Final = "a reading is of the whole diff with its oil"


def with_zeroed_weighing(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The weighing with dry mass and reading as its mass, if the reading can only be of the oil; else as it is.

    Only a reading that no diff has is taken so. What was typed stays under ``entered``, with the words that it was
    taken so; where it is not, what is asked says what a reading is. Where a mass of the whole diff stood before, it is
    something to confirm.
    """
    odd = next((one for one in entry.odd if one.field.name == _MASS and one.code == "implausible"), None)
    reading = entry.values.get(_MASS)
    if entry.kind.name != "weighing" or odd is None or reading is None or reading >= (odd.field.plausible or (0,))[0]:
        return entry
    others = tuple(one for one in entry.odd if one is not odd)
    words = _zeroed(connection, entry, reading)
    if words is None:
        whole = odd._replace(outside=f"{odd.outside}: {_WHOLE}", words=f"{odd.words}: {_WHOLE}")
        return entry._replace(odd=(whole, *others))
    dry_g, said = words
    return entry._replace(
        values={**entry.values, _MASS: round(dry_g + reading, 6)},
        entered={**entry.entered, _MASS: f"{entry.entered.get(_MASS, f'{reading:g}')} ({said})"},
        odd=(*others, *over_a_whole_mass(connection, entry, _MASS, dry_g + reading)),
        taken={**entry.taken, _MASS: said},
    )


def _zeroed(connection: sqlite3.Connection, entry: PreparedRecord, reading: float) -> tuple[float, str] | None:
    """The dry mass (g) on which the scale was zeroed, and that in words; None where the reading is not of the oil."""
    build, scale = entry.values.get("build"), entry.values.get("scale")
    if entry.row_id is not None:
        held = connection.execute("SELECT build, scale FROM weighings WHERE id = ?", (entry.row_id,)).fetchone()
        build, scale = build or held[0], entry.values.get("scale", held[1])
    build = str(build)
    facts = facts_of_some(connection, BuildFacts, (build,)).get(build)
    row = connection.execute("SELECT dry_mass_g, scale, mass_basis FROM builds WHERE id = ?", (build,)).fetchone()
    if facts is None or row is None or not facts.oil_in_g:
        return None
    if entry.values.get("mass_basis") not in (None, row[2]):
        return None
    dry_g = row[0] if row[0] is not None else dry_mass_of(connection, build).mass_g
    if dry_g is None:
        return None
    noise = noise_of(connection, scale or row[1])
    seen_g = dry_mass_change_seen_g(noise, noise)
    oil_g = facts.oil_in_g
    is_near = LEAST_SHARE * oil_g <= reading <= oil_g + seen_g
    if not is_near or not is_zeroed_on_diff(reading, dry_g, oil_g, seen_g):
        return None
    return dry_g, f"{ZEROED} dry diff: {reading:.2f} of {oil_g:.2f} g"
