"""Whether a build's closed mass less its filled one is that of its diff's build before: for remarks and findings."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any, Final

from bevelbook.facts.builds import newest_first, place_sql
from bevelbook.formulas.lid_mass import OpenAndClosed, UnlikeLid, unlike_lid
from bevelbook.physics.weighing import scale_noise

LID_COLUMNS: Final = "b.filled_mass_g AS weighed_filled_g, b.closed_mass_g, b.mass_basis, b.parts_on_pan"
"""What tells it of the build ``b``, beside its label and the step, repeatability and error of its scale."""
LID_MADE_OF: Final = frozenset(
    ("diff", "built_on", "day_order", "filled_mass_g", "closed_mass_g", "mass_basis", "parts_on_pan", "scale")
)
"""The fields of a build that it follows from."""


def unlike_last_lid(builds: Iterable[Mapping[str, Any]]) -> UnlikeLid | None:
    """How the first of one diff's builds, newest first, is unlike the last one before it that has both masses.

    Rows have :data:`LID_COLUMNS`. Only masses with the same on the scale are compared, as what lies there when the diff
    is open makes the difference. None where nothing is odd about it, or where it is not known.
    """
    this: Mapping[str, Any] | None = None
    for one in builds:
        has_both = one["weighed_filled_g"] is not None and one["closed_mass_g"] is not None
        if this is None:
            if not has_both:
                return None
            this = one
        elif has_both and all(one[name] == this[name] for name in ("mass_basis", "parts_on_pan")):
            return unlike_lid(_weighed(this), _weighed(one))
    return None


def unlike_last_lid_of(connection: sqlite3.Connection, build: str) -> UnlikeLid | None:
    """The same of one build, by its id."""
    cursor = connection.cursor()
    cursor.row_factory = sqlite3.Row
    return unlike_last_lid(
        cursor.execute(
            f"SELECT b.label, {LID_COLUMNS}, s.step_g, s.repeatability_g, s.error_bound_g FROM builds this "
            f"CROSS JOIN builds b ON b.diff = this.diff AND {place_sql('b')} <= {place_sql('this')} "
            f"LEFT JOIN scales s ON s.id = b.scale WHERE this.id = ? ORDER BY {newest_first('b')}",
            (build,),
        )
    )


def _weighed(row: Mapping[str, Any]) -> OpenAndClosed:
    noise = scale_noise(row["step_g"], row["repeatability_g"], None, row["error_bound_g"])
    return OpenAndClosed(row["label"], row["weighed_filled_g"], row["closed_mass_g"], noise)
