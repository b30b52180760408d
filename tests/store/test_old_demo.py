"""A database of version 0.1.0 that holds that version's demo, whole, says after the upgrade that it is invented.

The rows of that demo are not kept here: the invented rows of that release's dump take their place.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome
from released import released

from bevelbook.store import old_demo
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing

Run = Callable[..., Outcome]
NOT_THE_DEMO = {
    "an entry mended": "UPDATE builds SET note = 'mended' WHERE id = (SELECT min(id) FROM builds)",
    "an entry removed": "DELETE FROM ideas WHERE id = (SELECT min(id) FROM ideas)",
    "an entry more": "INSERT INTO people (id, name, created_at, updated_at) VALUES ('p', 'zoe', 'now', 'now')",
    "a file more": (
        "INSERT INTO note_files (id, name, sha256, byte_count, read_at, options, accepted, rejected, skipped) "
        "VALUES ('f', 'own.csv', 'abc', 1, 'now', '{}', 0, 1, 0)"
    ),
}


@pytest.fixture
def old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A database of that version, whose rows count as the demo's."""
    path = released(tmp_path / "old.db")
    with closing(sqlite3.connect(path)) as connection:
        files = frozenset(row[0] for row in connection.execute("SELECT sha256 FROM note_files"))
        monkeypatch.setattr(old_demo, "_NOTE_FILES", files)
        monkeypatch.setattr(old_demo, "_ALL_ROWS", old_demo.sum_of_rows(connection))
    assert files
    return path


def change(path: Path, sql: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.create_function("bevelbook_hash", 1, str)
        connection.execute("PRAGMA foreign_keys = OFF")
        assert connection.execute(sql).rowcount == 1


def upgraded(path: Path) -> tuple[bool, list[str]]:
    said: list[str] = []
    open_for_writing(path, tell=said.append).close()
    with closing(open_for_reading(path)) as connection:
        return is_invented(connection), said


def test_the_whole_demo_is_marked_and_that_is_said(old: Path) -> None:
    change(old, "UPDATE people SET updated_by = 'zoe' WHERE id = (SELECT min(id) FROM people)")
    marked, said = upgraded(old)
    assert marked, "who wrote it and when is not part of the demo"
    assert said[1:] == [old_demo.SAID_OF_OLD_DEMO["all"]]


@pytest.mark.parametrize("what", NOT_THE_DEMO)
def test_a_demo_with_anything_else_in_it_is_not_marked_and_that_is_said(old: Path, what: str) -> None:
    change(old, NOT_THE_DEMO[what])
    marked, said = upgraded(old)
    assert not marked
    assert said[1:] == [old_demo.SAID_OF_OLD_DEMO["some"]]


def test_a_team_of_its_own_is_not_marked_and_hears_nothing_of_a_demo(tmp_path: Path) -> None:
    marked, said = upgraded(released(tmp_path / "own.db"))
    assert (marked, len(said)) == (False, 1)


def test_the_demo_says_that_it_brought_an_older_database_over(bevelbook: Run, tmp_path: Path) -> None:
    empty = released(tmp_path / "empty.db")
    with closing(sqlite3.connect(empty)) as connection, connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        for (trigger,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {trigger}")
        for table in (*old_demo.TABLES, "history", "note_bytes", "calculations"):
            connection.execute(f"DELETE FROM {table}")
    done = bevelbook("--db", empty, "demo", "--json")
    assert (done.code, done.err.count("was brought from step 2")) == (0, 1), done.err
    assert len(done.json["notices"]) == 1
    other = released(tmp_path / "other.db")
    refused = bevelbook("--db", other, "demo")
    assert refused.code == 2
    assert "was brought from step 2" not in refused.err
    assert "Nothing was changed." in " ".join(refused.err.split())
