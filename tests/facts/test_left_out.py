"""What is left out of facts where a number is impossible, kind by kind and at the bounds. Constructed data."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.declare.fields import LARGEST, SMALLEST
from bevelbook.facts.impossible import impossible_left_out, impossible_numbers, impossible_sql, leave_out_impossible
from bevelbook.records import BY_NAME

VIEWS = "SELECT name FROM temp.sqlite_master WHERE type = 'view' ORDER BY name"


def put(connection: sqlite3.Connection, table: str, column: str, value: float, row_id: str) -> None:
    """Write a number into a record as another program may."""
    connection.execute(f"UPDATE {table} SET {column} = ? WHERE id = ?", (value, row_id))


def views(connection: sqlite3.Connection) -> list[str]:
    return [row[0] for row in connection.execute(VIEWS)]


def test_impossible_numbers_come_by_kind_then_id_then_column(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    for name in ("c", "a", "b"):
        build = team.build()
        weighing = add("weighing", build=build, runs=6.0, mass_g=22.4)
        connection.execute("UPDATE weighings SET id = ? WHERE id = ?", (name, weighing))
        put(connection, "weighings", "mass_g", 1e300, name)
    put(connection, "weighings", "runs", 1e200, "b")
    put(connection, "builds", "oil_mass_g", 1e200, build)
    found = [(one.kind.name, one.row_id, one.field.name, one.value) for one in impossible_numbers(connection)]
    assert found[0] == ("build", build, "oil_mass_g", 1e200)
    assert [one[:2] for one in found[1:]] == [("weighing", name) for name in ("a", "b", "b", "c")]
    assert {one[2:] for one in found[2:4]} == {("mass_g", 1e300), ("runs", 1e200)}
    order = [field.name for field in BY_NAME["weighing"].fields if field.name in ("mass_g", "runs")]
    assert [one[2] for one in found[2:4]] == order


@pytest.mark.parametrize(
    ("value", "is_impossible"),
    [
        (LARGEST, False),
        (LARGEST * 1.001, True),
        (SMALLEST, False),
        (SMALLEST * 0.999, True),
        (0.0, False),
        (float("inf"), True),
    ],
)
def test_a_number_is_impossible_from_its_bounds_on(
    connection: sqlite3.Connection, add: Add, team: Team, value: float, is_impossible: bool
) -> None:
    build = team.build()
    weighing = add("weighing", build=build, runs=6.0, mass_g=22.4)
    put(connection, "weighings", "runs", value, weighing)
    assert [one.value for one in impossible_numbers(connection)] == [value] * is_impossible
    asked = connection.execute(f"SELECT {impossible_sql(BY_NAME['weighing'])} FROM weighings").fetchone()[0]
    assert bool(asked) == is_impossible
    with impossible_left_out(connection):
        assert views(connection) == ["weighings"] * is_impossible


def test_an_optional_number_is_empty_and_a_record_without_a_needed_one_is_left_out(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    sound, faulty = (add("weighing", build=build, runs=6.0, mass_g=22.4) for _ in range(2))
    put(connection, "builds", "oil_mass_g", 1e200, build)
    put(connection, "weighings", "mass_g", 1e200, faulty)
    put(connection, "weighings", "runs", 1e200, sound)
    with impossible_left_out(connection):
        assert views(connection) == ["builds", "weighings"]
        row = connection.execute("SELECT oil_mass_g, closed_mass_g, label FROM builds").fetchone()
        assert tuple(row) == (None, 22.40, "rear-a/1")
        assert [tuple(row) for row in connection.execute("SELECT id, runs, mass_g FROM weighings")] == [
            (sound, None, 22.4)
        ]
    assert views(connection) == []
    assert connection.execute("SELECT count(*) FROM weighings").fetchone()[0] == 2


def test_a_part_of_a_blend_keeps_its_row(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build()
    part = add("blend_part", build=build, viscosity_cst=7000.0, mass_g=1.0)
    put(connection, "blend_parts", "mass_g", 1e200, part)
    with impossible_left_out(connection):
        held = connection.execute("SELECT mass_g, viscosity_cst FROM blend_parts").fetchall()
        assert [tuple(row) for row in held] == [(None, 7000.0)]


def test_only_the_tables_that_are_asked_for_are_hidden_and_each_once(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86)
    weighing = add("weighing", build=build, runs=6.0, mass_g=22.4)
    put(connection, "builds", "oil_mass_g", 1e200, build)
    put(connection, "weighings", "mass_g", 1e200, weighing)
    assert leave_out_impossible(connection, {"weighings", "runs"}) == ["weighings"]
    assert leave_out_impossible(connection) == ["builds"]
    assert leave_out_impossible(connection) == []
    assert views(connection) == ["builds", "weighings"]


def test_where_every_number_is_possible_nothing_is_hidden(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    add("weighing", build=team.build(oil_mass_g=1.86), runs=6.0, mass_g=22.4)
    assert list(impossible_numbers(connection)) == []
    assert leave_out_impossible(connection) == []
