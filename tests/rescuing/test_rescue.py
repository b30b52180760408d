"""What can be read of a damaged database comes out as an export that comes back, and all else is named.

What a row holds is compared with what SQLite itself reads of the sound file.
"""

from __future__ import annotations

import csv
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.records import BY_NAME
from bevelbook.rescuing.pages import opened_pages
from bevelbook.rescuing.rescue import rescue
from bevelbook.rescuing.trees import Text, Tree
from bevelbook.store.opening import PAGE_BYTES, open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Any]
NOTE = "it weeps, a little "


@pytest.fixture
def team(db: Path) -> Path:
    """Two diffs with 60 builds, a weighing each, and a note that takes several pages."""
    with closing(open_for_writing(db)) as connection:
        with transaction(connection, db, by="ana"):
            writer = Writer(connection, "ana")
            for diff in ("a", "b"):
                writer.insert(BY_NAME["diff"], {"label": f"rear-{diff}"}, row_id=f"d-{diff}")
            for number in range(60):
                build = {
                    "diff": f"d-{'ab'[number % 2]}",
                    "built_on": f"2026-05-{1 + number % 28:02}",
                    "oil_mass_g": 1.86,
                }
                named = {"label": f"rear-{'ab'[number % 2]}/{number}", "note": NOTE * 30}
                row_id = writer.insert(BY_NAME["build"], build | named, row_id=f"b-{number}")
                writer.insert(BY_NAME["weighing"], {"build": row_id, "mass_g": 14.0 + number / 100})
            writer.insert(BY_NAME["idea"], {"text": NOTE * 2_000}, row_id="long")
        with transaction(connection, db, by="ana"):
            Writer(connection, "ana").update(BY_NAME["diff"], "d-b", {"note": "opened"})
    return db


def damage(path: Path, name: str, *, leaf: int | None = None, content: bytes = b"\xee" * PAGE_BYTES) -> None:
    """Write over the first page of a table, or one of those below it."""
    with closing(sqlite3.connect(path)) as connection:
        root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", (name,)).fetchone()[0]
    if leaf is not None:
        with opened_pages(path) as file:
            tree = Tree(file, root)
            list(tree.rows())
            root = sorted(tree.seen - {root})[leaf]
    held = bytearray(path.read_bytes())
    held[(root - 1) * PAGE_BYTES : root * PAGE_BYTES] = content
    path.write_bytes(held)


def rows_of(path: Path, table: str) -> dict[str, Any]:
    with closing(sqlite3.connect(path)) as connection:
        connection.row_factory = sqlite3.Row
        return {row["id"]: dict(row) for row in connection.execute(f"SELECT * FROM {table} ORDER BY id")}


def back(bevelbook: Run, saved: Path) -> Path:
    """The export as a database again."""
    path = saved.with_suffix(".db")
    refused = bevelbook("--db", path, "new", "--from", saved)
    assert f"Name the folder in it: {saved / 'export'}." in refused.err
    outcome = bevelbook("--db", path, "new", "--from", saved / "export")
    assert outcome.code == 0, outcome.err
    return path


def test_pages_are_read_as_sqlite_reads_them(team: Path) -> None:
    with closing(sqlite3.connect(team)) as connection, opened_pages(team) as file:
        for name in ("diffs", "builds", "weighings", "ideas", "history", "as_written", "entries"):
            asked = "SELECT rootpage, sql FROM sqlite_master WHERE name = ?"
            root, sql = connection.execute(asked, (name,)).fetchone()
            tree = Tree(file, root, is_index="WITHOUT ROWID" in sql)
            found = [tuple(one.decode() if isinstance(one, Text) else one for one in row.values) for row in tree.rows()]
            rows = connection.execute(f"SELECT * FROM {name}").fetchall()
            if name == "history":  # whose first column is the number of the row
                rows = [(None, *row[1:]) for row in rows]
            assert found == rows
            assert tree.lost == []


def test_a_sound_file_comes_out_whole(bevelbook: Run, team: Path, tmp_path: Path) -> None:
    outcome = bevelbook("--db", team, "export", "--rescue", tmp_path / "saved")
    assert outcome.code == 0, outcome.err
    assert "Nothing is missing." in outcome.out
    assert bevelbook("--db", team, "export", tmp_path / "plain").code == 0
    plain = {one.name: one.read_bytes() for one in (tmp_path / "plain").iterdir()}
    assert {one.name: one.read_bytes() for one in (tmp_path / "saved" / "export").iterdir()} == plain


@pytest.mark.parametrize("table", ["builds", "weighings", "diffs"])
def test_a_lost_first_page_costs_no_row_that_lies_elsewhere(
    bevelbook: Run, team: Path, tmp_path: Path, table: str
) -> None:
    """The rows below it are found again; those that lay on it, and that others refer to, are put together."""
    before = {name: rows_of(team, name) for name in ("builds", "weighings")}
    damage(team, table)
    content = team.read_bytes()
    outcome = bevelbook("--db", team, "export", "--rescue", tmp_path / "saved")
    assert outcome.code == 1, outcome.err
    assert team.read_bytes() == content
    after = back(bevelbook, tmp_path / "saved")
    assert {name: rows_of(after, name) for name in before} == before
    if table == "diffs":
        lost = (tmp_path / "saved" / "lost.csv").read_text(encoding="utf-8")
        diffs = rows_of(after, "diffs")
        assert diffs.keys() == {"d-a", "d-b"}
        assert diffs["d-b"]["label"] == "rear-b", "its past says how it was called"
        assert diffs["d-a"]["label"] in lost


def test_rows_of_a_lost_page_are_named_and_what_indexes_have_of_them_is_kept(
    bevelbook: Run, team: Path, tmp_path: Path
) -> None:
    before = rows_of(team, "builds")
    damage(team, "builds", leaf=1)
    assert bevelbook("--db", team, "export", "--rescue", tmp_path / "saved").code == 1
    after = rows_of(back(bevelbook, tmp_path / "saved"), "builds")
    with (tmp_path / "saved" / "lost.csv").open(encoding="utf-8", newline="") as file:
        lost = {row["where"] for row in csv.DictReader(file) if row["table"] == "builds"}
    assert after.keys() == before.keys()
    changed = {key for key in before if after[key] != before[key]}
    assert 0 < len(changed) < len(before)
    assert changed <= lost
    for key in changed:
        assert after[key]["version"] != before[key]["version"]
        assert all(after[key][name] == before[key][name] for name in ("label", "diff", "built_on"))
        assert after[key]["oil_mass_g"] is None


def test_a_value_that_is_spoiled_is_kept_as_far_as_it_goes(team: Path, tmp_path: Path) -> None:
    """Such as a text that is not UTF-8."""
    held = team.read_bytes()
    held = held.replace(b"rear-a/4d-a", b"rear-a\xff4d-a")
    assert held != team.read_bytes()
    team.write_bytes(held)
    done = rescue(team, tmp_path / "saved")
    assert done.export.rows["builds"] == 60
    assert [(one.table, one.where) for one in done.lost] == [("builds", "b-4")]
    assert "rear-a\ufffd4" in (tmp_path / "saved" / "export" / "builds.csv").read_text(encoding="utf-8")


def test_rows_that_refer_to_what_is_lost_are_kept_beside_the_export(team: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(team)) as connection, connection:
        connection.execute("UPDATE weighings SET build = 'gone' WHERE build = 'b-5'")
    done = rescue(team, tmp_path / "saved")
    lines = (tmp_path / "saved" / "left_over.ndjson").read_text(encoding="utf-8").splitlines()
    left = [json.loads(line) for line in lines]
    assert [(one["table"], one["row"]["mass_g"], one["row"]["build"]) for one in left] == [("weighings", 14.05, "gone")]
    assert [one.table for one in done.lost] == ["weighings"]


def test_changes_beside_the_file_are_taken_in_as_far_as_they_were_finished(team: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(team, isolation_level=None)) as connection:
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute("UPDATE builds SET note = 'of the log' WHERE id = 'b-7'")
        connection.execute("BEGIN")
        connection.execute("UPDATE builds SET note = 'unfinished' WHERE id = 'b-8'")
        copy = tmp_path / "copy.db"
        copy.write_bytes(team.read_bytes())
        copy.with_name("copy.db-wal").write_bytes(team.with_name("team.db-wal").read_bytes())
        connection.rollback()
    done = rescue(copy, tmp_path / "saved")
    assert done.with_log
    builds = (tmp_path / "saved" / "export" / "builds.csv").read_text(encoding="utf-8")
    assert "of the log" in builds
    assert "unfinished" not in builds


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", b"x" * 50_000, bytes(50_000)])
def test_a_file_with_nothing_of_ours_is_refused(bevelbook: Run, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "odd.db"
    path.write_bytes(content)
    outcome = bevelbook("--db", path, "export", "--rescue", tmp_path / "saved")
    assert outcome.code == 2
    assert "nothing of a bevelbook database" in outcome.err
    assert not (tmp_path / "saved").exists()


@pytest.fixture
def two_of_a_name(db: Path) -> Path:
    """What shows something else than was written: builds of one name and of one person on two days, a name that
    somebody typed like that, and builds of a diff that is one with another."""
    with closing(open_for_writing(db)) as connection:
        for by, diff, number in (("ana", "d-1", 1), ("ben", "d-2", 2), ("ben", "d-2", 3)):
            with transaction(connection, db, by=by):
                writer = Writer(connection, by)
                if number < 3:
                    writer.insert(BY_NAME["diff"], {"label": "rear-a"}, row_id=diff)
                    named = {"diff": diff, "label": "rear-a/12", "built_on": "2026-05-01"}
                    writer.insert(BY_NAME["build"], named, row_id=f"b-{number}")
                named = {"diff": diff, "label": "rear-a/13", "built_on": f"2026-05-0{number}"}
                writer.insert(BY_NAME["build"], named, row_id=f"c-{number}")
                own = {"diff": diff, "label": f"spare-{number} of {by}", "built_on": "2026-05-01"}
                writer.insert(BY_NAME["build"], own, row_id=f"s-{number}")
    with closing(sqlite3.connect(db)) as connection:
        shown = dict(connection.execute("SELECT id, label FROM builds"))
        assert shown["b-1"] == "rear-a/12 of ana"
        assert shown["c-3"] == "rear-a/13 of ben 2026-05-03"
        assert {row[0] for row in connection.execute("SELECT diff FROM builds")} == {"d-1"}
    return db


def labels_in(folder: Path) -> dict[str, tuple[str, str]]:
    with (folder / "builds.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: (row["label"], row["diff"]) for row in csv.DictReader(file)}


def account(folder: Path) -> list[tuple[str, str, str]]:
    with (folder / "lost.csv").open(encoding="utf-8", newline="") as file:
        return [(row["table"], row["where"], row["why"]) for row in csv.DictReader(file)]


@pytest.mark.parametrize("gone", ["nothing", "entries", "a build"])
def test_what_names_showed_is_not_taken_for_what_was_written(
    bevelbook: Run, two_of_a_name: Path, tmp_path: Path, gone: str
) -> None:
    """Nor does it change what a database has that lost nothing: what it takes for written there is named."""
    sound = tmp_path / "sound.db"
    sound.write_bytes(two_of_a_name.read_bytes())
    assert bevelbook("--db", sound, "export", tmp_path / "plain").code == 0
    written = labels_in(tmp_path / "plain")
    if gone == "a build":
        with closing(sqlite3.connect(two_of_a_name)) as connection, connection:
            for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
                connection.execute(f"DROP TRIGGER {name}")
            connection.execute("DELETE FROM builds WHERE id = 'b-2'")
        held = two_of_a_name.read_bytes()
        spoiled = held.replace(b"spare-3 of ben", b"spare-3 of b\xffn")
        assert spoiled != held
        two_of_a_name.write_bytes(spoiled)
    elif gone == "entries":
        damage(two_of_a_name, "entries")
    damage(two_of_a_name, "as_written")
    assert bevelbook("--db", two_of_a_name, "export", "--rescue", tmp_path / "saved").code == 1
    saved = labels_in(tmp_path / "saved" / "export")
    said = account(tmp_path / "saved")
    sure = [where for table, where, why in said if table == "builds" and "it follows from what they showed" in why]
    unsure = {where for table, where, why in said if table == "builds" and "label is taken for" in why}
    assert (sure, unsure) == {
        "nothing": (["5 records"], set()),
        "entries": (["5 records"], {"s-1", "s-2", "s-3"}),
        "a build": (["3 records"], {"b-1", "s-1", "s-2"}),
    }[gone]
    spoiled_too = {"s-3"} if gone == "a build" else set()
    for key in saved.keys() - spoiled_too:
        if key in unsure:
            assert saved[key][0] == written[key][0].partition(" of ")[0]
        else:
            assert saved[key][0] == written[key][0]
    assert any(table == "builds" and "diff: which of several that are one" in why for table, _, why in said)
    outcome = bevelbook("--db", sound, "merge", tmp_path / "saved" / "export", "--json")
    named = json.loads(outcome.out)["said_otherwise_there"]
    otherwise = {key for key in saved if saved[key][0] != written[key][0]}
    assert {one["id"] for one in named} == otherwise <= unsure | spoiled_too, outcome.out
    assert outcome.code == (1 if named else 0), outcome.err
    assert bevelbook("--db", sound, "export", tmp_path / "after").code == 0
    assert labels_in(tmp_path / "after") == written
