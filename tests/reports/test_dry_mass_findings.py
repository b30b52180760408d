"""A dry mass beside the last one of its diff. All data are constructed, and each sum is written beside it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.plugin.check import Finding
from bevelbook.reports.dry_mass_findings import dry_mass_findings, dry_mass_line, last_dry_mass_line

Find = Callable[[], list[Finding]]


@pytest.fixture
def find(connection: sqlite3.Connection) -> Find:
    return lambda: list(dry_mass_findings(connection))


def test_a_dry_mass_that_changed_with_nothing_noted(add: Add, find: Find) -> None:
    """12.42 then 12.39 g; u of a reading = sqrt(0.01^2/12 + 0.005^2) = 0.00577 g, 1.96 sqrt 2 u = 0.016 g,
    and washing leaves 0.01 g.
    """
    team = Team(add)
    team.build(dry_mass_g=12.42, mass_basis="open half")
    team.build(dry_mass_g=12.39, mass_basis="open half")
    (one,) = find()
    assert one.subject_label == "rear-a/2"
    assert one.words == (
        "12.39 g dry, rear-a/1 had 12.42 g: 0.03 g lighter with nothing noted as changed "
        "(these readings can show 0.026 g); a 5 x 7 x 0.2 mm steel shim is 0.030 g"
    )
    assert "shims" in one.remedy


def test_a_hundredth_is_no_change(add: Add, find: Find) -> None:
    team = Team(add)
    for dry in (12.42, 12.41, 12.42):
        team.build(dry_mass_g=dry)
    assert find() == []


def test_dry_masses_on_two_bases_are_not_compared(add: Add, find: Find) -> None:
    team = Team(add)
    team.build(dry_mass_g=12.42, mass_basis="open half")
    team.build(dry_mass_g=20.52, mass_basis="all parts on the pan")
    assert find() == []


@pytest.mark.parametrize(
    "change",
    [
        {"build_shim": {"place": "behind lid-side gear", "thickness_mm": 0.1}},
        {"build_part": {"part": "cross pin", "condition": "new"}},
        {"seal_fitting": {"place": "joint", "seal": "second"}},
        {"build": {"gasket": "paper 0.3"}},
        {"build": {"parts_on_pan": "with the lid"}},
    ],
    ids=lambda change: "-".join(f"{kind} {next(iter(values))}" for kind, values in change.items()),
)
def test_a_noted_change_explains_another_dry_mass(add: Add, find: Find, change: dict[str, dict[str, Any]]) -> None:
    team = Team(add)
    seals = {name: add("seal", label=name) for name in ("first", "second")}
    first = team.build(dry_mass_g=12.42, gasket="paper 0.2", parts_on_pan="open half, no lid")
    add("build_shim", build=first, place="behind lid-side gear", thickness_mm=0.2, pieces=1)
    add("seal_fitting", build=first, place="joint", seal=seals["first"])
    second = team.build(dry_mass_g=12.39, **change.pop("build", {}))
    for kind, values in change.items():
        add(kind, build=second, **{**values, **({"seal": seals["second"]} if "seal" in values else {})})
    assert find() == []


def test_the_change_is_said_at_the_moment_of_weighing(add: Add, connection: sqlite3.Connection) -> None:
    team = Team(add)
    first = team.build(dry_mass_g=12.40, mass_basis="open half")
    second = team.build(dry_mass_g=12.43, mass_basis="open half")
    assert dry_mass_line(connection, first) is None
    assert dry_mass_line(connection, second) == (
        "12.43 g dry is 0.03 g heavier than on 2 Jan (rear-a/1: 12.40 g), with nothing noted as changed. "
        "Count shims, and look for old oil left in."
    )


def test_the_moment_of_weighing_names_the_part_that_weighs_as_much(add: Add, connection: sqlite3.Connection) -> None:
    """pi/4 (7^2 - 5^2) 0.2 mm3 x 7.85 mg/mm3 = 29.6 mg."""
    team = Team(add)
    first = team.build(dry_mass_g=12.42)
    add("build_shim", build=first, place="small gears", thickness_mm=0.2, bore_mm=5.0, outside_diameter_mm=7.0)
    assert str(dry_mass_line(connection, team.build(dry_mass_g=12.39))).endswith(
        "Count shims, gaskets and pins against the build before: a 0.2 mm shim is 0.030 g (5 x 7 mm, steel)."
    )


def test_the_line_of_a_diff_names_the_dry_mass_that_holds_or_why_none_does(
    add: Add, connection: sqlite3.Connection
) -> None:
    team = Team(add)
    first = team.build()
    assert last_dry_mass_line(connection, first) == ""
    second = team.build(dry_mass_g=12.40)
    assert last_dry_mass_line(connection, second) == "Dry 12.40 g: weighed for rear-a/2"
    third = team.build(kind="top-up")
    assert last_dry_mass_line(connection, third).startswith("Dry 12.40 g: dry mass of 3 Jan, same parts")
    team.open(third)
    assert last_dry_mass_line(connection, third) == "No dry mass since rear-a/3 was opened on 1 Mar"
