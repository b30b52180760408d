"""The oil in a build: how much went in, how thick it is, and where that comes from. All data are constructed."""

from __future__ import annotations

import sqlite3
from math import exp, log
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook.facts.oil import DENSITY_G_CM3, OIL_JOINS, blended
from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer


def oil(connection: sqlite3.Connection, columns: str, build: str | None = None) -> tuple[Any, ...]:
    """Facts of one build, or of the only one."""
    where = "" if build is None else " WHERE build = :build"
    return tuple(connection.execute(f"SELECT {columns} FROM build_facts{where}", {"build": build}).fetchone())


BOTTLE, BUILD, FLUID, BLEND = "bottle", "build", "fluid", "blend"


@pytest.mark.parametrize(
    ("known", "expected"),
    [
        ({BOTTLE, BUILD, FLUID, BLEND}, (6150.0, "own measurement of the bottle")),
        ({BUILD, FLUID, BLEND}, (6800.0, "the build")),
        ({FLUID, BLEND}, (7000.0, "its label")),
        ({BOTTLE, FLUID}, (6150.0, "own measurement of the bottle")),
        (set(), (None, None)),
    ],
)
def test_the_viscosity_is_that_of_the_bottle_else_the_build_else_the_fluid(
    connection: sqlite3.Connection, add: Add, team: Team, known: set[str], expected: tuple[Any, ...]
) -> None:
    source = {"viscosity_cst": 7000.0, "viscosity_source": "its label"} if FLUID in known else {}
    fluid = add("fluid", label="house 7k", **source)
    bottle = add("bottle", fluid=fluid, lot="A", viscosity_cst=6150.0 if BOTTLE in known else None)
    build = team.build(fluid=fluid, bottle=bottle, viscosity_cst=6800.0 if BUILD in known else None)
    if BLEND in known:
        add("blend_part", build=build, viscosity_cst=5000.0, mass_g=1.0)
    assert oil(connection, "viscosity_cst, viscosity_from") == expected


def test_of_a_blend_it_is_computed(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """One part of 5,000 and three of 10,000 cSt, by the logarithms' mean: exp(0.25 ln 5000 + 0.75 ln 10000) cSt."""
    build = team.build()
    for viscosity_cst, mass_g in ((10000.0, 1.5), (5000.0, 0.5)):
        add("blend_part", build=build, viscosity_cst=viscosity_cst, mass_g=mass_g)
    viscosity, source = oil(connection, "viscosity_cst, viscosity_from")
    assert viscosity == pytest.approx(exp(0.25 * log(5000.0) + 0.75 * log(10000.0)), rel=1e-12)
    assert source == "computed from its blend"
    assert dict(blended(connection)) == {build: viscosity}
    assert dict(blended(connection, "(SELECT 'nobody' AS build)")) == {}


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"oil_mass_g": 1.86}, 1.86),
        ({"oil_mass_g": 1.86, "dry_mass_g": 12.4, "filled_mass_g": 14.3}, 1.86),
        ({"dry_mass_g": 12.4, "filled_mass_g": 14.26}, 1.86),
        ({"dry_mass_g": 12.4}, None),
        ({"filled_mass_g": 14.26}, None),
        ({}, None),
    ],
)
def test_the_oil_put_in_is_that_noted_else_the_difference_of_the_masses(
    connection: sqlite3.Connection, team: Team, values: dict[str, float], expected: float | None
) -> None:
    team.build(**values)
    (found,) = oil(connection, "oil_in_g")
    assert found == (None if expected is None else pytest.approx(expected, abs=1e-12))


@pytest.mark.parametrize(
    ("builds", "expected"),
    [
        ([{"oil_mass_g": 1.86}, {"kind": "top-up", "oil_mass_g": 0.2}], 1.86),
        ([{"oil_mass_g": 1.86}, {"kind": "top-up", "oil_mass_g": 0.2}, {"kind": "top-up", "oil_mass_g": 0.1}], 1.86),
        ([{"dry_mass_g": 12.4, "filled_mass_g": 14.26}, {"kind": "top-up"}], 1.86),
        ([{"oil_mass_g": 1.7}, {"kind": "oil change", "oil_mass_g": 1.9}, {"kind": "top-up", "oil_mass_g": 0.2}], 1.9),
        ([{"oil_mass_g": 1.86}, {}, {"kind": "top-up", "oil_mass_g": 0.2}], None),
        ([{"kind": "top-up", "oil_mass_g": 0.2}], None),
        ([{"kind": "top-up", "oil_mass_g": 0.2}, {"kind": "rebuild", "oil_mass_g": 1.86}], 1.86),
    ],
)
def test_a_top_up_counts_as_filled_up_to_the_last_fill_before_it(
    connection: sqlite3.Connection, team: Team, builds: list[dict[str, Any]], expected: float | None
) -> None:
    *_, last = [team.build(**values) for values in builds]
    (found,) = connection.execute("SELECT oil_in_g FROM build_facts WHERE build = ?", (last,)).fetchone()
    assert found == (None if expected is None else pytest.approx(expected, abs=1e-12))


def test_the_oil_in_a_top_up_follows_the_fill_before_it_and_leaves_other_diffs_alone(
    connection: sqlite3.Connection, writer: Writer, add: Add, team: Team
) -> None:
    first = team.build(oil_mass_g=1.86)
    Team(add, "rear-b").build(built_on="2026-01-02", oil_mass_g=3.0)
    second = team.build(built_on="2026-01-03", kind="top-up", oil_mass_g=0.2)
    writer.update(BY_NAME["build"], first, {"oil_mass_g": 1.8})
    assert oil(connection, "oil_in_g", second) == (1.8,)


@pytest.mark.parametrize(
    ("before", "limits"), [({"oil_mass_g": 1.86}, (0.093, 0.186, "proposal")), ({}, (None, None, None))]
)
def test_the_limits_of_a_top_up_go_by_the_oil_in_it_and_not_by_what_was_added(
    connection: sqlite3.Connection, team: Team, before: dict[str, float], limits: tuple[Any, ...]
) -> None:
    """Five and ten hundredths of 1.86 g are 0.093 g and 0.186 g."""
    team.build(**before)
    build = team.build(kind="top-up", oil_mass_g=0.2, closed_mass_g=22.35)
    team.weigh(build, (6.0, 22.05))
    assert oil(connection, "caution_g, stop_g, limit_from", build) == limits
    (verdict,) = oil(connection, "leak", build)
    assert (verdict == "stop") == bool(before)


@pytest.mark.parametrize(("cst", "temp_c", "is_known"), [(7000.0, 35.0, True), (None, 35.0, False), (7e3, None, False)])
def test_the_viscosity_in_a_run_takes_that_at_25_and_the_temperature_of_the_diff(
    connection: sqlite3.Connection, add: Add, team: Team, cst: float | None, temp_c: float | None, is_known: bool
) -> None:
    """7,000 cSt x exp(1757.1 (1/308.15 - 1/298.15)) = 5,780 cSt, the law that the calculator for warm oil names."""
    build = team.build(viscosity_cst=cst)
    add("run_diff", run=add("run", label="one", run_on="2026-02-01"), build=build, diff_temp_c=temp_c)
    (found,) = connection.execute("SELECT viscosity_at_diff_temperature_cst FROM run_diff_facts").fetchone()
    assert found == (pytest.approx(5780.0, rel=0.001) if is_known else None)


def test_the_density_is_that_of_the_bottle_else_of_the_fluid(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    fluid = add("fluid", label="house 7k", density_g_cm3=0.97)
    measured, bare = add("bottle", fluid=fluid, lot="A", density_g_cm3=0.96), add("bottle", fluid=fluid, lot="B")
    builds = [team.build(fluid=fluid, bottle=measured), team.build(fluid=fluid, bottle=bare), team.build(fluid=fluid)]
    sql = f"SELECT {DENSITY_G_CM3} FROM builds b {OIL_JOINS} WHERE b.id = ?"
    assert [connection.execute(sql, (build,)).fetchone()[0] for build in builds] == [0.96, 0.97, 0.97]


def test_blends_are_kept_apart_whatever_their_parts(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """The viscosities of one lie between those of the other."""
    first, second = team.build(), team.build()
    for build, parts in ((first, (1000.0, 9000.0)), (second, (3000.0, 4000.0))):
        for viscosity_cst in parts:
            add("blend_part", build=build, viscosity_cst=viscosity_cst, mass_g=1.0)
    found = list(blended(connection))
    assert sorted(build for build, _ in found) == sorted((first, second))
    assert dict(found) == pytest.approx({first: 3000.0, second: (3000.0 * 4000.0) ** 0.5}, rel=0.2)
