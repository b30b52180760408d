"""Killed half-way, or locked out by another program: nothing half-written, and the next try works."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.cli import session
from bevelbook.notes import bulk, importing
from bevelbook.notes.settings import Settings
from bevelbook.store import opening, turn

Run = Callable[..., Any]
ROWS = bulk._MANY_ROWS + 500
"""So many that indexes are set aside."""


@pytest.fixture
def notes(tmp_path: Path) -> Path:
    path = tmp_path / "notes.csv"
    rows = "".join(f"2026-05-{1 + n % 28:02},a{n % 50},9.{n % 100:02},1.5,note {n},high\n" for n in range(ROWS))
    path.write_text("date,diff,dry_mass_g,oil_mass_g,result_note,grip\n" + rows, encoding="utf-8")
    return path


def test_killed_while_writing_nothing_of_the_file_is_there(bevelbook: Run, db: Path, notes: Path) -> None:
    """The process stops itself without warning once half of the rows are placed."""
    script = (
        "import os, signal, sys\n"
        "from bevelbook.notes.placing import Placing\n"
        "place = Placing._place\n"
        "def die(self, *given):\n"
        f"    if self.added >= {ROWS // 2}:\n"
        "        os.kill(os.getpid(), signal.SIGKILL)\n"
        "    place(self, *given)\n"
        "Placing._place = die\n"
        "from bevelbook.cli import main\n"
        "main(sys.argv[1:])\n"
    )
    done = subprocess.run([sys.executable, "-c", script, "--db", str(db), "import", str(notes)], check=False)
    assert done.returncode == -signal.SIGKILL
    with closing(sqlite3.connect(db)) as connection:
        assert connection.execute("SELECT count(*) FROM builds").fetchone()[0] == 0
        assert connection.execute("SELECT count(*) FROM note_files").fetchone()[0] == 0
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    again = bevelbook("--db", db, "import", notes, "--json").json
    assert (again["added"], again["known"]) == (ROWS, 0)


def test_a_short_lock_is_waited_for(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "n.csv").write_text("date,diff\n2026-05-03,a\n", encoding="utf-8")
    other = sqlite3.connect(db, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")

    def let_go() -> None:
        time.sleep(0.5)
        other.execute("ROLLBACK")

    waiter = threading.Thread(target=let_go)
    waiter.start()
    done = bevelbook("--db", db, "import", "n.csv", "--json")
    waiter.join()
    other.close()
    assert (done.code, done.json["added"]) == (0, 1)


def test_a_long_lock_is_reported_and_nothing_is_stored(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session, "WAITS_FOR_ITS_TURN_S", 0.1)
    monkeypatch.setattr(turn, "BEFORE_IT_IS_SAID_S", 0.05)
    (tmp_path / "n.csv").write_text("date,diff\n2026-05-03,a\n", encoding="utf-8")
    with closing(sqlite3.connect(db, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        done = bevelbook("--db", db, "import", "n.csv")
        assert done.code == 2
        assert "database is locked by another program" in done.err
        assert done.err.count("waiting for another program that writes to team.db") == 1
        other.execute("ROLLBACK")
        assert other.execute("SELECT count(*) FROM builds").fetchone()[0] == 0
    assert bevelbook("--db", db, "import", "n.csv", "--json").json["added"] == 1


def test_indexes_set_aside_for_a_long_file_are_all_back(bevelbook: Run, db: Path, notes: Path) -> None:
    def indexes() -> set[str]:
        with closing(sqlite3.connect(db)) as connection:
            return {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'index'")}

    before = indexes()
    bevelbook("--db", db, "import", notes)
    assert indexes() == before
    other = notes.with_name("another sheet.csv")
    other.write_text(notes.read_text(encoding="utf-8").replace(",note ", ",more "), encoding="utf-8")
    assert bevelbook("--db", db, "import", other, "--json").json["added"] == ROWS
    assert indexes() == before


def test_the_indexes_set_aside_leave_the_ones_that_placing_looks_through(db: Path) -> None:
    from bevelbook.notes.bulk import _LOOKED_UP
    from bevelbook.store.schema import schema_sql

    made = {statement.split()[2] for statement in schema_sql() if statement.startswith("CREATE INDEX")}
    assert set(_LOOKED_UP) <= made


def test_an_import_sees_the_names_that_another_one_wrote_while_it_read_its_file(
    db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two connections. The other import ends after this one has read its file and before it may write."""
    columns = "date,builder,diff,oil_mass_g,fluid,venue,runs\n"
    (tmp_path / "one.csv").write_text(columns + "2026-05-03,ana,rear-z,1.50,house,Hall,3\n", encoding="utf-8")
    (tmp_path / "two.csv").write_text(columns + "2026-05-04,ana,rear-z,1.60,house,Hall,4\n", encoding="utf-8")

    def brought_in(name: str) -> int:
        with closing(opening.open_for_writing(db)) as connection, (tmp_path / name).open("rb") as file:
            return importing.import_notes(file, name, connection, db, Settings()).added

    begin = importing.transaction

    def begin_after_the_other(*given: Any, **more: Any) -> Any:
        monkeypatch.setattr(importing, "transaction", begin)
        assert brought_in("two.csv") == 1
        return begin(*given, **more)

    monkeypatch.setattr(importing, "transaction", begin_after_the_other)
    assert brought_in("one.csv") == 1
    with closing(sqlite3.connect(db)) as connection:
        for table in ("diffs", "people", "fluids", "venues"):
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] == 1, table
        assert connection.execute("SELECT label FROM builds ORDER BY label").fetchall() == [
            ("rear-z/1",),
            ("rear-z/2",),
        ]
        assert connection.execute("SELECT count(*) FROM runs").fetchone()[0] == 2
