"""The oil of an oil change that was not weighed dry: filled mass less the dry mass that goes on holding."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.vocabulary import OIL_CHANGE
from bevelbook.facts.dry_mass import dry_mass_of
from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer

_BY_DIFFERENCE: Final = "filled mass less the "
"""Begins what is kept beside an oil mass that was not typed."""


def write_oil_by_difference(connection: sqlite3.Connection, writer: Writer, build: str) -> None:
    """Write the oil in an oil change (by id), old oil left inside with it, if it was neither typed nor weighed dry.

    Where it came from is kept under ``entered``; if the masses change it is worked out again.
    """
    kind, dry, oil, filled, entered = connection.execute(
        "SELECT kind, dry_mass_g, oil_mass_g, filled_mass_g, entered FROM builds WHERE id = ?", (build,)
    ).fetchone()
    is_taken = str((object_in(entered) or {}).get("oil_mass_g", "")).startswith(_BY_DIFFERENCE)
    if kind != OIL_CHANGE or dry is not None or filled is None or (oil is not None and not is_taken):
        return
    found = dry_mass_of(connection, build)
    if found.mass_g is None or filled <= found.mass_g:
        return
    values = {"oil_mass_g": round(filled - found.mass_g, 6)}
    writer.update(BY_NAME["build"], build, values, entered={"oil_mass_g": f"{_BY_DIFFERENCE}{found.words}"})
