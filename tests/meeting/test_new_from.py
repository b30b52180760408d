"""A new database from an export or from another database: equal in all it holds, exported again to equal bytes."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest
from canonical import dumped
from conftest import empty_database
from exported import Everything, Run, bytes_of, exported, make_everything

from bevelbook.interchange.read_export import read_export
from bevelbook.interchange.write_export import write_export
from bevelbook.meeting.union import merge_into
from bevelbook.store.opening import open_for_writing


@pytest.fixture
def everything(bevelbook: Run, tmp_path: Path) -> Everything:
    return make_everything(bevelbook, tmp_path)


def test_an_export_brought_into_an_empty_database_gives_an_equal_one(everything: Everything, tmp_path: Path) -> None:
    """Records and facts row by row; history, kept files, photographs and the mark by the bytes of its export."""
    read_export(everything.folder, tmp_path / "aside.db")
    other = empty_database(tmp_path / "other.db")
    with closing(open_for_writing(other)) as connection:
        merge_into(connection, other, tmp_path / "aside.db")
        write_export(connection, other, tmp_path / "again")
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    assert bytes_of(tmp_path / "again") == bytes_of(everything.folder)
    with closing(open_for_writing(everything.db)):
        pass  # facts that rested on what another program changed are worked out again
    assert dumped(other) == dumped(everything.db)


@pytest.mark.parametrize("source", ["export", "database"])
def test_a_new_database_begins_with_what_another_holds(
    source: str, everything: Everything, bevelbook: Run, tmp_path: Path
) -> None:
    named = everything.folder if source == "export" else everything.db
    before = bytes_of(tmp_path)
    done = bevelbook("--db", "fresh.db", "new", "--from", named)
    assert done.code == 0, done.err
    words = " ".join(done.out.split())
    assert words.startswith(f"Made fresh.db with what {named} holds: 37 builds, ")
    assert "Everything in this database is invented" in words, "the mark goes along"
    exported(tmp_path / "fresh.db", tmp_path / "again")
    assert bytes_of(tmp_path / "again") == bytes_of(everything.folder)
    assert {name: held for name, held in bytes_of(tmp_path).items() if name in before} == before
    assert not [*tmp_path.glob(".*"), *tmp_path.glob("bevelbook-*")]
    assert bevelbook("--db", "fresh.db", "check").code in (0, 1)


def test_a_name_that_is_taken_is_left_alone(everything: Everything, bevelbook: Run, tmp_path: Path) -> None:
    copyfile(everything.db, tmp_path / "taken.db")
    done = bevelbook("--db", "taken.db", "new", "--from", everything.folder)
    assert (done.code, "already exists" in done.err) == (2, True)
    assert (tmp_path / "taken.db").read_bytes() == everything.db.read_bytes()


def test_a_source_that_cannot_be_used_leaves_no_file(everything: Everything, bevelbook: Run, tmp_path: Path) -> None:
    (everything.folder / "runs.csv").unlink()
    before = set(tmp_path.iterdir())
    done = bevelbook("--db", "fresh.db", "new", "--from", everything.folder)
    assert (done.code, "runs.csv is missing" in done.err) == (2, True)
    assert bevelbook("--db", "fresh.db", "new", "--from", "nothing").code == 2
    assert set(tmp_path.iterdir()) == before


def test_migrate_and_from_do_not_go_together(bevelbook: Run) -> None:
    assert bevelbook("new", "--migrate", "--from", "x").code == 2


def test_what_is_missing_of_files_stays_missing_and_comes_with_a_whole_export(
    everything: Everything, tmp_path: Path
) -> None:
    """A database that lacks the bytes of a file exports without them, and has them once it has met one that has."""
    with closing(sqlite3.connect(everything.db)) as connection:
        connection.execute("DELETE FROM note_bytes")
        connection.execute("DELETE FROM picture_bytes")
        connection.commit()
    exported(everything.db, tmp_path / "without")
    read_export(tmp_path / "without", tmp_path / "without.db")
    read_export(everything.folder, tmp_path / "whole.db")
    other = empty_database(tmp_path / "other.db")
    with closing(open_for_writing(other)) as connection:
        merge_into(connection, other, tmp_path / "without.db")
        write_export(connection, other, tmp_path / "again")
        assert bytes_of(tmp_path / "again") == bytes_of(tmp_path / "without")
        merge_into(connection, other, tmp_path / "whole.db")
        write_export(connection, other, tmp_path / "again")
    assert bytes_of(tmp_path / "again") == bytes_of(everything.folder)
