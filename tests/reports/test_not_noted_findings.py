"""What is not noted and keeps weighings unclear is said once for the team. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add

from bevelbook.plugin.check import Finding
from bevelbook.reports.oil_lost_findings import leak_findings
from bevelbook.reports.shelf import reason_words, shelf_rows

SUNDAYS = (("2026-10-11", 2.0, 22.35), ("2026-10-18", 4.0, 22.34), ("2026-10-25", 6.0, 22.33))


def tight(add: Add, label: str, material: str | None = None, scale: str | None = None) -> None:
    """0.02 g in three weeks of 1.50 g of oil: a scale with a step of 0.01 g, never checked, sees 0.029 g."""
    diff = add("diff", label=label, housing_material=material)
    own = {"oil_mass_g": 1.5, "closed_mass_g": 22.35, "scale": scale, "built_on": "2026-10-04"}
    build = add("build", label=f"{label}/1", diff=diff, **own)
    for day, runs, mass_g in SUNDAYS:
        add("weighing", build=build, runs=runs, mass_g=mass_g, mass_basis="closed", weighed_on=day, scale=scale)


def findings(connection: sqlite3.Connection, code: str) -> list[Finding]:
    return [one for one in leak_findings(connection) if one.code == code]


@pytest.fixture
def three(add: Add) -> None:
    for label in ("left-1", "left-2", "left-3"):
        tight(add, label)


@pytest.mark.usefixtures("three")
def test_housings_and_scales_that_are_not_noted_are_said_once_for_all(connection: sqlite3.Connection) -> None:
    (housing,) = findings(connection, "housing_not_noted")
    assert housing.words == (
        "3 diffs (left-1, left-2, left-3) have no housing material noted: nylon is assumed, and the water in it hides "
        "what was lost"
    )
    assert "'bevelbook record diff left-1 housing_material=aluminium'" in housing.remedy
    (scale,) = findings(connection, "scale_not_noted")
    assert scale.words.startswith("3 diffs (left-1, left-2, left-3) have masses that name no scale: ")
    assert "record scale" in scale.remedy
    assert "scale-check" in scale.remedy
    assert len(findings(connection, "weighing_unclear")) == 3


@pytest.mark.usefixtures("three")
def test_a_finer_scale_is_not_advised_where_it_cannot_help(connection: sqlite3.Connection) -> None:
    advice = "note what the housing is made of, or weigh an empty sister housing alongside"
    for one in findings(connection, "weighing_unclear"):
        assert one.remedy == f"{advice[0].upper()}{advice[1:]}."
    shelf = [" ".join(reason_words(row)) for row in shelf_rows(connection)]
    assert len(shelf) == 3
    for said in shelf:
        assert said.endswith(f": {advice}")
        assert "(with water in the housing it can see 0." in said
    assert "finer" not in str([shelf, list(leak_findings(connection))])


def test_with_material_and_a_checked_scale_nothing_is_asked(connection: sqlite3.Connection, add: Add) -> None:
    checked = add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0)
    tight(add, "left-1", "aluminium", checked)
    assert not findings(connection, "housing_not_noted") + findings(connection, "scale_not_noted")
    assert not findings(connection, "weighing_unclear")


def test_a_coarse_scale_that_was_never_checked_is_to_be_checked_first(connection: sqlite3.Connection, add: Add) -> None:
    """A step of 0.05 g, never checked, sees 0.14 g; the limits are 0.075 g and 0.15 g."""
    tight(add, "left-1", "aluminium", add("scale", name="kitchen", step_g=0.05))
    (one,) = findings(connection, "weighing_unclear")
    assert one.remedy == "Check the scale: put one thing on it ten times."
    assert not findings(connection, "scale_not_noted")
