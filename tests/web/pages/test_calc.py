"""What the page of a calculator asks of the database."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Team

from bevelbook.declare.errors import UnknownNameError
from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.calc import calc_page_of


def test_records_named_with_commas_fill_the_form_the_first_that_knows_a_value_gives_it(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    first = team.build(dry_mass_g=12.40)
    second = team.build(dry_mass_g=12.42, oil_mass_g=1.86)
    calculator = registry.calculator("fill-target").calculator
    found = calc_page_of(connection, calculator, " rear-a/1, build:rear-a/2,")
    assert [subject.row_id for subject in found.subjects] == [first, second]
    assert found.known["builds.dry_mass_g"][0] == 12.40
    assert found.known["builds.target_oil_mass_g"][0] == 1.86
    assert set(found.opened) == {"rear-a/1", "rear-a/2"}
    assert calc_page_of(connection, calculator, "") == ({}, [], {}, "", {})
    with pytest.raises(UnknownNameError):
        calc_page_of(connection, calculator, "rear-x")


def test_the_form_says_why_an_opened_diff_has_no_dry_mass(
    connection: sqlite3.Connection, registry: Registry, team: Team
) -> None:
    team.open(team.build(dry_mass_g=12.40, oil_mass_g=1.86), "2026-03-01")
    calculator = registry.calculator("fill-target").calculator
    found = calc_page_of(connection, calculator, "rear-a")
    assert "builds.dry_mass_g" not in found.known
    assert found.no_dry_mass == "There is no dry mass since rear-a/1 was opened on 1 Mar."
