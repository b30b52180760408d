"""Opening a database: what is taken, what is refused, and how a transaction ends."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome
from demo_book import demo_book

from bevelbook.declare.errors import DatabaseError
from bevelbook.records import BY_NAME
from bevelbook.store import opened_to_read, turn
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.queue_for_file import QueueForFile, is_queue_formed
from bevelbook.store.schema import APPLICATION_ID
from bevelbook.store.writing import Writer


def test_a_database_has_our_application_id_and_its_step(db: Path) -> None:
    head = db.read_bytes()[:100]
    assert int.from_bytes(head[68:72], "big") == APPLICATION_ID
    assert int.from_bytes(head[60:64], "big") == LAST_STEP


def test_a_new_database_does_not_take_a_name_that_is_taken(db: Path) -> None:
    with pytest.raises(DatabaseError, match="a file with that name"):
        new_database(db)


def test_a_new_database_needs_its_folder(tmp_path: Path) -> None:
    with pytest.raises(DatabaseError, match="no such folder"):
        new_database(tmp_path / "nowhere" / "team.db")


def test_a_file_that_is_not_a_bevelbook_database_is_refused(tmp_path: Path) -> None:
    for name, content in (("a.txt", b"hello"), ("empty.db", b"")):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(DatabaseError, match="not a bevelbook database"):
            open_for_writing(tmp_path / name)
    foreign = sqlite3.connect(tmp_path / "foreign.db")
    foreign.execute("CREATE TABLE t (x)")
    foreign.close()
    with pytest.raises(DatabaseError, match="not a bevelbook database"):
        open_for_reading(tmp_path / "foreign.db")
    with pytest.raises(DatabaseError, match="this is a folder"):
        open_for_reading(tmp_path)
    with pytest.raises(DatabaseError, match="no such database"):
        open_for_reading(tmp_path / "none.db")


def test_a_newer_database_is_refused_and_an_older_one_names_the_command(db: Path) -> None:
    connection = sqlite3.connect(db)
    connection.execute(f"PRAGMA user_version = {LAST_STEP + 1}")
    connection.close()
    with pytest.raises(DatabaseError, match="newer version"):
        open_for_writing(db)
    connection = sqlite3.connect(db)
    connection.execute(f"PRAGMA user_version = {LAST_STEP - 1}")
    connection.close()
    with pytest.raises(DatabaseError, match="new --migrate"):
        open_for_reading(db)


def test_a_locked_database_says_so_and_nothing_changes(db: Path) -> None:
    holder = sqlite3.connect(db, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    connection = open_for_writing(db, busy_seconds=0.1)
    with (
        pytest.raises(DatabaseError, match="database is locked by another program") as caught,
        transaction(connection, db),
    ):
        connection.execute("SELECT 1")
    assert caught.value.code == "locked"
    connection.close()
    holder.rollback()
    holder.close()


def test_a_wait_for_one_who_keeps_all_out_is_said(db: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    monkeypatch.setattr(turn, "BEFORE_IT_IS_SAID_S", 0.01)
    token = turn.say_waiting.set(lambda: said.append("waiting"))
    with closing(sqlite3.connect(db, isolation_level=None)) as holder:
        holder.execute("PRAGMA locking_mode = EXCLUSIVE")
        holder.execute("BEGIN EXCLUSIVE")
        monkeypatch.setattr(opened_to_read, "BUSY_SECONDS", 0.05)
        with pytest.raises(DatabaseError, match="database is locked by another program"):
            open_for_reading(db)
        assert said == ["waiting"]
        with pytest.raises(DatabaseError, match="database is locked by another program"):
            open_for_writing(db, busy_seconds=0.05)
    turn.say_waiting.reset(token)
    assert said == ["waiting"] * 2


def test_a_fault_inside_a_transaction_leaves_nothing(db: Path) -> None:
    connection = open_for_writing(db)
    with pytest.raises(RuntimeError), transaction(connection, db):
        Writer(connection, None).insert(BY_NAME["person"], {"name": "ana"})
        raise RuntimeError
    assert connection.execute("SELECT count(*) FROM people").fetchone()[0] == 0
    connection.close()


def test_after_a_transaction_the_file_is_whole_without_its_log(db: Path) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db):
        Writer(connection, None).insert(BY_NAME["person"], {"name": "ana"})
    copy = db.with_name("copy.db")
    copy.write_bytes(db.read_bytes())
    connection.close()
    reader = open_for_reading(copy)
    assert reader.execute("SELECT name FROM people").fetchone()[0] == "ana"
    reader.close()


READ_IT = """
import fcntl, json, os, sys
from pathlib import Path
from bevelbook.declare.errors import BevelbookError
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store import copied_to_read
if os.geteuid() == 0:
    os.setuid(65534)
found = {}
try:
    with open(Path(sys.argv[1]).with_name("x"), "w"):
        found["written"] = True
except OSError:
    found["written"] = False
try:
    found["names"] = [row[0] for row in open_for_reading(Path(sys.argv[1])).execute("SELECT name FROM people")]
except BevelbookError as fault:
    found["refused"] = fault.as_dict()
print(json.dumps(found))
"""
"""What is read in a folder that cannot be written; root, who can write anywhere, becomes somebody else first, from whom
Python's own files may be hidden: what a copy needs is imported before."""


@pytest.fixture
def read_only(db: Path) -> Iterator[Path]:
    """A database with a person in a folder that cannot be written, where anybody may read it."""
    with closing(open_for_writing(db)) as connection, transaction(connection, db):
        Writer(connection, None).insert(BY_NAME["person"], {"name": "ana"})
    folder = Path(tempfile.mkdtemp())
    path = folder / "team.db"
    shutil.copy(db, path)
    path.chmod(0o444)
    folder.chmod(0o555)
    yield path
    folder.chmod(0o755)
    shutil.rmtree(folder)


def read_in(path: Path) -> dict[str, object]:
    script = [sys.executable, "-c", READ_IT, str(path)]
    done = subprocess.run(script, capture_output=True, text=True, check=True, env=dict(os.environ))
    found: dict[str, object] = json.loads(done.stdout)
    assert found.pop("written") is False
    return found


def test_a_database_in_a_folder_that_cannot_be_written_is_read(read_only: Path) -> None:
    assert read_in(read_only) == {"names": ["ana"]}
    assert [one.name for one in read_only.parent.iterdir()] == ["team.db"]


def test_with_an_empty_log_beside_it_too(read_only: Path) -> None:
    read_only.parent.chmod(0o755)
    read_only.with_name("team.db-wal").touch(0o444)
    read_only.parent.chmod(0o555)
    assert read_in(read_only) == {"names": ["ana"]}


def lay_log_beside(read_only: Path) -> None:
    """Leave a log with rows, whose index is not there and cannot be made."""
    read_only.parent.chmod(0o755)
    read_only.chmod(0o644)
    with closing(sqlite3.connect(read_only, isolation_level=None)) as holder:
        holder.execute("PRAGMA wal_autocheckpoint = 0")
        holder.execute("UPDATE people SET name = 'bo'")
        log = read_only.with_name("team.db-wal").read_bytes()
        held = read_only.read_bytes()
    read_only.write_bytes(held)
    read_only.with_name("team.db-wal").write_bytes(log)
    read_only.with_name("team.db-wal").chmod(0o444)
    read_only.chmod(0o444)
    read_only.parent.chmod(0o555)


def test_rows_beside_it_are_read_from_a_copy_that_goes(read_only: Path) -> None:
    lay_log_beside(read_only)
    before = {one.name: one.read_bytes() for one in read_only.parent.iterdir()}
    assert read_in(read_only) == {"names": ["bo"]}
    assert {one.name: one.read_bytes() for one in read_only.parent.iterdir()} == before
    assert len(before) == 2


def test_a_copy_goes_when_it_is_closed(read_only: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lay_log_beside(read_only)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    before = set(tmp_path.iterdir())
    connection = opened_to_read._reading_without_writing(read_only)
    (aside,) = set(tmp_path.iterdir()) - before
    assert aside.stat().st_mode & 0o777 == 0o700
    assert connection.execute("SELECT name FROM people").fetchone()[0] == "bo"
    connection.close()
    assert set(tmp_path.iterdir()) == before


def test_rows_beside_it_that_cannot_be_copied_are_reported(
    read_only: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay_log_beside(read_only)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    with pytest.raises(DatabaseError) as refused:
        opened_to_read._reading_without_writing(read_only)
    assert refused.value.code == "log_unread"
    assert "copy team.db and team.db-wal" in str(refused.value.remedy)


def test_of_two_that_wait_the_first_begins_first(db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The queue alone: the second waits although nobody holds the database, until the first leaves or it gives up."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert not is_queue_formed(str(db))
    with QueueForFile(str(db)) as first:
        assert is_queue_formed(str(db))
        assert not first.is_waiting
        with QueueForFile(str(db)) as second:
            assert second.is_waiting
        with closing(open_for_writing(db, busy_seconds=0.0)) as connection, transaction(connection, db):
            pass
        third = QueueForFile(str(db))
        third.__enter__()
    third.wait(10)
    assert not third.is_waiting
    third.__exit__(None, None, None)


@pytest.fixture
def disk_to_read(tmp_path: Path) -> Iterator[Path]:
    """The demo with rows in its log, on a disk that nobody may write to, not even root."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if shutil.which("mount") is None:
        pytest.skip("there is no mount here")
    made = subprocess.run(["mount", "-t", "tmpfs", "trial", str(disk)], capture_output=True, text=True, check=False)
    if made.returncode:
        pytest.skip(f"a disk cannot be mounted here: {made.stderr.strip()}")
    demo_db = tmp_path / "demo.db"
    try:
        demo_book(demo_db)
        with closing(sqlite3.connect(demo_db, isolation_level=None)) as holder:
            holder.execute("PRAGMA wal_autocheckpoint = 0")
            holder.execute("UPDATE venues SET note = 'narrow'")
            for name in (demo_db.name, f"{demo_db.name}-wal"):
                shutil.copy(demo_db.with_name(name), disk / name)
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        yield disk / demo_db.name
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.parametrize(
    "words",
    [
        ("check",),
        ("check", "--deep"),
        ("plan",),
        ("labels", "--html", "OUT.html"),
        ("card", "rear-a/1"),
        ("compare", "rear-a/1", "rear-a/2"),
        ("export", "OUT"),
    ],
    ids=" ".join,
)
def test_what_only_reads_needs_no_room_beside_the_file(
    bevelbook: Callable[..., Outcome], disk_to_read: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    said = [word.replace("OUT", str(tmp_path / "out")) for word in words]
    outcome = bevelbook("--db", disk_to_read, *said)
    assert outcome.code in (0, 1), outcome.err
    assert "cannot be written" not in outcome.err
    assert outcome.out.strip()
    if words[0] == "export":
        venues = (tmp_path / "out" / "venues.csv").read_text(encoding="utf-8")
        assert "narrow" in venues, "what is in the log is read too"


def test_a_refusal_to_write_names_both_files_that_are_to_be_copied(
    bevelbook: Callable[..., Outcome], disk_to_read: Path
) -> None:
    """Without its log the copy lacks the newest rows (SQLite, Write-Ahead Logging, "The WAL File": it is part of the
    persistent state and has to be kept with the database if that is copied or moved)."""
    outcome = bevelbook("--db", disk_to_read, "record", "venue", "name=Slipway")
    assert outcome.code == 2
    said = " ".join(outcome.err.split())
    assert "Copy demo.db and demo.db-wal, which holds its newest rows, to your own folder" in said
