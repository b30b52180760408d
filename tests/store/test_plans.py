"""How the database goes about our views: no view works one thing out in several places, or reads a table for one key.

A sub-query used in several columns is worked out in each, and a view inside a view multiplies it; the plan shows
that, whatever is in the tables. ``EXPLAIN QUERY PLAN`` is SQLite's own account (https://www.sqlite.org/eqp.html).
"""

from __future__ import annotations

import re
import sqlite3
from typing import NamedTuple

import pytest
from steps_of_plan import LAPS, steps_beside_laps, steps_of_plan

from bevelbook.facts.views import VIEWS
from bevelbook.notes.note_columns import REFERRED
from bevelbook.reports import search
from bevelbook.store.schema import ALL_KINDS, index_sql


class Most(NamedTuple):
    """What a view may take: lines of its plan, sub-queries worked out row by row, and tables read from end to end."""

    lines: int
    subqueries: int
    tables: int
    key: str
    """The column (or columns) that one asks it by."""
    tables_for_key: int = 0
    laps: int = 0
    """How often it may name the laps listed in one cell; SQLite goes through them only where a time is not written."""


MOST = {
    "latest_calculations": Most(8, 0, 1, "subject_table = 'builds' AND subject_id = 'x'"),
    "current_builds": Most(2, 0, 1, "id = 'x'", tables_for_key=1),  # one row for each diff
    "build_runs": Most(3, 0, 1, "build = 'x'"),
    # A part's count rests on all builds of its diffs: where each marked piece was, then each place, then sums.
    # What a place holds is carried from build to build: a join would take the square of the builds of a diff.
    "part_runs": Most(115, 0, 8, "build = 'x'", tables_for_key=8),
    # Eight of the sub-queries look one file up by its id, for runs and weighings of one day from two files. The runs at
    # a weighing are those written before it, and what each earlier weighing states beyond those before that one.
    "masses": Most(35, 11, 4, "build = 'x'"),
    "losses": Most(1, 0, 0, "build = 'x'"),
    "shelf": Most(6, 0, 1, "diff = 'x'"),
    "build_sheet": Most(14, 1, 1, "build = 'x'"),
    "what_worked": Most(8, 0, 1, "build = 'x'", laps=6),
    # Builds, weighings and runs: each looks up the names that a row may have, one by one by its id.
    "imported_notes": Most(24 + len(REFERRED), 0, 3, "note_file = 'x'"),
}


def tables_read(lines: list[str], view: str) -> list[str]:
    """What is read from end to end, without what was just worked out: sub-queries and the view itself."""
    found = [match[1] for match in (re.match(r"SCAN (?:TABLE )?(\w+)", line) for line in lines) if match]
    worked_out = {
        match[1] for match in (re.match(r"(?:MATERIALIZE|CO-ROUTINE) (\w+)", line) for line in lines) if match
    }
    return [one for one in found if one not in (view, "CONSTANT", *worked_out)]


def subqueries(lines: list[str]) -> int:
    return sum("CORRELATED SCALAR SUBQUERY" in line for line in lines)


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_a_view_works_each_thing_out_once(connection: sqlite3.Connection, view) -> None:  # type: ignore[no-untyped-def]
    most = MOST[view.name]
    asked = f"SELECT * FROM {view.name}"
    lines = steps_beside_laps(connection, asked)
    assert sum(LAPS in step for step in steps_of_plan(connection, asked)) == most.laps
    assert len(lines) <= most.lines, lines
    assert subqueries(lines) <= most.subqueries, lines
    assert len(tables_read(lines, view.name)) <= most.tables, lines


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_a_view_asked_by_its_key_reads_no_table(connection: sqlite3.Connection, view) -> None:  # type: ignore[no-untyped-def]
    most = MOST[view.name]
    lines = steps_beside_laps(connection, f"SELECT * FROM {view.name} WHERE {most.key}")
    assert len(lines) <= most.lines, lines
    assert len(tables_read(lines, view.name)) <= most.tables_for_key, lines


def test_the_bounds_see_a_view_that_multiplies_its_sub_query(connection: sqlite3.Connection) -> None:
    """A loss used three times in a CASE over a view is worked out three times."""
    connection.execute(
        "CREATE TEMP VIEW loss AS SELECT id, (SELECT max(mass_g) - min(mass_g) FROM weighings w "
        "WHERE w.build = b.id) AS loss_g FROM builds b"
    )
    connection.execute(
        "CREATE TEMP VIEW word AS SELECT id, CASE WHEN loss_g > 2 THEN 'stop' WHEN loss_g > 1 THEN 'look' "
        "WHEN loss_g > 0 THEN 'ok' END AS word FROM loss"
    )
    assert subqueries(steps_of_plan(connection, "SELECT * FROM loss")) == 1
    assert subqueries(steps_of_plan(connection, "SELECT * FROM word")) >= 3


def test_the_bounds_see_a_table_read_for_one_key(connection: sqlite3.Connection) -> None:
    assert tables_read(steps_of_plan(connection, "SELECT * FROM builds b WHERE b.note = 'x'"), "") == ["b"]
    assert tables_read(steps_of_plan(connection, "SELECT * FROM builds b WHERE b.id = 'x'"), "") == []


@pytest.mark.parametrize(
    ("sql", "index"),
    [
        ("SELECT id FROM builds WHERE fluid = 'x' ORDER BY built_on DESC LIMIT 40", "builds_by_fluid_built_on"),
        ("SELECT id FROM runs WHERE venue = 'x' ORDER BY run_on DESC LIMIT 40", "runs_by_venue_run_on"),
        ("SELECT count(*) FROM build_facts WHERE leak IS NOT NULL", "build_facts_by_leak"),
        ("SELECT build FROM build_facts WHERE leak IN ('caution', 'stop')", "build_facts_by_leak"),
    ],
)
def test_what_pages_ask_goes_along_an_index_and_is_not_sorted(
    connection: sqlite3.Connection, sql: str, index: str
) -> None:
    lines = steps_of_plan(connection, sql)
    assert [index in line for line in lines] == [True]
    assert any(f" {index} " in one for kind in ALL_KINDS for one in index_sql(kind))


def test_a_search_of_many_hits_takes_the_newest_and_of_few_the_best(
    connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    connection.execute(
        "INSERT INTO venues (id, name, note, created_at, updated_at) VALUES "
        "('a', 'one', 'steady steady steady', '2026-05-03', '2026-05-03'), "
        "('b', 'two', 'steady and a great many other words beside it', '2026-05-03', '2026-05-03')"
    )
    assert [one.row_id for one in search.search_records(connection, "steady", 5)] == ["a", "b"]
    monkeypatch.setattr(search, "DATED", 1)
    assert [one.row_id for one in search.search_records(connection, "steady", 5)] == ["b", "a"]
    assert [one.row_id for one in search.search_records(connection, "steady", 1)] == ["b"]
