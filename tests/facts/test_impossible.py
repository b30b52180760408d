"""Numbers that cannot be, written by another program: they count as not written down, and ``check`` names each."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team, site_over

from bevelbook.declare.fields import LARGEST, SMALLEST
from bevelbook.facts.impossible import impossible_numbers, impossible_sql
from bevelbook.plugin.registry import Registry
from bevelbook.records import KINDS
from bevelbook.store.opening import open_for_reading, open_for_writing
from bevelbook.store.schema import quoted

Maker = Callable[..., Any]
NUMBERS = [(kind, field) for kind in KINDS if kind.own for field in kind.fields if field.kind == "quantity"]
"""Those that a check of the table bounds upwards are refused there, the others are found."""
FACTS = ("build_facts", "run_diff_facts", "diff_facts")
BLEND = "SELECT k.viscosity_cst FROM build_facts k JOIN builds b ON b.id = k.build WHERE b.label = 'front-a/1'"
HUGE = (1e160, 1e308, float("inf"), 5e-324)


@pytest.fixture
def team(tmp_path: Path) -> Path:
    path = make_team(tmp_path / "team.db").path
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
    """Write a number into every row of a table as a SQLite shell does; how many rows took it."""
    with closing(sqlite3.connect(path)) as connection, connection:
        return connection.execute(f"UPDATE {table} SET {quoted(column)} = ?", (value,)).rowcount


@pytest.mark.parametrize(("kind", "field"), NUMBERS, ids=[f"{kind.name}.{field.name}" for kind, field in NUMBERS])
def test_commands_go_on_and_check_names_the_record(bevelbook: Maker, team: Path, kind, field) -> None:  # type: ignore[no-untyped-def]
    value = random.choice(HUGE)
    try:
        count = put(team, kind.table, field.name, value)
    except sqlite3.IntegrityError:
        assert (field.maximum, field.below) != (None, None)
        return
    is_open = (field.maximum, field.below) == (None, None)
    with closing(open_for_reading(team)) as connection:
        found = [(one.kind, one.field, one.value) for one in impossible_numbers(connection)]
    assert found == [(kind, field, value)] * count * is_open
    checked = bevelbook("--db", team, "check", "--json").json
    findings = [*checked["team"], *(one for diff in checked["diffs"] for one in diff["findings"])]
    named = [one for one in findings if one["code"] == "impossible_value"]
    assert len(named) == count * is_open, value
    assert all(field.words in one["words"] and one["subject_table"] == kind.table for one in named)
    for words in (["check", "--rebuild"], ["card", "rear-a/2"], ["compare", "rear-a/1", "rear-a/2", "--json"]):
        assert bevelbook("--db", team, *words).code in (0, 1), (words, value)
    assert bevelbook("--db", team, "record", "venue", "name=another").code == 0, value


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
    put(team, "scales", "step_g", float("inf"))
    put(team, "runs", "runs", float("inf"))
    put(team, "weighings", "mass_g", 1e308)
    open_for_writing(team).close()
    with closing(open_for_reading(team)) as connection:
        (build,) = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()
    with site_over(team, registry) as site:
        for page in ("", "home", "worked", "charts", f"build/{build}", f"card/{build}", "chart/fills"):
            assert site.get(f"/team/-/{page}").status_code == 200, page
        assert site.get("/team/runs.json").status_code == 200


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
