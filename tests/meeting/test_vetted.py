"""What a stranger sends is only data: read by column, or refused with table and record. All of it is invented."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from released import DUMPS, released

from bevelbook.declare.error_codes import code_in_words
from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.declare.vocabulary import PHOTO_PIECES
from bevelbook.meeting import copied_whole, rows_taken
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.their_schema import tables_of_step
from bevelbook.pictures.prepare import prepared_picture
from bevelbook.records import BY_NAME
from bevelbook.store.folder_aside import folder_aside
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.pictures import keep_picture
from bevelbook.store.schema import literal
from bevelbook.store.structure import structure
from bevelbook.store.writing import Writer

Rows = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rows of every kind that 0.1.0 had, brought to this version, and a photograph of a build."""
    path = released(tmp_path_factory.mktemp("sound") / "bo.db")
    with closing(open_for_writing(path)) as connection:
        (build,) = connection.execute("SELECT id FROM builds ORDER BY id LIMIT 1").fetchone()
        with transaction(connection, path, asked="a photograph", by="bo"):
            picture = keep_picture(connection, prepared_picture(drawn()))
            Writer(connection, "bo").insert(
                BY_NAME["photo"],
                {"build": build, "picture": picture, "piece": PHOTO_PIECES[0], "taken_on": "2026-05-03"},
            )
    return path


@pytest.fixture(scope="module")
def bare(sound: Path) -> Path:
    """The same without triggers and views, so that a test can write into it as no program of ours would."""
    path = Path(shutil.copy(sound, sound.with_name("bare.db")))
    with closing(sqlite3.connect(path)) as connection, connection:
        made = "SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') ORDER BY type, name"
        for sort, name in connection.execute(made).fetchall():
            connection.execute(f"DROP {sort} {name}")
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    return path


def drawn() -> bytes:
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def sent(bare: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(bare, tmp_path / "bo.db"))


def spoil(path: Path, *statements: str) -> None:
    """Change a file as another program may, without its checks."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for setting in ("synchronous = OFF", "ignore_check_constraints = ON", "writable_schema = ON"):
            connection.execute(f"PRAGMA {setting}")
        for statement in statements:
            connection.execute(statement)


def rows_in(path: Path) -> Rows:
    """All rows of the tables that are taken, but those of a table that says how things stand in one file."""
    with closing(sqlite3.connect(path)) as connection:
        return {
            name: connection.execute(f"SELECT * FROM {name} ORDER BY 1, 2").fetchall()
            for name in sorted(tables_of_step(LAST_STEP))
            if name != "about"
        }


def refused(path: Path, code: str, *words: str) -> str:
    """The sentence with which a file is refused; the file is as it was, and nothing lies beside it."""
    before = path.read_bytes(), sorted(path.parent.iterdir())
    with pytest.raises(DatabaseError) as caught, opened_aside(path):
        pass
    said = str(caught.value)
    assert caught.value.code == code, said
    assert code_in_words(code)
    for word in words:
        assert word in said
    assert (path.read_bytes(), sorted(path.parent.iterdir())) == before
    return said


def test_a_sound_database_comes_through_whole_without_triggers_and_views(sound: Path) -> None:
    said: list[str] = []
    with opened_aside(sound, tell=said.append) as clean:
        assert stat.S_IMODE(clean.parent.stat().st_mode) == 0o700
        assert rows_in(clean) == rows_in(sound)
        assert all(rows_in(clean)[name] for name in ("builds", "history", "entries", "note_bytes", "picture_bytes"))
        with closing(sqlite3.connect(clean)) as connection:
            sorts = {sort for (sort,) in connection.execute("SELECT type FROM sqlite_master")}
            assert sorts == {"table", "index"}
            made = structure(connection)
        with closing(sqlite3.connect(sound)) as connection:
            ours = structure(connection)
        for name, table in tables_of_step(LAST_STEP).items():
            assert (
                made[name]._replace(indexes=())
                == ours[name]._replace(indexes=())
                == table.structure._replace(indexes=())
            )
    assert not clean.exists()
    assert said == []


@pytest.mark.parametrize("dump", DUMPS, ids=[dump.stem for dump in DUMPS])
def test_every_release_is_brought_to_this_version_as_its_own_upgrade_would(dump: Path, tmp_path: Path) -> None:
    path = released(tmp_path / "old.db", dump)
    said: list[str] = []
    with opened_aside(path, tell=said.append) as clean:
        came = rows_in(clean)
    open_for_writing(path).close()
    assert came == rows_in(path), "brought here twice, and by its owner, it is the same"
    assert came["builds"]
    assert came["entries"]
    assert "older version" in said[0]
    assert path.name in said[0]


# What is in its schema


CALLED: list[str] = []


class Watched(sqlite3.Connection):
    """A connection on which whatever the other file makes SQLite run would be noticed."""

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self.create_function("ran", -1, lambda *values: CALLED.append(str(values)), deterministic=True)


@pytest.fixture
def watched(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *given, **more: connect(*given, **{"factory": Watched, **more}))
    CALLED.clear()
    return CALLED


ENDLESS = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x FROM c) SELECT count(*) FROM c"
LEFT_BEHIND = {
    "a trigger that calls": "CREATE TRIGGER t1 AFTER INSERT ON people BEGIN SELECT ran(); END",
    "a trigger that writes": "CREATE TRIGGER t1 BEFORE DELETE ON builds BEGIN DELETE FROM runs; END",
    "a trigger without an end": f"CREATE TRIGGER t1 AFTER UPDATE ON runs BEGIN {ENDLESS}; END",
    "a view that calls": "CREATE VIEW t1 AS SELECT ran(name) FROM people",
    "a view without an end": f"CREATE VIEW t1 AS {ENDLESS}",
    "a table": "CREATE TABLE t1 (a DEFAULT (ran()), b AS (ran()), CHECK (ran()))",
    "a full-text table": "CREATE VIRTUAL TABLE t1 USING fts5(a)",
    "an index of an expression": "CREATE INDEX t1 ON people (ran(name))",
    "an index of some rows": "CREATE INDEX t1 ON people (name) WHERE ran(name) IS NULL",
    "an index of one of ours, changed": "CREATE UNIQUE INDEX t1 ON runs (id, ran(label))",
}


@pytest.mark.parametrize("made", LEFT_BEHIND.values(), ids=LEFT_BEHIND)
def test_what_is_not_ours_is_left_behind_and_never_run(sent: Path, watched: list[str], made: str) -> None:
    spoil(sent, made)
    watched.clear()
    said: list[str] = []
    with opened_aside(sent, tell=said.append) as clean:
        assert rows_in(clean) == rows_in(sent)
    assert watched == []
    assert len(said) == 1
    assert '"t1"' in said[0] or '"t1_' in said[0]


def test_a_plain_column_that_another_program_added_is_left_behind(sent: Path) -> None:
    spoil(sent, "ALTER TABLE builds ADD COLUMN colour TEXT", "UPDATE builds SET colour = 'blue'")
    said: list[str] = []
    with opened_aside(sent, tell=said.append) as clean, closing(sqlite3.connect(clean)) as connection:
        assert "colour" not in {row[1] for row in connection.execute("PRAGMA table_info(builds)")}
    assert '1 column ("builds.colour")' in said[0]


PEOPLE = "name = 'people'"
OTHERWISE = {
    "a column worked out": ("people", "ALTER TABLE people ADD COLUMN x TEXT AS (ran(name))"),
    "a default that calls": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, 'updated_by TEXT', 'updated_by TEXT DEFAULT (ran())') "
        f"WHERE {PEOPLE}",
    ),
    "a check that calls": ("people", "ALTER TABLE people ADD COLUMN x TEXT CHECK (ran(x) IS NULL)"),
    "a check of ours, changed": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, 'json_valid(parents)', 'ran(parents)') WHERE {PEOPLE}",
    ),
    "a default of ours, changed": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, 'randomblob(8)', 'ran(8)') WHERE {PEOPLE}",
    ),
    "another collation": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, '\"name\" TEXT', '\"name\" TEXT COLLATE NOCASE') WHERE {PEOPLE}",
    ),
    "not strict": ("people", f"UPDATE sqlite_master SET sql = replace(sql, 'STRICT', '') WHERE {PEOPLE}"),
    "without rowid": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, 'STRICT', 'STRICT, WITHOUT ROWID') WHERE {PEOPLE}",
    ),
    "a reference elsewhere": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, 'note_files(id)', 'runs(id)') WHERE {PEOPLE}",
    ),
    "a column in one name with its type": (
        "people",
        f"UPDATE sqlite_master SET sql = replace(sql, '\"note\" TEXT', '\"note TEXT\" TEXT') WHERE {PEOPLE}",
    ),
    "a column less": ("limits", "ALTER TABLE limits DROP COLUMN note"),
    "a column with another name": ("limits", "ALTER TABLE limits RENAME COLUMN note TO words"),
    "a comment": ("people", f"UPDATE sqlite_master SET sql = replace(sql, 'STRICT', '/* */ STRICT') WHERE {PEOPLE}"),
    "a table less": ("limits", "DROP TABLE limits"),
    "a view in place of a table": ("limits", "DROP TABLE limits", f"CREATE VIEW limits AS {ENDLESS}"),
    "a full-text table in place of ours": (
        "limits",
        "DROP TABLE limits",
        "CREATE VIRTUAL TABLE limits USING fts5(id, kind)",
    ),
    "a table of tables in place of ours": (
        "limits",
        "DROP TABLE limits",
        "CREATE VIRTUAL TABLE limits USING fts5vocab(people_search, row)",
    ),
    "a column that shadows the place of a row": ("people", "ALTER TABLE people ADD COLUMN rowid TEXT"),
}


@pytest.mark.parametrize(("table", "statements"), [(one[0], one[1:]) for one in OTHERWISE.values()], ids=OTHERWISE)
def test_a_table_of_ours_that_is_made_otherwise_is_refused_and_never_run(
    sent: Path, watched: list[str], table: str, statements: tuple[str, ...]
) -> None:
    spoil(sent, *statements)
    watched.clear()
    refused(sent, "other_schema", table, "bo.db", "Nothing was changed")
    assert watched == []


# What is in its rows

TYPES = {
    "a word in place of a number": "UPDATE builds SET oil_mass_g = 'much'",
    "bytes in place of a text": "UPDATE people SET name = x'01'",
    "a number in place of a text": "UPDATE history SET version = 1",
    "a text in place of bytes": "UPDATE note_bytes SET packed = 'x'",
    "half of a whole number": "UPDATE calculations SET version = 1.5",
    "nothing where something is needed": "UPDATE people SET name = NULL",
}


@pytest.mark.parametrize("statement", TYPES.values(), ids=TYPES)
def test_a_value_of_another_type_is_refused_though_the_table_says_that_it_is_strict(sent: Path, statement: str) -> None:
    table = statement.split()[1]
    with closing(sqlite3.connect(sent)) as connection:
        (made,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).fetchone()
    loose = re.sub(r" (?:TEXT|REAL|INTEGER|BLOB)\b", " ", made.replace("NOT NULL", "").replace(") STRICT", ")"))
    spoil(sent, f"UPDATE sqlite_master SET sql = {literal(loose)} WHERE name = '{table}'")
    spoil(sent, statement)
    spoil(sent, f"UPDATE sqlite_master SET sql = {literal(made)} WHERE name = '{table}'")
    refused(sent, "other_row", table.replace("_", " "))


LONG = "printf('%.*c', 1000001, 'x')"
DEEP = "printf('%.*c', 40, '[') || printf('%.*c', 40, ']')"
AT_A_NOTE = "UPDATE history SET content = {} WHERE content LIKE '{{%' AND id = (SELECT min(id) FROM history)"
ROWS = {
    "not UTF-8": "UPDATE people SET name = CAST(x'61ff' AS TEXT)",
    "half of a character": "UPDATE people SET name = CAST(x'eda080' AS TEXT)",
    "NUL": "UPDATE people SET name = 'a' || char(0) || 'b'",
    "too long": f"UPDATE people SET note = {LONG}",
    "no such choice": "UPDATE builds SET kind = 'perhaps'",
    "no such day": "UPDATE builds SET built_on = '2026-02-30'",
    "before the first year": "UPDATE builds SET built_on = '-0001-05-03'",
    "no time of a day": "UPDATE runs SET started_at = '25:00'",
    "no instant": "UPDATE builds SET updated_at = 'yesterday'",
    "no such month": "UPDATE builds SET created_at = '2026-13-01T10:00:00.000Z'",
    "below the bound": "UPDATE builds SET oil_mass_g = -1",
    "infinite": "UPDATE weighings SET mass_g = 9e999",
    "too large": "UPDATE weighings SET mass_g = 1e200",
    "too small": "UPDATE weighings SET mass_g = 1e-200",
    "an id that is a path": "UPDATE people SET id = '../../x' WHERE id = (SELECT min(id) FROM people)",
    "an id with a line break": "UPDATE people SET id = 'x' || char(10) || 'y' WHERE id = (SELECT min(id) FROM people)",
    "an id that runs backwards": "UPDATE people SET id = 'x' || char(8238) WHERE id = (SELECT min(id) FROM people)",
    "an id that is the folder above": "UPDATE people SET id = '..' WHERE id = (SELECT min(id) FROM people)",
    "an id that is too long": "UPDATE people SET id = printf('%.*c', 81, 'x') WHERE id = (SELECT min(id) FROM people)",
    "an id that is empty": "UPDATE people SET id = '' WHERE id = (SELECT min(id) FROM people)",
    "a version with a quote": "UPDATE people SET version = 'x''y'",
    "parents that are an object": "UPDATE people SET parents = '{}'",
    "parents that are numbers": "UPDATE people SET parents = '[1]'",
    "parents that are not JSON": "UPDATE people SET parents = 'x'",
    "typed in depth": "UPDATE people SET entered = '{\"name\": [1]}'",
    "typed without an end": f"UPDATE people SET entered = {DEEP}",
    "refers to nothing": "UPDATE builds SET diff = 'x'",
    "a past version that is not JSON": AT_A_NOTE.format("'{'"),
    "a past version with a column that there is not": AT_A_NOTE.format("'{\"x\": 1}'"),
    "a past version with a name twice": AT_A_NOTE.format('\'{"note": null, "note": null}\''),
    "a past version with another type": AT_A_NOTE.format("'{\"note\": 1}'"),
    "a past version in depth": AT_A_NOTE.format(DEEP),
    "a past version with NaN": AT_A_NOTE.format("'{\"note\": NaN}'"),
    "a past version with NUL": AT_A_NOTE.format('\'{"note": "a\\u0000b"}\''),
    "a past version with half of a character": AT_A_NOTE.format('\'{"note": "\\ud800"}\''),
    "a past version of no table": "UPDATE history SET table_name = 'sqlite_master'",
    "a past version of a fact": "UPDATE history SET table_name = 'build_facts'",
    "a result that is not JSON": "UPDATE calculations SET found = '{'",
    "a result that is a list": "UPDATE calculations SET found = '[]'",
    "a result that is infinite": "UPDATE calculations SET found = '{\"a\": 9e999}'",
    "a result of a table that there is not": "UPDATE calculations SET subject_table = 'x'",
    "a name that is a path": "UPDATE note_files SET name = '../../etc/passwd'",
    "a name with a drive": "UPDATE note_files SET name = 'C:notes.csv'",
    "a name with a folder of another system": "UPDATE note_files SET name = 'a\\b.csv'",
    "a name that runs backwards": "UPDATE note_files SET name = 'a' || char(8238) || 'vsc.exe'",
    "a name with a control character": "UPDATE note_files SET name = 'a' || char(27) || '[2J.csv'",
    "a name that is too long": "UPDATE note_files SET name = printf('%.*c', 300, 'x')",
    "a word in place of a hash": "UPDATE note_files SET sha256 = 'x'",
    "a kept file under another hash": "UPDATE note_bytes SET sha256 = printf('%.*c', 64, 'a')",
    "a kept file that is not packed": "UPDATE note_bytes SET packed = x'00'",
    "a picture that is another": "UPDATE picture_bytes SET jpeg = CAST(jpeg || x'00' AS BLOB)",
    "a small picture that is none": "UPDATE picture_bytes SET thumbnail = x'3c68746d6c3e'",
    "a small picture that is too large": "UPDATE picture_bytes SET thumbnail = zeroblob(31000)",
    "a picture of another size": "UPDATE pictures SET width_px = 41",
    "a count that is none": "UPDATE pictures SET byte_count = 0",
    "what was accepted is a word": "INSERT INTO about VALUES ('changes of other programs accepted', 'x')",
    "a reference of no table": "INSERT INTO as_written VALUES ('x', 'y', 'z', 'w')",
    "a reference that is a path": "INSERT INTO as_written VALUES ('builds', 'b', 'diff', '../x')",
    "a label of no table": "INSERT INTO also_called VALUES ('people_search', 'y', 'z')",
}


@pytest.mark.parametrize("statement", ROWS.values(), ids=ROWS)
def test_a_row_that_the_tool_would_not_write_is_refused_with_table_and_record(sent: Path, statement: str) -> None:
    spoil(sent, statement)
    table = statement.split()[1] if statement.startswith("UPDATE") else statement.split()[2]
    said = refused(sent, "other_row", "bo.db", "Nothing was changed")
    with closing(sqlite3.connect(sent)) as connection:
        of_history = [name for (name,) in connection.execute("SELECT DISTINCT table_name FROM history")]
    named = [table, *(of_history if table == "history" else ()), "note_files", "picture_bytes", "pictures"]
    assert any(name.replace("_", " ") in said for name in named), said
    assert "bevelbook's check" in said


def test_a_reference_that_was_written_with_a_record_that_is_not_there_is_refused(sent: Path) -> None:
    spoil(sent, "INSERT INTO as_written SELECT 'builds', id, 'diff', 'nowhere' FROM builds LIMIT 1")
    assert "of builds" in refused(sent, "other_row", "was written with a record of diffs that is gone")


def test_an_id_that_another_program_gave_is_taken(sent: Path) -> None:
    spoil(
        sent,
        "INSERT INTO venues (id, name, created_at, updated_at) SELECT 'Größe 2.1', 'x', '2026-05-03', '2026-05-03'",
    )
    with opened_aside(sent) as clean:
        assert "Größe 2.1" in {row[0] for row in rows_in(clean)["venues"]}


def test_the_sentence_has_the_name_of_the_record_and_the_column(sent: Path) -> None:
    spoil(sent, "UPDATE builds SET oil_mass_g = -1 WHERE label = 'rear-a/1'")
    assert '"rear-a/1" (id ' in refused(sent, "other_row", "has something in oil_mass_g that cannot be there")


# What kind of file it is


def test_what_is_not_a_file_is_refused_without_opening_it(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.db")
    refused_as(tmp_path / "pipe.db", "other_no_file")
    refused_as(Path("/dev/zero"), "other_no_file")
    refused_as(tmp_path / "none.db", "no_file")
    (tmp_path / "around.db").symlink_to(tmp_path / "around.db")
    refused_as(tmp_path / "around.db", "not_readable")


def refused_as(path: Path, code: str) -> str:
    with pytest.raises(DatabaseError) as caught, opened_aside(path):
        pass
    assert caught.value.code == code, str(caught.value)
    assert code_in_words(code)
    return str(caught.value)


@pytest.mark.parametrize(
    "held", [b"", b"hello", b"SQLite format 3\0", b"\0" * 4096], ids=["empty", "text", "head", "nothing"]
)
def test_a_file_that_is_no_database_is_refused(tmp_path: Path, held: bytes) -> None:
    path = tmp_path / "bo.db"
    path.write_bytes(held)
    refused(path, "not_ours", "bo.db")


def test_a_head_of_ours_over_anything_is_refused(sent: Path) -> None:
    sent.write_bytes(sent.read_bytes()[:100] + b"\0" * 8092)
    refused(sent, "other_damaged")


@pytest.mark.parametrize("share", [0.03, 0.5, 0.97])
def test_a_file_that_was_cut_on_its_way_is_refused(sent: Path, share: float) -> None:
    whole = sent.read_bytes()
    sent.write_bytes(whole[: int(len(whole) * share)])
    refused(sent, "other_damaged", "bo.db", "sent again")


def test_a_database_of_a_newer_version_asks_for_an_update(sent: Path) -> None:
    spoil(sent, f"PRAGMA user_version = {LAST_STEP + 1}")
    refused(sent, "database_newer", "Update bevelbook")


def test_a_database_that_says_so_only_in_its_log_is_of_a_newer_version_too(sent: Path) -> None:
    with closing(sqlite3.connect(sent)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute(f"PRAGMA user_version = {LAST_STEP + 1}")
        shutil.copy(sent, sent.with_name("other.db"))
        shutil.copy(f"{sent}-wal", sent.with_name("other.db-wal"))
    refused(sent.with_name("other.db"), "database_newer", "Update bevelbook")


def test_a_database_in_another_encoding_is_not_ours(tmp_path: Path) -> None:
    path = tmp_path / "bo.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA encoding = 'UTF-16'")
        connection.execute("PRAGMA application_id = 1651928171")
        connection.execute(f"PRAGMA user_version = {LAST_STEP}")
        connection.execute("CREATE TABLE t (a)")
    refused(path, "not_ours")


def test_ones_own_file_under_any_name_is_said_to_be_that(sent: Path) -> None:
    sent.with_name("link.db").symlink_to(sent)
    sent.with_name("hard.db").hardlink_to(sent)
    for name in ("bo.db", "link.db", "hard.db"):
        with pytest.raises(DatabaseError, match="your own database"), opened_aside(sent.with_name(name), own=sent):
            pass


def test_more_than_any_team_has_is_refused(sent: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copied_whole, "LARGEST_BYTES", 1000)
    refused(sent, "other_too_big", "0.0 GB")


def test_reading_ends_after_its_time(sent: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rows_taken, "SECONDS_FOR_ANY", -100.0)
    monkeypatch.setattr(rows_taken, "_OPERATIONS", 100)
    refused(sent, "other_too_big", "takes too long")


def test_changes_beside_the_file_are_read_along_and_nothing_is_left(sent: Path) -> None:
    with closing(sqlite3.connect(sent)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        with connection:
            connection.execute("UPDATE people SET note = 'in the log alone'")
        held = sorted(sent.parent.iterdir()), sent.read_bytes()
        with opened_aside(sent) as clean, closing(sqlite3.connect(clean)) as copy:
            assert set(copy.execute("SELECT note FROM people")) == {("in the log alone",)}
        assert (sorted(sent.parent.iterdir()), sent.read_bytes()) == held


def test_a_folder_that_cannot_be_written_is_enough(sent: Path) -> None:
    sent.chmod(0o400)
    sent.parent.chmod(0o500)
    try:
        with opened_aside(sent) as clean:
            assert rows_in(clean)["people"]
    finally:
        sent.parent.chmod(0o700)


def test_an_unfinished_change_beside_it_is_never_finished_here(sent: Path, tmp_path: Path) -> None:
    """A journal may name a file, which SQLite removes when it rolls that journal back."""
    with closing(sqlite3.connect(sent, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("BEGIN")
        connection.execute("UPDATE calculations SET reasons = reasons || ' '")
        connection.execute("UPDATE history SET content = content || ' '")
        shutil.copy(sent, tmp_path / "cy.db")
        shutil.copy(f"{sent}-journal", tmp_path / "cy.db-journal")
        connection.execute("ROLLBACK")
    refused(tmp_path / "cy.db", "other_in_use", "cy.db", "-journal")


def test_a_log_that_is_a_pipe_or_a_link_is_refused(sent: Path, tmp_path: Path) -> None:
    log = sent.with_name("bo.db-wal")
    os.mkfifo(log)
    refused_as(sent, "other_log")
    log.unlink()
    log.symlink_to(tmp_path / "elsewhere")
    refused_as(sent, "other_log")


def test_a_file_that_is_written_meanwhile_is_read_again(sent: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[int] = []
    monkeypatch.setattr(copied_whole, "sleep", written.append)
    copy = copied_whole._copy

    def once_written(source: Any, target: Any, size: int) -> None:
        copy(source, target, size)
        if not written:
            spoil(sent, "UPDATE people SET note = 'later'")

    monkeypatch.setattr(copied_whole, "_copy", once_written)
    with opened_aside(sent) as clean:
        assert {row[-1] for row in rows_in(clean)["people"]} == {"later"}
    assert len(written) == 1


def test_a_file_that_is_written_all_the_time_is_refused(sent: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copy = copied_whole._copy
    monkeypatch.setattr(copied_whole, "sleep", lambda _seconds: None)

    def always_written(source: Any, target: Any, size: int) -> None:
        copy(source, target, size)
        spoil(sent, "UPDATE people SET note = note || '.'")

    monkeypatch.setattr(copied_whole, "_copy", always_written)
    assert "being written all the time" in refused_as(sent, "other_in_use")


def test_pages_that_lead_to_each_other_end(sent: Path) -> None:
    """Every page below the first of the history is the same one: its rows would come again and again."""
    with closing(sqlite3.connect(sent)) as connection:
        (page_bytes,) = connection.execute("PRAGMA page_size").fetchone()
        with connection:
            connection.executemany(
                "INSERT INTO history (table_name, row_id, version, content) VALUES ('people', ?, 'v', ?)",
                [(f"p{number}", f'{{"note": "{"x" * 500}"}}') for number in range(100)],
            )
        (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'history'").fetchone()
    held = bytearray(sent.read_bytes())
    at = (root - 1) * page_bytes
    assert held[at] == 0x05  # an interior page of a table (sqlite.org/fileformat2.html, 1.6)
    count = int.from_bytes(held[at + 3 : at + 5], "big")
    for number in range(count):
        cell = at + int.from_bytes(held[at + 12 + 2 * number : at + 14 + 2 * number], "big")
        held[cell : cell + 4] = held[at + 8 : at + 12]
    sent.write_bytes(held)
    refused(sent, "other_damaged")


def test_the_folder_goes_after_a_kill_when_the_next_one_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    held = (
        "import os, signal\nfrom bevelbook.store.folder_aside import folder_aside\n"
        "with folder_aside() as folder:\n    (folder / 'x').write_text('y')\n    os.kill(os.getpid(), signal.SIGKILL)"
    )
    subprocess.run([sys.executable, "-c", held], env={**os.environ, "TMPDIR": str(tmp_path)}, check=False)
    (left,) = tmp_path.iterdir()
    with folder_aside() as mine, folder_aside() as another:
        assert not left.exists()
        assert mine.exists()
        assert another.exists()
    assert list(tmp_path.iterdir()) == []


def test_without_a_place_for_temporary_files_it_is_said_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(DatabaseError, match=r"no temporary file can be written.*TMPDIR") as caught, folder_aside():
        pass
    assert caught.value.code == "not_writable"


def test_a_folder_that_another_removed_before_it_was_held_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken: list[str] = []

    def opened(self: Path, mode: str = "r") -> Any:
        file = real(self, mode)
        if mode == "wb" and not taken:  # what another does between the file and its lock
            taken.append(str(self.parent))
            shutil.rmtree(self.parent)
        return file

    real = Path.open
    monkeypatch.setattr(Path, "open", opened)
    with folder_aside(tmp_path) as folder:
        assert folder.is_dir()
        assert taken and not Path(taken[0]).exists()
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_is_said_of_the_folder_that_people_know(tmp_path: Path) -> None:
    with pytest.raises(DatabaseError) as caught, folder_aside(tmp_path) as folder:
        raise DatabaseError("the disk is full", code="disk_full", place=Place(str(folder / "copy.db")))
    assert caught.value.place == Place(str(tmp_path))


def test_a_folder_goes_of_which_a_kill_left_a_part(tmp_path: Path) -> None:
    """Its owner may be ended between two files that it removes, the one that it holds among the first."""
    (tmp_path / "left").mkdir()
    with folder_aside(tmp_path / "left") as folder:
        owned = folder.parent
        (owned / "held").unlink()
        with folder_aside(tmp_path / "left"):
            assert not owned.exists()
