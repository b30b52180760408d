"""The masses of a build checked as they are typed, with those that its record has already, as an import checks them."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Any, Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.facts.dry_mass import is_more_than_parts, last_dry_mass
from bevelbook.formulas.mass_agreement import is_explained, mass_fault, mass_gap_g
from bevelbook.physics.weighing import USUAL_STEP_G

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

MASSES: Final = {"dry": "dry_mass_g", "oil": "oil_mass_g", "total": "filled_mass_g"}
"""The masses of one fill, by what an import calls them."""
_CLOSED: Final = "closed_mass_g"


def with_masses_checked(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The record, with a remark where its masses do not quite agree. Raises InputError where they cannot be right.

    Checked are the masses of a build if any of them is written; those that are not written are as its record has them.
    """
    if entry.kind.name != "build" or not {*MASSES.values(), _CLOSED} & entry.values.keys():
        return entry
    held = _held(connection, entry.row_id)
    entry = _with_dry_mass_asked(connection, _with_closed_asked(entry, held), held)
    dry, oil, filled = (entry.values.get(name, held.get(name)) for name in MASSES.values())
    if dry is None or filled is None:
        return entry
    fault = mass_fault(dry, oil, filled, "filled mass")
    if fault is not None:
        fields = [MASSES[one] for one in fault.at_fault]
        raise InputError(
            fault.words,
            code=fault.code,
            place=Place(field=next(name for name in (*reversed(fields), *fields) if name in entry.values)),
            remedy=_remedy(fields, entry.values, fault.remedy),
        )
    if oil is None:
        return entry
    gap = mass_gap_g(dry, oil, filled)
    step, repeatability = _scale(connection, entry.values.get("scale", held.get("scale")))
    if is_explained(gap, step, repeatability):
        return entry
    remark = (
        f"{dry:.2f} g dry and {oil:.2f} g of oil make {dry + oil:.2f} g, but {filled:.2f} g was weighed: "
        f"{abs(gap):.2f} g too {'much' if gap > 0 else 'little'} for a scale with steps of {step:g} g."
    )
    return entry._replace(remarks=(*entry.remarks, remark))


def _with_closed_asked(entry: PreparedRecord, held: dict[str, Any]) -> PreparedRecord:
    """A closed mass under the dry mass is asked about: a closed diff carries its lid too, but the bases may differ."""
    from bevelbook.entering.record import OddValue

    dry, closed = (entry.values.get(name, held.get(name)) for name in ("dry_mass_g", _CLOSED))
    if dry is None or closed is None or closed >= dry:
        return entry
    name = _CLOSED if entry.values.get(_CLOSED) is not None else "dry_mass_g"
    field = entry.kind.field(name)
    outside = (
        f"less than the dry mass of {dry:g} g" if name == _CLOSED else f"more than the closed mass of {closed:g} g"
    )
    words = f"{field.words} of {entry.values[name]:g} g is {outside}"
    return entry._replace(odd=(*entry.odd, OddValue(field, entry.entered.get(name, ""), outside, words)))


def _with_dry_mass_asked(connection: sqlite3.Connection, entry: PreparedRecord, held: dict[str, Any]) -> PreparedRecord:
    """A dry mass so far from the last one of its diff that other parts cannot explain it is asked about."""
    from bevelbook.entering.record import OddValue

    dry = entry.values.get("dry_mass_g")
    diff, day, basis = (entry.values.get(name, held.get(name)) for name in ("diff", "built_on", "mass_basis"))
    is_asked_about = any(one.field.name == "dry_mass_g" for one in entry.odd)
    if dry is None or diff is None or day is None or is_asked_about:
        return entry
    last = last_dry_mass(connection, diff, day, basis, entry.row_id)
    if last is None or not is_more_than_parts(last.mass_g, dry):
        return entry
    field = entry.kind.field("dry_mass_g")
    outside = (
        f"{abs(dry - last.mass_g):.2f} g {'more' if dry > last.mass_g else 'less'} than the last dry mass of this diff "
        f"({last.mass_g:.2f} g, {last.label}), more than other parts explain"
    )
    words = f"{field.words} of {dry:g} g is {outside}"
    return entry._replace(odd=(*entry.odd, OddValue(field, entry.entered.get("dry_mass_g", ""), outside, words)))


def _remedy(fields: list[str], written: dict[str, Any], what_to_do: str) -> Sentence:
    kept = [name for name in fields if name not in written]
    parts: list[str | Named] = [f"{what_to_do} "]
    for place, name in enumerate(kept):
        parts += [" and " if place else "", Named(name, is_place=True)]
    if kept:
        parts.append(f" {'is' if len(kept) == 1 else 'are'} as written down before. ")
    return Sentence(*parts, "Nothing was changed.")


def _held(connection: sqlite3.Connection, build: str | None) -> dict[str, Any]:
    if build is None:
        return {}
    names = (*MASSES.values(), _CLOSED, "scale", "diff", "built_on", "mass_basis")
    row = connection.execute(f"SELECT {', '.join(names)} FROM builds WHERE id = ?", (build,)).fetchone()
    return dict(zip(names, row, strict=True))


def _scale(connection: sqlite3.Connection, scale: str | None) -> tuple[float, float | None]:
    """Its step and its repeatability in g; the latter None where it is not known."""
    row = connection.execute("SELECT step_g, repeatability_g FROM scales WHERE id = ?", (scale,)).fetchone()
    return (row[0] or USUAL_STEP_G, row[1]) if row is not None else (USUAL_STEP_G, None)
