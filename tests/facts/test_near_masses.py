"""The known masses of a build beside a reading of another day. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.facts.near_masses import known_masses
from bevelbook.facts.scales import noise_of
from bevelbook.physics.weighing import ScaleNoise


def test_what_a_scale_changes_from_day_to_day_counts_between_days_only(
    add: Add, connection: sqlite3.Connection
) -> None:
    """u² = 0.01² / 12 + 0.005² g², and 2 x 0.01² g² more between two days."""
    team = Team(add)
    scale = add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.01)
    build = team.build(built_on="2026-01-02", closed_mass_g=22.36, scale=scale)
    noise = noise_of(connection, scale)
    for day, extra in (("2026-01-02", 0.0), ("2026-01-03", 2 * 0.01**2), (None, 2 * 0.01**2)):
        (closed,) = known_masses(connection, build, noise, day)
        assert closed.variance_g2 == pytest.approx(0.01**2 / 12 + 0.005**2 + extra)


def test_a_scale_that_is_not_noted_counts_as_never_checked(connection: sqlite3.Connection) -> None:
    assert noise_of(connection, None) == ScaleNoise(0.01, None, None)
