"""A mass weighed on a diff that is apart: the dry mass of its next build, which is written with it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import Any

from bevelbook.store.lookup import next_build_label

_SAME_NAME = ("mass_basis", "parts_on_pan", "scale", "note")


def build_of_dry_mass(
    connection: sqlite3.Connection, diff: str, last: str | None, weighing: Mapping[str, Any]
) -> dict[str, Any]:
    """The values of a new build of ``diff`` from those of a weighing.

    A mass basis that is not given is that of the build before (``last``, by id).
    """
    values = {name: weighing[name] for name in _SAME_NAME if weighing.get(name) is not None}
    row = connection.execute("SELECT mass_basis FROM builds WHERE id = ?", (last,)).fetchone()
    if row is not None and row[0] is not None:
        values.setdefault("mass_basis", row[0])
    return {
        "label": next_build_label(connection, diff),
        "diff": diff,
        "built_on": weighing.get("weighed_on") or date.today().isoformat(),
        "builder": weighing.get("person"),
        "dry_mass_g": weighing["mass_g"],
        **values,
    }
