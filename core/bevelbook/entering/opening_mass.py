"""The mass before opening, asked about where it cannot be this build: it may be another diff that was opened."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.facts.near_masses import known_masses
from bevelbook.facts.scales import noise_of
from bevelbook.formulas.near_masses import fitting, offset_of
from bevelbook.records.facts import BuildFacts

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_MASS: Final = "closed_mass_g"
_CLOSED: Final = "closed"


def with_opening_mass_asked(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """An opening whose mass is heavier than every closed mass known of its build, or lighter by more than its oil, with
    that as something to confirm; any other record as it is."""
    from bevelbook.entering.record import OddValue

    if entry.kind.name != "opening" or not {_MASS, "build"} & entry.values.keys():
        return entry
    held: dict[str, object] = {}
    if entry.row_id is not None:
        columns = ("build", _MASS, "scale", "opened_on")
        row = connection.execute(f"SELECT {', '.join(columns)} FROM openings WHERE id = ?", (entry.row_id,)).fetchone()
        held = dict(zip(columns, row, strict=True))
    values = {**held, **entry.values}
    build = connection.execute("SELECT scale FROM builds WHERE id = ?", (values.get("build"),)).fetchone()
    mass_g = values.get(_MASS)
    if build is None or mass_g is None:
        return entry
    noise = noise_of(connection, values.get("scale") or build[0])
    known = [
        one
        for one in known_masses(connection, str(values["build"]), noise, values.get("opened_on"))
        if one.mass_basis == _CLOSED
    ]
    facts = facts_of_some(connection, BuildFacts, (values["build"],)).get(str(values["build"]))
    oil_in_g = None if facts is None else facts.oil_in_g
    if fitting(mass_g, noise.variance_g2, known, oil_in_g):
        return entry
    offset = offset_of(mass_g, noise.variance_g2, known)
    if offset is None:
        return entry
    explained = "the scale explains" if offset.is_over else "all of its oil"
    outside = f"{offset.words}, more than {explained}: another diff may be on the scale"
    field = entry.kind.field(_MASS)
    odd = OddValue(field, entry.entered.get(_MASS, ""), outside, f"{field.words} of {mass_g:g} g is {outside}")
    return entry._replace(odd=(*entry.odd, odd))
