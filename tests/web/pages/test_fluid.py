"""What the page of a fluid asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.fluid import fluid_page_of


def test_the_page_of_a_fluid_knows_its_bottles_and_the_builds_with_it(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    fluid = add("fluid", label="club 7", viscosity_cst=7000.0, viscosity_source="its label")
    other = add("fluid", label="club 9", viscosity_cst=9000.0, viscosity_source="its label")
    bottle = add("bottle", fluid=fluid, lot="second", viscosity_cst=6150.0)
    add("bottle", fluid=other, lot="first")
    build = team.build(fluid=fluid, bottle=bottle)
    team.build(fluid=other)
    found = fluid_page_of(connection, registry, fluid)
    assert (found.record["label"], found.record["viscosity_cst"]) == ("club 7", 7000.0)
    assert [(row["lot"], row["viscosity_cst"], row["builds"]) for row in found.bottles] == [("second", 6150.0, 1)]
    assert [row["id"] for row in found.builds] == [build]
    assert "7,000 cSt" in [fact.value for fact in found.facts]
