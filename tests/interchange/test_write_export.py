"""An export: the same bytes for the same content, all of it, and a folder that is whole or not there."""

from __future__ import annotations

import csv
import hashlib
import json
import random
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from exported import HOSTILE_NAME, Everything, Run, bytes_of, exported

from bevelbook.declare.errors import DatabaseError
from bevelbook.interchange import write_export as writing
from bevelbook.interchange.clean_database import clean_database
from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.interchange.read_export import read_export
from bevelbook.records import FACTS, KINDS
from bevelbook.store.schema import FILE_TABLES, columns_of


def shuffled(db: Path, copy: Path, seed: int) -> Path:
    """The same content in a file of another page size, its rows written in another order."""
    dice = random.Random(seed)
    with closing(sqlite3.connect(db)) as old, closing(sqlite3.connect(copy)) as new:
        new.execute("PRAGMA page_size = 1024")
        for table in ("note_bytes", "picture_bytes", "history", "also_called", "as_written", "about"):
            new.execute(old.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0])
        for kind in KINDS:
            new.execute(old.execute("SELECT sql FROM sqlite_master WHERE name = ?", (kind.table,)).fetchone()[0])
        for (table,) in new.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            rows = old.execute(f"SELECT * FROM {table}").fetchall()
            if table == "history":
                moved = {row[0]: place for place, row in enumerate(sorted(rows), start=dice.randrange(1, 9_000))}
                rows = [(moved[row[0]], *row[1:]) for row in rows]
            dice.shuffle(rows)
            if rows:
                new.executemany(f"INSERT INTO {table} VALUES ({', '.join('?' * len(rows[0]))})", rows)
        new.commit()
    return copy


def test_the_same_content_gives_the_same_bytes(everything: Everything, tmp_path: Path) -> None:
    """Whatever the order in which rows were written, the rowids and the size of a page."""
    first = bytes_of(everything.folder)
    for seed in range(3):
        copy = shuffled(everything.db, tmp_path / f"copy-{seed}.db", seed)
        with closing(sqlite3.connect(copy)) as connection:
            writing.write_export(connection, copy, tmp_path / f"copy-{seed}")
        assert bytes_of(tmp_path / f"copy-{seed}") == first


def test_nothing_says_when_or_where_it_was_made(everything: Everything) -> None:
    package = json.loads((everything.folder / "datapackage.json").read_bytes())
    assert "created" not in package
    assert "licenses" not in package, "which licence, only the team can say"
    text = (everything.folder / "datapackage.json").read_text(encoding="utf-8")
    assert str(everything.db.parent) not in text


def test_every_table_that_does_not_follow_from_others_is_there_with_every_column(everything: Everything) -> None:
    """The tables are those of the file itself: whoever adds one has to say whether it is exported."""
    with closing(sqlite3.connect(everything.db)) as connection:
        tables = {
            row[0]
            for row in connection.execute("SELECT name FROM pragma_table_list WHERE type = 'table' AND schema = 'main'")
            if not row[0].startswith(("sqlite_", "_sqlite_"))
        }
        own = {"about", "as_written", "one_with", "clashes", "replacing", "writing"}
        assert {one.name for one in exported_tables()} == tables - own - {kind.table for kind in FACTS}
        for table in exported_tables():
            if table.name not in FILE_TABLES:
                held = [row[1] for row in connection.execute(f"PRAGMA table_info({table.name})")]
                assert [*table.names] == [name for name in held if table.name != "history" or name != "id"]
                assert table.kind is None or [*table.names] == [*columns_of(table.kind)]


def test_counts_sizes_and_hashes_are_those_of_the_files(everything: Everything) -> None:
    package = json.loads((everything.folder / "datapackage.json").read_bytes())
    assert package["bevelbook"] == {"step": 5, "invented": True}
    with closing(sqlite3.connect(everything.db)) as connection:
        for one in package["resources"]:
            held = (everything.folder / one["path"]).read_bytes()
            assert one["bytes"] == len(held)
            assert one["hash"] == f"sha256:{hashlib.sha256(held).hexdigest()}"
            assert one["rows"] == connection.execute(f"SELECT count(*) FROM {one['name']}").fetchone()[0], one["name"]


def test_kept_files_and_pictures_lie_beside_the_tables_under_their_hashes(everything: Everything) -> None:
    kept = sorted((everything.folder / "files").iterdir())
    assert len(kept) == 4
    for path in kept:
        assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name
    assert any(path.read_bytes().startswith(b"date,diff,oil") for path in kept), "unpacked, as it was brought in"
    large, small = sorted((everything.folder / "pictures").iterdir(), key=lambda path: len(path.name))
    assert hashlib.sha256(large.read_bytes()).hexdigest() == large.name.removesuffix(".jpg")
    assert small.name == large.name.replace(".jpg", ".small.jpg")


def test_a_text_that_a_spreadsheet_would_run_is_guarded_and_a_number_is_not(everything: Everything) -> None:
    with (everything.folder / "fluids.csv").open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["label"].endswith("% house"))
    assert (row["label"], row["note"]) == ("'-5 % house", f"'{HOSTILE_NAME}")


def test_a_reference_is_exported_as_it_was_written(everything: Everything, tmp_path: Path) -> None:
    """Where a record shows the one that another is one with, the file has what was written."""
    with closing(sqlite3.connect(everything.db)) as connection:
        build, written = connection.execute(
            "SELECT b.id, d.id FROM builds b JOIN diffs d ON d.id <> b.diff ORDER BY b.id, d.id LIMIT 1"
        ).fetchone()
        connection.execute("INSERT INTO as_written VALUES ('builds', ?, 'diff', ?)", (build, written))
        connection.commit()
    exported(everything.db, tmp_path / "joined")
    with (tmp_path / "joined" / "builds.csv").open(encoding="utf-8", newline="") as file:
        assert {row["diff"] for row in csv.DictReader(file) if row["id"] == build} == {written}
    before, after = bytes_of(everything.folder), bytes_of(tmp_path / "joined")
    assert {name for name, held in after.items() if held != before[name]} == {"builds.csv", "datapackage.json"}


def test_an_impossible_number_leaves_as_it_is(everything: Everything, tmp_path: Path) -> None:
    """INF is how Table Schema 2.0 writes a number without an end; it is not read back."""
    with closing(sqlite3.connect(everything.db)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("UPDATE builds SET target_oil_mass_g = 9e999 WHERE rowid = 1")
        connection.commit()
    exported(everything.db, tmp_path / "endless")
    assert b",INF," in (tmp_path / "endless" / "builds.csv").read_bytes()
    with pytest.raises(DatabaseError, match=r"builds.csv, line \d+, target_oil_mass_g: not a number, or not finite"):
        read_export(tmp_path / "endless", tmp_path / "aside.db")
    assert not (tmp_path / "aside.db").exists()


def test_what_is_missing_of_files_is_said_and_the_rest_is_exported(
    everything: Everything, bevelbook: Run, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(everything.db)) as connection:
        connection.execute("DELETE FROM note_bytes WHERE sha256 = (SELECT min(sha256) FROM note_bytes)")
        connection.execute("UPDATE picture_bytes SET jpeg = x'ffd8ff00'")
        connection.commit()
    done = bevelbook("--db", everything.db, "export", "part")
    assert (done.code, done.err) == (0, "")
    assert "Left out: 2 files or pictures that are not in this database or no longer what was kept" in done.out
    read = read_export(tmp_path / "part", tmp_path / "aside.db")
    assert (read.rows["note_files"], read.rows["note_bytes"], read.rows["picture_bytes"]) == (4, 3, 0)


@pytest.mark.parametrize(
    ("sql", "said", "code"),
    [
        ("UPDATE fluids SET note = 'a' || char(0) || 'b' WHERE rowid = 1", r"fluids\.note: .*NUL", "nul_in_text"),
        ("UPDATE fluids SET note = CAST(x'41ff' AS TEXT) WHERE rowid = 1", "not UTF-8", "not_utf8"),
    ],
)
def test_a_text_that_no_file_can_hold_is_named_and_nothing_is_left(
    sql: str, said: str, code: str, everything: Everything, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(everything.db)) as connection:
        connection.execute(sql)
        connection.commit()
    before = bytes_of(everything.folder)
    with pytest.raises(DatabaseError, match=said) as refused:
        exported(everything.db, everything.folder)
    assert refused.value.code == code
    assert bytes_of(everything.folder) == before
    assert not [*tmp_path.glob(".season*"), *tmp_path.glob("bevelbook-*")]


def test_an_earlier_export_is_replaced_whole(everything: Everything) -> None:
    first = bytes_of(everything.folder)
    with closing(sqlite3.connect(everything.db)) as connection:
        connection.execute("DELETE FROM photos")
        connection.execute("DELETE FROM pictures")
        connection.execute("DELETE FROM picture_bytes")
        connection.commit()
    exported(everything.db, everything.folder)
    assert not (everything.folder / "pictures").exists()
    assert set(first) - set(bytes_of(everything.folder)) == {name for name in first if name.startswith("pictures/")}


@pytest.mark.parametrize("what", ["file", "notes beside", "another package", "no package"])
def test_a_place_that_holds_anything_else_is_left_alone(
    what: str, everything: Everything, bevelbook: Run, tmp_path: Path
) -> None:
    folder = everything.folder
    if what == "file":
        folder = tmp_path / "sheet.csv"
        folder.write_text("date,diff", encoding="utf-8")
    elif what == "notes beside":
        (folder / "shopping.txt").write_text("gaskets", encoding="utf-8")
    elif what == "another package":
        (folder / "datapackage.json").write_text('{"name": "x"}', encoding="utf-8")
    else:
        (folder / "datapackage.json").unlink()
    before = bytes_of(tmp_path)
    done = bevelbook("--db", everything.db, "export", folder)
    assert done.code == 2
    assert "something else than an export of bevelbook" in done.err
    assert bytes_of(tmp_path) == before


@pytest.mark.skipif(sys.platform == "win32", reason="a process is not killed by a signal here")
def test_what_a_killed_run_left_is_put_right_by_the_next(everything: Everything, tmp_path: Path) -> None:
    """Killed while the new folder was made, and between taking the old one away and putting the new one there."""
    first = bytes_of(everything.folder)
    script = """if True:
        import os, signal, sys
        from pathlib import Path
        from bevelbook.interchange import write_export as writing
        from bevelbook.store.opened_to_read import open_for_reading
        writing.descriptor_text = lambda *said, **more: os.kill(os.getpid(), signal.SIGKILL)
        db, folder = map(Path, sys.argv[1:])
        writing.write_export(open_for_reading(db), db, folder)
    """
    ended = subprocess.run([sys.executable, "-c", script, str(everything.db), str(everything.folder)], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert bytes_of(everything.folder) == first
    assert len(list(tmp_path.glob("bevelbook-aside-*/in/season/runs.csv"))) == 1
    everything.folder.rename(tmp_path / ".season.before")
    exported(everything.db, everything.folder)
    assert bytes_of(everything.folder) == first
    assert not [*tmp_path.glob(".season*"), *tmp_path.glob("bevelbook-*")]


def test_the_command_says_what_was_written(everything: Everything, bevelbook: Run) -> None:
    done = bevelbook("--db", everything.db, "export", "again")
    assert done.code == 0
    words = " ".join(done.out.split())
    for said in (
        "Wrote again, ",
        " kB: ",
        " builds, ",
        "1 photograph",
        "4 files of notes",
        "1 picture",
        "mind whom you",
    ):
        assert said in words
    assert "Everything in this database is invented" in words
    as_json = bevelbook("--db", everything.db, "export", "again", "--json").json
    assert (as_json["folder"], as_json["invented"], as_json["rows"]["photos"]) == ("again", True, 1)


def test_a_clean_database_runs_nothing_by_itself(tmp_path: Path) -> None:
    with closing(clean_database(tmp_path / "clean.db")) as connection:
        sorts = {row[0] for row in connection.execute("SELECT DISTINCT type FROM sqlite_master")}
        virtual = connection.execute("SELECT count(*) FROM sqlite_master WHERE sql LIKE 'CREATE VIRTUAL%'").fetchone()[
            0
        ]
    assert (sorts, virtual) == ({"table", "index"}, 0)
