"""A database may come from anywhere: what other programs put beside rows never acts, and never lies to a reader."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from bevelbook.declare.errors import DatabaseError
from bevelbook.facts.views import VIEWS
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction

ACTS = "DELETE FROM history; INSERT INTO venues (id, created_at, updated_at, name) VALUES ('x', '2026', '2026', 'x')"
ENDLESS = "WITH RECURSIVE c (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c) SELECT n AS diff, n AS label FROM c"


def edited(path: Path, statements: Sequence[str]) -> Path:
    """The same file after another program ran these statements."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)
    return path


def by_hand(change: str, name: str) -> list[str]:
    """Statements that edit an entry of SQLite's own list of what a file has."""
    return ["PRAGMA writable_schema = ON", f"UPDATE sqlite_master SET {change} WHERE name = '{name}'"]


def otherwise(table: str, said: str, now: str) -> list[str]:
    """Statements that have a table made otherwise."""
    return by_hand(f"sql = replace(sql, '{said}', '{now}')", table)


def written_to(path: Path) -> tuple[list[str], list[str]]:
    """What was said when it was opened for writing, and the venues there after a person was added, changed, removed."""
    said: list[str] = []
    with closing(open_for_writing(path, tell=said.append)) as connection:
        with transaction(connection, path, asked="a test"):
            connection.execute(
                "INSERT INTO people (id, version, created_at, updated_at, name) "
                "SELECT 'p', entry, '2026-05-04', '2026-05-04', 'ana' FROM writing"
            )
        with transaction(connection, path, asked="a test"):
            connection.execute("UPDATE people SET name = 'bo'")
        with transaction(connection, path, asked="a test"):
            connection.execute("DELETE FROM people")
        venues = [row[0] for row in connection.execute("SELECT name FROM venues ORDER BY id")]
        assert connection.execute("SELECT count(*) FROM history").fetchone()[0] > 0
    return said, venues


@pytest.mark.parametrize(
    "statements",
    [
        [f"CREATE TRIGGER zz AFTER INSERT ON people BEGIN {ACTS}; END"],
        [f"CREATE TRIGGER zz AFTER INSERT ON PEOPLE BEGIN {ACTS}; END"],
        [f"CREATE TRIGGER zz AFTER UPDATE ON writing BEGIN {ACTS}; END"],
        [f"CREATE TRIGGER zz BEFORE DELETE ON people BEGIN {ACTS}; END"],
        [f"CREATE TRIGGER zz AFTER INSERT ON venues_search_data BEGIN {ACTS}; END"],
        ["CREATE TABLE pit (a)", f"CREATE TRIGGER zz AFTER INSERT /* ON pit */ ON people BEGIN {ACTS}; END"],
        [
            "CREATE TABLE pit (a TEXT REFERENCES people (id) ON DELETE CASCADE)",
            f"CREATE TRIGGER zz AFTER DELETE ON pit BEGIN {ACTS}; END",
        ],
        ["CREATE UNIQUE INDEX zz ON people (length(name))"],
    ],
)
def test_what_could_act_is_taken_out_and_named(db: Path, statements: list[str]) -> None:
    said, venues = written_to(edited(db, statements))
    assert venues == []
    assert len(said) == 1
    assert "zz" in said[0]
    assert " ".join(statements[-1].split())[:40] in said[0]


def test_a_trigger_of_ours_that_was_changed_is_made_again(db: Path) -> None:
    edited(
        db, ["DROP TRIGGER people_changed", f"CREATE TRIGGER people_changed AFTER INSERT ON people BEGIN {ACTS}; END"]
    )
    assert written_to(db) == ([], [])


@pytest.mark.parametrize(
    "statements",
    [
        otherwise("people", "id TEXT PRIMARY KEY", "id TEXT PRIMARY KEY ON CONFLICT REPLACE"),
        otherwise("history", "row_id TEXT", "row_id TEXT REFERENCES people (id) ON DELETE CASCADE"),
        otherwise("builds", ") STRICT", ")"),
        otherwise("people", '"name" TEXT', '"name" TEXT AS (id)'),
        ["DROP VIEW shelf", "CREATE TABLE shelf (diff)"],
        ["PRAGMA foreign_keys = OFF", "DROP TABLE cars", "CREATE VIEW cars AS SELECT 1 AS id"],
    ],
)
def test_a_table_of_ours_that_is_made_otherwise_is_refused_before_anything_is_written(
    db: Path, statements: list[str]
) -> None:
    before = edited(db, statements).read_bytes()
    with pytest.raises(DatabaseError) as caught:
        open_for_writing(db)
    assert caught.value.code == "schema_changed"
    assert str(db) in str(caught.value)
    assert "'bevelbook export --rescue FOLDER'" in str(caught.value)
    assert db.read_bytes() == before


def test_a_list_of_parts_that_lies_about_itself_is_refused(db: Path) -> None:
    edited(db, [f"CREATE TRIGGER zz AFTER INSERT ON people BEGIN {ACTS}; END", *by_hand("type = 'view'", "zz")])
    with pytest.raises(DatabaseError) as caught:
        open_for_writing(db)
    assert caught.value.code in ("schema_changed", "damaged")


@pytest.mark.parametrize("name", [view.name for view in VIEWS if view.name in ("shelf", "latest_calculations")])
@pytest.mark.parametrize("made", [f"VIEW {{}} AS {ENDLESS}", "TABLE {} (diff)", "VIEW {} AS SELECT 'lie' AS diff"])
def test_a_reader_never_asks_a_view_that_is_not_ours(db: Path, name: str, made: str) -> None:
    with closing(open_for_reading(db)) as connection:
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({name})")]
    edited(db, [f"DROP VIEW {name}", f"CREATE {made.format(name)}"])
    with closing(open_for_reading(db)) as connection:
        assert connection.execute(f"SELECT * FROM {name}").fetchall() == []
        assert [row[0] for row in connection.execute(f"SELECT * FROM {name}").description] == columns


def test_a_table_that_is_a_view_or_works_a_column_out_is_not_read(db: Path) -> None:
    edited(db, ["PRAGMA foreign_keys = OFF", "DROP TABLE cars", f"CREATE VIEW cars AS {ENDLESS}"])
    with pytest.raises(DatabaseError) as caught:
        open_for_reading(db)
    assert caught.value.code == "schema_changed"


def test_what_only_lies_there_stays(db: Path) -> None:
    edited(
        db,
        [
            "CREATE TABLE pit (a TEXT)",
            "CREATE TRIGGER pit_kept AFTER INSERT ON pit BEGIN DELETE FROM pit; END",
            "CREATE VIEW pit_view AS SELECT label FROM builds",
            "CREATE TRIGGER pit_through INSTEAD OF INSERT ON pit_view BEGIN SELECT 1; END",
            "CREATE INDEX pit_index ON people (updated_by)",
            "ALTER TABLE builds ADD COLUMN team_tag TEXT DEFAULT 'x'",
        ],
    )
    assert written_to(db) == ([], [])
    with closing(sqlite3.connect(db)) as connection:
        held = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    assert {"pit", "pit_kept", "pit_view", "pit_through", "pit_index"} <= held


def test_an_endless_question_ends_with_what_to_do(db: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bevelbook.store.bounded_reading.SECONDS_FOR_ANY", -1.0)
    edited(db, [f"CREATE VIEW pit AS {ENDLESS}"])
    with closing(open_for_reading(db)) as connection, pytest.raises(sqlite3.OperationalError, match="interrupted"):
        connection.execute("SELECT count(*) FROM pit").fetchone()


def test_changes_beside_it_that_are_of_another_file_are_refused(db: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("PRAGMA page_size = 8192")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE t (a)")
        connection.commit()
        db.with_name("team.db-wal").write_bytes(other.with_name("other.db-wal").read_bytes())
    for opened in (open_for_reading, open_for_writing):
        with pytest.raises(DatabaseError) as caught:
            opened(db)
        assert caught.value.code == "other_log"
