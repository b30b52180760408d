"""How far the oil in a build is from the oil that was meant to go in: one definition, for charts, listings, remarks and
findings. A top-up has none, as the oil in it is that of the fill before."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final

from bevelbook.declare.vocabulary import TOP_UP
from bevelbook.formulas.off_target import OffTarget, off_target
from bevelbook.physics.weighing import scale_noise

OFF_TARGET_G: Final = "round(k.oil_in_g - b.target_oil_mass_g, 6)"
"""Oil in the build ``b`` with its facts ``k`` less its target, in g."""
HAS_TARGET: Final = f"k.oil_in_g IS NOT NULL AND b.target_oil_mass_g IS NOT NULL AND b.kind IS NOT '{TOP_UP}'"
"""Whether such a build has that difference."""
OFF_TARGET_COLUMNS: Final = (
    f"CASE WHEN {HAS_TARGET} THEN {OFF_TARGET_G} END AS off_target_g, b.target_oil_mass_g, k.oil_in_g, "
    "w.limit_fill_window_g, s.step_g, s.repeatability_g, s.error_bound_g"
)
"""What tells whether that is too far, with the facts ``w`` of its diff and its scale ``s``."""
MADE_OF: Final = frozenset(
    ("diff", "kind", "washed", "dry_mass_g", "target_oil_mass_g", "oil_mass_g", "filled_mass_g", "scale")
)
"""The fields of a build that it follows from."""


def off_target_of_row(row: Mapping[str, Any]) -> OffTarget | None:
    """How a row with :data:`OFF_TARGET_COLUMNS` is off its target; None where nothing is odd about it, or not known."""
    if row["off_target_g"] is None:
        return None
    noise = scale_noise(row["step_g"], row["repeatability_g"], None, row["error_bound_g"])
    return off_target(row["oil_in_g"], row["target_oil_mass_g"], row["limit_fill_window_g"], noise)


def off_target_of(connection: sqlite3.Connection, build: str) -> OffTarget | None:
    """The same of one build, by its id, whose facts are worked out."""
    cursor = connection.cursor()
    cursor.row_factory = sqlite3.Row
    row = cursor.execute(
        f"SELECT {OFF_TARGET_COLUMNS} FROM builds b JOIN build_facts k ON k.build = b.id "
        "JOIN diff_facts w ON w.diff = b.diff LEFT JOIN scales s ON s.id = b.scale WHERE b.id = ?",
        (build,),
    ).fetchone()
    return None if row is None else off_target_of_row(row)
