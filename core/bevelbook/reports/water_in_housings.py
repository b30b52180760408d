"""Where water in the housing hides what a build lost: the one place that decides it, for all who say what was lost."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any

from bevelbook.facts.leak import leaks_of
from bevelbook.facts.sql import Row
from bevelbook.formulas.housing_moisture import Housing, takes_up_water
from bevelbook.reports.oil_lost_line import IS_WET


def with_water(connection: sqlite3.Connection, found: Iterable[Row]) -> list[Row]:
    """Rows of builds (``id``, ``diff``, ``loss_g``), each with whether water in the housing is part of the uncertainty.

    The masses are read again only where the housing takes up water.
    """
    builds = list(found)
    wet = wet_builds(connection, builds)
    return [row | {IS_WET: row["id"] in wet} for row in builds]


def wet_builds(connection: sqlite3.Connection, builds: Iterable[Mapping[str, Any]]) -> frozenset[str]:
    """Those of the builds (``id``, ``diff``, ``loss_g``), by id, where water is part of the uncertainty of the loss."""
    weighed = [row["id"] for row in builds if row["loss_g"] is not None and may_be_wet(connection, row["diff"])]
    return frozenset(build for build, leak in leaks_of(connection, weighed).items() if leak.is_wet) if weighed else _DRY


def may_be_wet(connection: sqlite3.Connection, diff: str) -> bool:
    """Whether the housing of a diff (by id) takes up water at all."""
    material = connection.execute("SELECT housing_material FROM diffs WHERE id = ?", (diff,)).fetchone()[0]
    return takes_up_water(Housing(material))


_DRY: frozenset[str] = frozenset()
