"""Upgrading what another program spoiled: text that is not JSON, rows that do not fit, a disk without room."""

from __future__ import annotations

import errno
import json
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from released import all_rows, released

from bevelbook.declare.errors import DatabaseError
from bevelbook.store import opening, sqlite_errors
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opening import back_up, open_for_writing
from bevelbook.store.version_chains import broken_chains

Maker = Callable[..., Any]
NOT_JSON = "not {json"
PARTS = ("given", "found", "rows", "uncertainties", "origins", "reasons")


COPY = f"old.before-step-{LAST_STEP}"
"""What the copy of a database is named before it is brought to the last step."""


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return released(tmp_path / "old.db")


def spoiled(path: Path, sql: str, *values: object) -> None:
    """Change a file of the last release without its triggers and checks."""
    with closing(sqlite3.connect(path)) as connection, connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        assert connection.execute(sql, values).rowcount == 1


def copies(path: Path) -> list[str]:
    return sorted(one.name for one in path.parent.iterdir() if "before-step" in one.name or "unfinished" in one.name)


def version_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


@pytest.mark.parametrize("column", PARTS)
def test_a_result_that_is_not_json_is_kept_as_text_and_named(bevelbook: Maker, old: Path, column: str) -> None:
    with closing(sqlite3.connect(old)) as connection:
        connection.row_factory = sqlite3.Row
        spoiled(old, f"UPDATE calculations SET {column} = ? WHERE rowid = 2", NOT_JSON)
        row = connection.execute("SELECT * FROM calculations WHERE rowid = 2").fetchone()
        count = connection.execute("SELECT count(*) FROM calculations").fetchone()[0]
    said = bevelbook("--db", old, "new", "--migrate")
    assert said.code == 0
    assert f"kept as text in the table history: calculations {row['id']}" in said.err
    with closing(sqlite3.connect(old)) as connection:
        ids = [one[0] for one in connection.execute("SELECT id FROM calculations")]
        assert row["id"] not in ids
        assert ids
        assert len(ids) < count
        kept = connection.execute("SELECT content FROM history WHERE row_id = ?", (row["id"],)).fetchone()[0]
        assert json.loads(kept) == {key: row[key] for key in row.keys() if key != "id"}  # noqa: SIM118
    (fault,) = bevelbook("--db", old, "check", "--json").json["faults"]
    assert row["id"] in fault
    assert "Accepted the changes of 1 record." in bevelbook("--db", old, "check", "--accept").err
    assert bevelbook("--db", old, "check", "--json").json["faults"] == []


@pytest.mark.parametrize("text", [NOT_JSON, "", "[1", "NULL"])
def test_a_past_version_that_is_not_json_is_kept_as_it_is(bevelbook: Maker, old: Path, text: str) -> None:
    spoiled(old, "UPDATE history SET old = ? WHERE id = (SELECT min(id) FROM history)", text)
    said = bevelbook("--db", old, "new", "--migrate")
    assert said.code == 0
    with closing(sqlite3.connect(old)) as connection:
        (table, row_id) = connection.execute(
            "SELECT table_name, row_id FROM history WHERE content = ?", (text,)
        ).fetchone()
    assert f"{table} {row_id}" in said.err
    (fault,) = bevelbook("--db", old, "check", "--json").json["faults"]
    assert row_id in fault


def test_from_then_on_no_program_can_write_such_a_result(old: Path) -> None:
    open_for_writing(old).close()
    with closing(sqlite3.connect(old)) as connection:
        for column in PARTS:
            with pytest.raises(sqlite3.IntegrityError):
                connection.execute(f"UPDATE calculations SET {column} = ?", (NOT_JSON,))


def test_one_that_gets_there_all_the_same_is_no_damage_of_the_file(bevelbook: Maker, old: Path) -> None:
    open_for_writing(old).close()
    with closing(sqlite3.connect(old)) as connection, connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("UPDATE calculations SET found = ?", (NOT_JSON,))
        (label,) = connection.execute(
            "SELECT label FROM builds WHERE id IN (SELECT subject_id FROM calculations)"
        ).fetchone()
    for words in (["check"], ["card", label]):
        outcome = bevelbook("--db", old, *words)
        assert "damaged" not in outcome.err
        if outcome.code == 2:
            assert "calculations" in outcome.err


@pytest.mark.parametrize(
    ("table", "sql"),
    [
        ("builds", "UPDATE builds SET entered = 'not {json' WHERE rowid = 2"),
        ("weighings", "UPDATE weighings SET mass_g = -1 WHERE rowid = 2"),
        ("calculations", "UPDATE calculations SET verdict = 'perhaps' WHERE rowid = 2"),
        ("runs", "UPDATE runs SET run_on = 'sunday' WHERE rowid = 2"),
    ],
)
def test_a_row_that_does_not_fit_is_named_and_one_copy_is_left(
    bevelbook: Maker, old: Path, table: str, sql: str
) -> None:
    spoiled(old, sql)
    with closing(sqlite3.connect(old)) as connection:
        (row_id,) = connection.execute(f"SELECT id FROM {table} WHERE rowid = 2").fetchone()
    before = all_rows(old)
    for _ in range(3):
        outcome = bevelbook("--db", old, "new", "--migrate")
        assert outcome.code == 2
        assert table in outcome.err
        assert row_id in outcome.err
        assert "Nothing was changed" in outcome.err
    assert all_rows(old) == before
    assert copies(old) == [f"{COPY}.db"]
    assert all_rows(old.with_name(f"{COPY}.db")) == before


def test_another_file_under_the_name_of_the_copy_stays(old: Path) -> None:
    old.with_name(f"{COPY}.db").write_bytes(b"another")
    open_for_writing(old).close()
    assert copies(old) == [f"{COPY}-2.db", f"{COPY}.db"]
    assert old.with_name(f"{COPY}.db").read_bytes() == b"another"


def test_a_copy_that_does_not_fit_on_the_disk_leaves_nothing(old: Path) -> None:
    """The disk is full after the first page."""
    before = all_rows(old)

    class Full(sqlite3.Connection):
        def backup(self, target: sqlite3.Connection, **more: Any) -> None:
            super().backup(target, pages=1, progress=self.stop)

        @staticmethod
        def stop(*_left: int) -> None:
            raise sqlite3.OperationalError("database or disk is full")

    with closing(sqlite3.connect(old, factory=Full)) as connection, pytest.raises(sqlite3.OperationalError):
        back_up(connection, old.with_name(f"{COPY}.db"))
    assert copies(old) == []
    assert [one.name for one in old.parent.iterdir()] == ["old.db"]
    assert all_rows(old) == before


def test_an_unfinished_copy_of_before_is_no_copy(old: Path) -> None:
    """A process that was killed while it copied leaves a part in a folder of its own, which the next one removes."""
    left = old.with_name("bevelbook-aside-left")
    (left / "in").mkdir(parents=True)
    (left / "held").touch()
    (left / "in" / f"{COPY}.db").write_bytes(b"SQLite format 3\0half")
    before = all_rows(old)
    open_for_writing(old).close()
    assert copies(old) == [f"{COPY}.db"]
    assert not left.exists()
    assert all_rows(old.with_name(f"{COPY}.db")) == before


def test_two_copies_of_before_at_once_do_not_meet(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second begins while the first is half made, and takes the name: the first takes the next one, and each is
    whole."""
    before = version_of(old), all_rows(old)
    target = old.with_name(f"{COPY}.db")
    made: list[Path] = []
    put = opening._is_put

    def second_first(whole: Path, free: Path) -> bool:
        monkeypatch.setattr(opening, "_is_put", put)
        with closing(sqlite3.connect(old, isolation_level=None)) as other:
            other.execute("PRAGMA user_version = 77")
            made.append(back_up(other, target))
        return put(whole, free)

    monkeypatch.setattr(opening, "_is_put", second_first)
    with closing(sqlite3.connect(old)) as connection:
        made.append(back_up(connection, target))
    assert [one.name for one in made] == [f"{COPY}.db", f"{COPY}-2.db"]
    assert [(version_of(one), all_rows(one)) for one in made] == [(77, before[1]), before]
    assert not list(old.parent.glob("bevelbook-*"))


def test_a_copy_of_before_in_a_folder_that_is_full_or_closed_is_said(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the system says it when the folder for the copy cannot be made."""

    def full(*_: object, **__: object) -> str:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tempfile, "mkdtemp", full)
    before = all_rows(old)
    with pytest.raises(DatabaseError) as caught:
        open_for_writing(old)
    assert (caught.value.code, "Make room" in str(caught.value)) == ("disk_full", True)
    assert all_rows(old) == before


@pytest.mark.parametrize(("free", "code"), [(4_096, "disk_full"), (10_000_000, "disk_fault")])
def test_a_disk_without_room_for_what_lies_beside_a_database_is_said_to_be_full(
    free: int, code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite itself says "disk I/O error" where it cannot make the index of its log: seen on a full tmpfs."""
    monkeypatch.setattr("shutil.disk_usage", lambda _folder: SimpleNamespace(free=free))
    assert sqlite_errors.explained(sqlite3.OperationalError("disk I/O error"), tmp_path / "old.db").code == code


@pytest.mark.parametrize(("table", "column"), [("builds", "scale"), ("note_files", "sha256")])
def test_text_that_is_not_utf8_is_named_with_its_row_and_cured_as_is_said(
    bevelbook: Maker, old: Path, table: str, column: str
) -> None:
    with closing(sqlite3.connect(old)) as connection:
        rowid, row_id, sound = connection.execute(
            f"SELECT rowid, id, {column} FROM {table} WHERE {column} IS NOT NULL ORDER BY rowid LIMIT 1"
        ).fetchone()
    spoiled(old, f"UPDATE {table} SET {column} = CAST(x'61ff62' AS TEXT) WHERE rowid = {rowid}")
    said = bevelbook("--db", old, "new", "--migrate")
    assert said.code == 2
    assert f"{table}.{column}: the row {row_id!r} (rowid {rowid}) of {table} has text that is not UTF-8" in said.err
    assert f'UPDATE {table} SET "{column}" = ... WHERE rowid = {rowid}; then try again' in said.err
    with closing(sqlite3.connect(old)) as connection, connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == 2
        connection.execute(f'UPDATE {table} SET "{column}" = ? WHERE rowid = {rowid}', (sound,))
    assert bevelbook("--db", old, "new", "--migrate").code == 0


@pytest.mark.parametrize("value", ["9e999", "-9e999", "1e300"])
def test_numbers_that_no_diff_can_have_are_taken_out_and_kept_in_the_history(
    bevelbook: Maker, old: Path, value: str
) -> None:
    """An optional one is empty then; one that is needed counts as not written down, and check names it."""
    spoiled(old, f"UPDATE builds SET oil_mass_g = {value} WHERE rowid = 2")
    spoiled(old, f"UPDATE runs SET track_temp_c = {value} WHERE rowid = 2")
    spoiled(old, f"UPDATE weighings SET mass_g = {value} WHERE rowid = 2")
    with closing(sqlite3.connect(old)) as connection:
        ids = {
            table: connection.execute(f"SELECT id FROM {table} WHERE rowid = 2").fetchone()[0]
            for table in ("builds", "runs", "weighings")
        }
    said = bevelbook("--db", old, "new", "--migrate")
    assert said.code == 0
    assert f"runs {ids['runs']} track_temp_c" in said.err
    with closing(sqlite3.connect(old)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        for table, column in (("builds", "oil_mass_g"), ("runs", "track_temp_c"), ("weighings", "mass_g")):
            shown, parents = connection.execute(
                f"SELECT {column}, parents FROM {table} WHERE id = ?", (ids[table],)
            ).fetchone()
            assert shown == (1e-300 if table == "weighings" else None)
            before, content = connection.execute(
                "SELECT version, content FROM history WHERE row_id = ? ORDER BY id DESC", (ids[table],)
            ).fetchone()
            assert json.loads(parents) == [before]
            assert json.loads(content)[column] == float(value)
        assert list(broken_chains(connection)) == []
    checked = bevelbook("--db", old, "check", "--json").json
    findings = [*checked["team"], *(one for diff in checked["diffs"] for one in diff["findings"])]
    assert [one["subject_id"] for one in findings if one["code"] == "impossible_value"] == [ids["weighings"]]


def test_two_laptops_take_the_same_out(tmp_path: Path) -> None:
    rows = []
    for name in ("ana.db", "ben.db"):
        path = released(tmp_path / name)
        spoiled(path, "UPDATE builds SET oil_mass_g = 9e999 WHERE rowid = 2")
        open_for_writing(path).close()
        with closing(sqlite3.connect(path)) as connection:
            rows.append(connection.execute("SELECT * FROM builds WHERE rowid = 2").fetchone())
    assert rows[0] == rows[1]
