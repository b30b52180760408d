"""Writing many records at once: which indexes and triggers are set aside, and that all are back. Constructed data."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Team

from bevelbook.notes.bulk import Bulk
from bevelbook.notes.note_columns import STORED
from bevelbook.records import BY_NAME
from bevelbook.store.schema import search_table

STAMP = "2026-06-30T10:00:00.000Z"
KEPT = {"builds_by_diff_built_on_day_order_created_at_note_line_id", "runs_by_run_on"}
TABLES = ("builds", "weighings", "runs", "run_diffs")


def bulk(connection: sqlite3.Connection, **more: bool) -> Bulk:
    return Bulk(connection, note_file="x", stamp=STAMP, by=None, **more)


def held(connection: sqlite3.Connection, kind: str) -> set[tuple[str, str]]:
    """The indexes or triggers of the tables that an import writes: table and name."""
    found = connection.execute(
        "SELECT tbl_name, name FROM sqlite_master WHERE type = ? AND sql IS NOT NULL AND tbl_name IN (?, ?, ?, ?)",
        (kind, *TABLES),
    )
    return {(row[0], row[1]) for row in found}


def test_for_many_rows_all_indexes_of_empty_tables_are_set_aside_and_come_back(connection: sqlite3.Connection) -> None:
    indexes, triggers = held(connection, "index"), held(connection, "trigger")
    assert {table for table, _ in indexes} == set(TABLES)
    one = bulk(connection)
    one.set_indexes_aside(20_000)
    assert held(connection, "index") == set()
    assert held(connection, "trigger") < triggers
    assert {table for table, _ in triggers - held(connection, "trigger")} == set(TABLES)
    one.finish()
    assert (held(connection, "index"), held(connection, "trigger")) == (indexes, triggers)


def test_of_a_table_with_rows_the_indexes_that_placing_looks_through_stay(
    connection: sqlite3.Connection, team: Team
) -> None:
    team.build()
    before = held(connection, "index")
    one = bulk(connection)
    one.set_indexes_aside(20_000)
    left = {name for _, name in held(connection, "index")}
    assert left == {name for table, name in before if table == "builds"} & KEPT
    one.finish()
    assert held(connection, "index") == before


@pytest.mark.parametrize(("rows", "dry"), [(100, False), (20_000, True)])
def test_for_few_rows_or_in_a_dry_run_nothing_is_set_aside(
    connection: sqlite3.Connection, rows: int, dry: bool
) -> None:
    before = held(connection, "index"), held(connection, "trigger")
    bulk(connection, dry=dry).set_indexes_aside(rows)
    assert (held(connection, "index"), held(connection, "trigger")) == before


def keep_file(connection: sqlite3.Connection) -> None:
    """The file that the records refer to."""
    kept = dict.fromkeys(("byte_count", "accepted", "rejected", "skipped"), 0)
    bulk(connection).keep_file(
        values={"name": "notes.csv", "sha256": "0" * 64, "read_at": STAMP, **kept}, packed=b"nothing"
    )


def test_all_that_was_written_in_turn_is_found_by_the_search(connection: sqlite3.Connection) -> None:
    keep_file(connection)
    one = bulk(connection)
    for label in ("alder", "birch", "cedar"):
        one.name_id("fluid", label, 2)
        one.flush()
    one.finish()
    table = search_table(BY_NAME["fluid"])
    for label in ("alder", "birch", "cedar"):
        assert connection.execute(f"SELECT count(*) FROM {table}({label!r})").fetchone()[0] == 1


def test_a_record_that_was_removed_and_comes_back_follows_its_removal(
    connection: sqlite3.Connection, team: Team
) -> None:
    def written() -> tuple[str, str | None]:
        one = bulk(connection)
        values = {"label": "rear-a/1", "diff": team.diff, "built_on": "2026-05-01"}
        one.taker("build")(("b1", 2, *(values.get(name) for name in STORED["build"])))
        one.finish()
        version, parents = connection.execute("SELECT version, parents FROM builds WHERE id = 'b1'").fetchone()
        return version, parents

    keep_file(connection)
    assert written() == ("b1", None)
    connection.execute("DELETE FROM builds WHERE id = 'b1'")
    version, parents = written()
    removal = connection.execute("SELECT version FROM history WHERE row_id = 'b1' AND content IS NULL").fetchone()[0]
    assert version != "b1"
    assert removal in (parents or "")
    assert connection.execute("SELECT placing, bulk FROM writing").fetchone()[:] == (None, None)
