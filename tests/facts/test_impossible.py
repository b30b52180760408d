"""Numbers that cannot be, written by another program: they count as not written down, and ``check`` names each."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team, site_over
from constructed import Add, Team

from bevelbook.declare.fields import LARGEST, SMALLEST
from bevelbook.facts.impossible import (
    facts_are_endless,
    impossible_left_out,
    impossible_numbers,
    impossible_sql,
    leave_out_impossible,
)
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing
from bevelbook.store.schema import ALL_KINDS, quoted, table_sql

Maker = Callable[..., Any]
NUMBERS = [(kind, field) for kind in KINDS if kind.own for field in kind.fields if field.kind in ("quantity", "whole")]
FACTS = ("build_facts", "run_diff_facts", "diff_facts")
BLEND = "SELECT k.viscosity_cst FROM build_facts k JOIN builds b ON b.id = k.build WHERE b.label = 'front-a/1'"
HUGE = (1e160, 1e308, float("inf"), 5e-324)
BEYOND = ("9e999", "-9e999", "1e308", "-1e308", "1.1e12")


@pytest.fixture
def team(tmp_path: Path) -> Path:
    path = make_team(tmp_path / "team.db", note="grey oil at the seal").path
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(
            "INSERT INTO limits (id, created_at, updated_at, kind, value) "
            "VALUES ('l', 't', 't', 'runs between openings', 40.0)"
        )
        connection.execute(
            "INSERT INTO blend_parts (id, created_at, updated_at, build, viscosity_cst, mass_g) "
            "SELECT 'p', 't', 't', id, 7000.0, 1.0 FROM builds WHERE label = 'front-a/1'"
        )
    return path


def put(path: Path, table: str, column: str, value: float) -> int:
    """Write a number into every row of a table as a SQLite shell does that puts the checks aside; how many rows."""
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        return connection.execute(f"UPDATE {table} SET {quoted(column)} = ?", (value,)).rowcount


def test_no_column_of_any_table_takes_a_number_without_an_end() -> None:
    """Every number that is declared, records and facts: the table itself refuses it, alone in a row."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.row_factory = sqlite3.Row
    tried = 0
    for kind in ALL_KINDS:
        connection.execute(re.sub(r"(?<!IS) NOT NULL", "", table_sql(kind)))
        key = kind.columns[0] if kind.fact else "id"
        columns = {row["name"]: row for row in connection.execute(f"PRAGMA table_info({kind.table})")}
        assert {row["type"] for row in columns.values()} <= {"TEXT", "REAL", "INTEGER"}, kind.table
        for field in kind.fields:
            if field.kind not in ("quantity", "whole"):
                continue
            for value in BEYOND if not kind.fact else BEYOND[:4]:
                with pytest.raises(sqlite3.IntegrityError) as refused:
                    connection.execute(f"INSERT INTO {kind.table} ({key}, {quoted(field.name)}) VALUES ('x', {value})")
                said = str(refused.value)
                assert field.name in said, (kind.table, said)
                assert said.startswith("CHECK constraint failed") or "cannot store REAL" in said, said
                tried += 1
    assert tried > 500


def test_each_is_found_and_left_out_in_whatever_column(team: Path) -> None:
    values = iter(HUGE * len(NUMBERS))
    with closing(sqlite3.connect(team, isolation_level=None)) as connection:
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for kind, field in NUMBERS:
            value = next(values) if field.kind == "quantity" else 10**15
            connection.execute("BEGIN")
            count = connection.execute(f"UPDATE {kind.table} SET {quoted(field.name)} = ?", (value,)).rowcount
            found = [(one.kind, one.field, one.value) for one in impossible_numbers(connection)]
            assert found == [(kind, field, value)] * count
            shadowed = leave_out_impossible(connection)
            assert shadowed == [kind.table] * bool(count)
            for (view,) in connection.execute("SELECT name FROM temp.sqlite_master WHERE type = 'view'").fetchall():
                if view != kind.table:
                    connection.execute(f"DROP VIEW temp.{view}")
            for table in shadowed:
                shown = connection.execute(f"SELECT count(*), count({quoted(field.name)}) FROM temp.{table}").fetchone()
                is_kept_empty = not field.required or kind.name == "blend_part"
                assert tuple(shown) == (count * is_kept_empty, 0), (kind.table, field.name)
                connection.execute(f"DROP VIEW temp.{table}")
            connection.execute("ROLLBACK")


@pytest.mark.parametrize("value", HUGE)
def test_commands_go_on_and_check_names_the_records(bevelbook: Maker, team: Path, value: float) -> None:
    count = sum(put(team, kind.table, field.name, value) for kind, field in NUMBERS if field.kind == "quantity")
    checked = bevelbook("--db", team, "check", "--json").json
    findings = [*checked["team"], *(one for diff in checked["diffs"] for one in diff["findings"])]
    named = [one for one in findings if one["code"] == "impossible_value"]
    assert len(named) == count
    for kind, field in NUMBERS:
        if field.kind == "quantity" and kind.table in {one["subject_table"] for one in named}:
            assert any(field.words in one["words"] and one["subject_table"] == kind.table for one in named)
    for words in (["check", "--rebuild"], ["card", "rear-a/2"], ["compare", "rear-a/1", "rear-a/2", "--json"]):
        assert bevelbook("--db", team, *words).code in (0, 1), words
    assert bevelbook("--db", team, "record", "venue", "name=another").code == 0
    asked = ["calc", "oil-choice", "--grip", "low", "--temperature", "30"]
    for words in (["plan"], ["check", "--deep"], ["history"], ["card", "rear-a"], asked):
        done = bevelbook("--db", team, *words, "--json")
        assert done.code in (0, 1) or words == asked, (words, done.err)
        json.loads(done.out or done.err, parse_constant=refuse)


def refuse(constant: str) -> float:
    raise AssertionError(f"{constant} is not JSON")


@pytest.mark.parametrize("column", ["loss_g", "runs", "viscosity_cst", "oil_in_g", "stop_runs"])
def test_a_fact_without_an_end_is_said_and_worked_out_again(bevelbook: Maker, team: Path, column: str) -> None:
    put(team, "build_facts", column, float("inf"))
    for words in (["plan"], ["compare", "rear-a/1", "rear-a/2"], ["card", "rear-a/2"]):
        done = bevelbook("--db", team, *words, "--json")
        if done.code not in (0, 1):
            assert "bevelbook --db" in done.err + done.out
            assert "check --rebuild" in done.err + done.out
        json.loads(done.out or done.err, parse_constant=refuse)
    deep = bevelbook("--db", team, "check", "--deep", "--json")
    assert (deep.code, deep.json["in_order"]) == (1, False)
    assert "worked out again" in bevelbook("--db", team, "check", "--rebuild").err
    with closing(open_for_reading(team)) as connection:
        assert not facts_are_endless(connection)


def test_what_rests_on_such_a_number_is_as_if_it_were_not_written_down(team: Path) -> None:
    """The facts with an infinite number are those with none in its place."""
    held = team.read_bytes()
    for table, column in (
        ("weighings", "runs"),
        ("runs", "runs"),
        ("builds", "oil_mass_g"),
        ("openings", "closed_mass_g"),
    ):
        facts = []
        for value in (None, float("inf")):
            team.write_bytes(held)
            with closing(sqlite3.connect(team)) as connection, connection:
                connection.execute("PRAGMA ignore_check_constraints = ON")
                connection.execute(f"UPDATE {table} SET {column} = ?", (value,))
            with closing(open_for_writing(team)) as connection:
                facts.append([list(map(tuple, connection.execute(f"SELECT * FROM {name}"))) for name in FACTS])
        assert facts[0] == facts[1], column


def test_a_scale_a_limit_or_a_blend_with_such_a_number_is_not_known(team: Path) -> None:
    with closing(sqlite3.connect(team)) as connection, connection:
        connection.execute("UPDATE builds SET fluid = NULL, viscosity_cst = NULL WHERE label = 'front-a/1'")
    with closing(open_for_writing(team)) as connection:
        assert connection.execute(BLEND).fetchone()[0] == pytest.approx(7000.0)
    put(team, "scales", "step_g", 1e300)
    put(team, "limits", "value", float("inf"))
    put(team, "blend_parts", "mass_g", 1e300)
    with closing(open_for_writing(team)) as connection:
        limits = connection.execute("SELECT DISTINCT limit_runs FROM diff_facts").fetchall()
        assert [row[0] for row in limits] == [None]
        viscosity = connection.execute(BLEND).fetchone()[0]
        assert viscosity is None
        assert connection.execute("SELECT count(*) FROM temp.sqlite_master WHERE type = 'view'").fetchone()[0] == 0


def test_pages_go_on(team: Path, registry: Registry) -> None:
    """With every number of every record without an end."""
    for kind, field in NUMBERS:
        if field.kind == "quantity":
            put(team, kind.table, field.name, float("inf"))
    open_for_writing(team).close()
    with closing(open_for_reading(team)) as connection:
        (build,) = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()
    pages = ("", "home", "worked", "charts", f"build/{build}", f"card/{build}", "chart/fills", "plan", "check", "stock")
    with site_over(team, registry) as site:
        for page in pages:
            assert site.get(f"/team/-/{page}").status_code in (200, 404), page
        for page in ("runs.json", "what_worked.json", "shelf.json", "builds"):
            assert site.get(f"/team/{page}").status_code == 200, page


def test_one_that_comes_while_pages_are_served_is_reported_in_words(team: Path, registry: Registry) -> None:
    with closing(open_for_reading(team)) as connection:
        (build,) = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()
    with site_over(team, registry) as site:
        site.datasette.executor.shutdown()
        site.datasette.executor = ThreadPoolExecutor(1)  # a second thread would open the file later, and know already
        assert site.get(f"/team/-/build/{build}").status_code == 200
        put(team, "scales", "step_g", float("inf"))
        answer = site.get(f"/team/-/build/{build}")
        assert answer.status_code == 400
        assert "Stop serving and start again" in answer.text


def test_none_of_them_can_be_typed_in(bevelbook: Maker, team: Path) -> None:
    for kind_name, words in (
        ("limit", ["kind=runs between openings", "value=1e160"]),
        ("scale", ["name=other", "step_g=1e-200"]),
        ("weighing", ["build=rear-a/2", "runs=1e13", "mass_g=22.4"]),
        ("run", ["run_on=2026-05-04", "laps=1e300"]),
        ("build", ["diff=rear-a", "built_on=2026-05-04", "oil_mass_g=1e160"]),
    ):
        outcome = bevelbook("--db", team, "record", kind_name, *words, "--yes")
        assert outcome.code == 2, words
        assert "out of its bounds" in outcome.err or "not a whole number" in outcome.err


def test_the_index_answers_which_records_they_are(team: Path) -> None:
    """Without one, every command would look through all records."""
    with closing(open_for_reading(team)) as connection:
        for kind in KINDS:
            condition = impossible_sql(kind)
            if condition is not None:
                sql = f"EXPLAIN QUERY PLAN SELECT id FROM main.{kind.table} WHERE {condition}"
                assert f"INDEX {kind.table}_impossible" in connection.execute(sql).fetchone()[3]


def test_the_bounds_themselves_are_possible(team: Path) -> None:
    put(team, "limits", "value", LARGEST)
    put(team, "weighings", "runs", SMALLEST)
    put(team, "builds", "dry_mass_g", 0.0)
    with closing(open_for_reading(team)) as connection:
        assert list(impossible_numbers(connection)) == []


# What is left out of facts, kind by kind and at the bounds


@pytest.fixture
def diff(add: Add) -> Team:
    """A diff with a scale; ``team`` is a whole database here."""
    return Team(add)


_VIEWS = "SELECT name FROM temp.sqlite_master WHERE type = 'view' ORDER BY name"


def put_in(connection: sqlite3.Connection, table: str, column: str, value: float, row_id: str) -> None:
    """Write a number into a record as another program may."""
    connection.execute("PRAGMA ignore_check_constraints = ON")
    connection.execute(f"UPDATE {table} SET {column} = ? WHERE id = ?", (value, row_id))
    connection.execute("PRAGMA ignore_check_constraints = OFF")


def views(connection: sqlite3.Connection) -> list[str]:
    return [row[0] for row in connection.execute(_VIEWS)]


def test_impossible_numbers_come_by_kind_then_id_then_column(
    connection: sqlite3.Connection, add: Add, diff: Team
) -> None:
    for name in ("c", "a", "b"):
        build = diff.build()
        weighing = add("weighing", build=build, runs=6.0, mass_g=22.4)
        connection.execute("UPDATE weighings SET id = ? WHERE id = ?", (name, weighing))
        put_in(connection, "weighings", "mass_g", 1e300, name)
    put_in(connection, "weighings", "runs", 1e200, "b")
    put_in(connection, "builds", "oil_mass_g", 1e200, build)
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
    connection: sqlite3.Connection, add: Add, diff: Team, value: float, is_impossible: bool
) -> None:
    build = diff.build()
    weighing = add("weighing", build=build, runs=6.0, mass_g=22.4)
    put_in(connection, "weighings", "runs", value, weighing)
    assert [one.value for one in impossible_numbers(connection)] == [value] * is_impossible
    asked = connection.execute(f"SELECT {impossible_sql(BY_NAME['weighing'])} FROM weighings").fetchone()[0]
    assert bool(asked) == is_impossible
    with impossible_left_out(connection):
        assert views(connection) == ["weighings"] * is_impossible


def test_an_optional_number_is_empty_and_a_record_without_a_needed_one_is_left_out(
    connection: sqlite3.Connection, add: Add, diff: Team
) -> None:
    build = diff.build(oil_mass_g=1.86, closed_mass_g=22.40)
    sound, faulty = (add("weighing", build=build, runs=6.0, mass_g=22.4) for _ in range(2))
    put_in(connection, "builds", "oil_mass_g", 1e200, build)
    put_in(connection, "weighings", "mass_g", 1e200, faulty)
    put_in(connection, "weighings", "runs", 1e200, sound)
    with impossible_left_out(connection):
        assert views(connection) == ["builds", "weighings"]
        row = connection.execute("SELECT oil_mass_g, closed_mass_g, label FROM builds").fetchone()
        assert tuple(row) == (None, 22.40, "rear-a/1")
        assert [tuple(row) for row in connection.execute("SELECT id, runs, mass_g FROM weighings")] == [
            (sound, None, 22.4)
        ]
    assert views(connection) == []
    assert connection.execute("SELECT count(*) FROM weighings").fetchone()[0] == 2


def test_a_part_of_a_blend_keeps_its_row(connection: sqlite3.Connection, add: Add, diff: Team) -> None:
    build = diff.build()
    part = add("blend_part", build=build, viscosity_cst=7000.0, mass_g=1.0)
    put_in(connection, "blend_parts", "mass_g", 1e200, part)
    with impossible_left_out(connection):
        held = connection.execute("SELECT mass_g, viscosity_cst FROM blend_parts").fetchall()
        assert [tuple(row) for row in held] == [(None, 7000.0)]


def test_only_the_tables_that_are_asked_for_are_hidden_and_each_once(
    connection: sqlite3.Connection, add: Add, diff: Team
) -> None:
    build = diff.build(oil_mass_g=1.86)
    weighing = add("weighing", build=build, runs=6.0, mass_g=22.4)
    put_in(connection, "builds", "oil_mass_g", 1e200, build)
    put_in(connection, "weighings", "mass_g", 1e200, weighing)
    assert leave_out_impossible(connection, {"weighings", "runs"}) == ["weighings"]
    assert leave_out_impossible(connection) == ["builds"]
    assert leave_out_impossible(connection) == []
    assert {"builds", "weighings", "what_worked"} <= {*views(connection)}  # and the views that read them


def test_where_every_number_is_possible_nothing_is_hidden(connection: sqlite3.Connection, add: Add, diff: Team) -> None:
    add("weighing", build=diff.build(oil_mass_g=1.86), runs=6.0, mass_g=22.4)
    assert list(impossible_numbers(connection)) == []
    assert leave_out_impossible(connection) == []
