"""What the page of a build asks of the database."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team, kept

from bevelbook.declare.errors import DatabaseError
from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.build import build_page_of


def test_the_page_of_a_build_knows_what_went_in_and_what_changed_since_the_one_before(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    fluid = add("fluid", label="7,000", viscosity_cst=7000.0, viscosity_source="its label")
    first = team.build(oil_mass_g=1.86, hand_feel="smooth")
    team.open(first, day="2026-02-20")
    second = team.build(built_on="2026-02-21", fluid=fluid, oil_mass_g=1.80, hand_feel="notchy")
    team.weigh(second, (0.0, 22.40), (4.0, 22.05))
    kept(connection, calculator="fill-target", subject_table="builds", subject_id=second, verdict="caution")
    found = build_page_of(connection, registry, second)
    assert found.build["label"] == "rear-a/2"
    assert found.before is not None
    assert found.before.label == "rear-a/1"
    changed = {difference.what: (difference.a, difference.b) for difference in found.differences}
    assert changed["hand feel"] == ("smooth", "notchy")
    assert found.leak is not None
    assert found.leak.verdict == "stop", "0.35 g of 1.80 g"
    assert [row["calculator"] for row in found.calculations] == ["fill-target"]
    linked = {fact.words: (fact.value, fact.table, fact.row_id) for fact in found.facts}
    assert linked["Fluid"] == ("7,000", "fluids", fluid)
    assert {offer.given["for"] for offer in found.offered} == {"build:rear-a/2"}


def test_the_first_build_has_none_before_it(connection: sqlite3.Connection, registry: Registry, team: Team) -> None:
    found = build_page_of(connection, registry, team.build())
    assert (found.before, found.differences, found.leak, found.openings) == (None, (), None, [])


def test_a_build_that_is_not_there_cannot_be_read(connection: sqlite3.Connection, registry: Registry) -> None:
    with pytest.raises(DatabaseError):
        build_page_of(connection, registry, "nothing")
