"""What other programs put into a database stays there, or the upgrade is refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from released import all_rows, released

from bevelbook.declare.errors import DatabaseError
from bevelbook.store.opening import new_database, open_for_writing


@pytest.fixture
def foreign(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A database, of today or of the last release, in which another program made a view, a table and a trigger."""
    if request.param == "today":
        path = tmp_path / "team.db"
        new_database(path).close()
    else:
        path = released(tmp_path / "team.db")
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE VIEW pit_view AS SELECT label FROM builds")
        connection.execute("CREATE TABLE pit (word TEXT)")
        connection.execute("CREATE TRIGGER pit_trigger AFTER INSERT ON pit BEGIN DELETE FROM pit WHERE word = 'x'; END")
        connection.execute("DROP VIEW shelf")
    return path


@pytest.mark.parametrize("foreign", ["today", "0.1.0"], indirect=True)
def test_views_and_triggers_of_other_programs_stay(foreign: Path) -> None:
    with closing(open_for_writing(foreign)) as connection:
        held = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        assert {"pit_view", "pit_trigger", "shelf"} <= held
        assert connection.execute("SELECT count(*) FROM pit_view").fetchone() is not None


def test_an_upgrade_that_would_lose_a_column_of_another_program_is_refused(tmp_path: Path) -> None:
    old = released(tmp_path / "old.db")
    with closing(sqlite3.connect(old)) as connection, connection:
        connection.execute("ALTER TABLE builds ADD COLUMN team_tag TEXT DEFAULT 'keep me'")
    before = all_rows(old)
    with pytest.raises(DatabaseError, match="another program added") as caught:
        open_for_writing(old)
    assert "team_tag" in str(caught.value)
    assert all_rows(old) == before
