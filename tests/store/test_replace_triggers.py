"""REPLACE by another program keeps what it replaces, with recursive triggers or (SQLite's default) without them."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.schema import search_table
from bevelbook.store.writing import Writer

SEARCHED = [kind for kind in KINDS if kind.searched]
COLUMNS = "id, label, diff, built_on, dry_mass_g, note, created_at, updated_at"
ROW = "('{id}', '{label}', 'd', '2026-05-03', 9.75, '{note}', 't', 't')"
Row = tuple[str, str]


@pytest.fixture
def team(db: Path) -> Path:
    """Two builds: ``b``, which weeps, and ``c``, which is dry as a bone."""
    with closing(open_for_writing(db)) as connection, transaction(connection, db, by="ana"):
        writer = Writer(connection, "ana")
        writer.insert(BY_NAME["diff"], {"label": "rear-a"}, row_id="d")
        build = {"diff": "d", "built_on": "2026-05-03", "dry_mass_g": 9.5}
        writer.insert(BY_NAME["build"], build | {"label": "rear-a/1", "note": "it weeps"}, row_id="b")
        writer.insert(BY_NAME["build"], build | {"label": "rear-a/2", "note": "dry as a bone"}, row_id="c")
    return db


@pytest.fixture(params=["off", "on"])
def other(team: Path, request: pytest.FixtureRequest) -> Iterator[sqlite3.Connection]:
    """A connection of another program, recursive triggers off or on."""
    with closing(sqlite3.connect(team)) as connection:
        connection.execute(f"PRAGMA recursive_triggers = {request.param}")
        yield connection


def search_is_right(connection: sqlite3.Connection) -> bool:
    for kind in SEARCHED:
        index = search_table(kind)
        connection.execute(f"INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)")
    return True


def hits(connection: sqlite3.Connection, word: str) -> list[str]:
    found = connection.execute(
        "SELECT id FROM builds WHERE rowid IN (SELECT rowid FROM builds_search WHERE builds_search MATCH ?)", (word,)
    )
    return [row[0] for row in found]


def past(connection: sqlite3.Connection, row_id: str) -> list[tuple[str | None, str | None]]:
    """The notes of a build's past versions, None for a removal, and who replaced them."""
    rows = connection.execute("SELECT content, replaced_in FROM history WHERE row_id = ? ORDER BY id", (row_id,))
    return [(json.loads(content)["note"] if content else None, entry) for content, entry in rows]


REPLACING = {
    "replace": f"REPLACE INTO builds ({COLUMNS}) VALUES " + ROW.format(id="b", label="rear-a/1", note="damp"),
    "insert or replace": f"INSERT OR REPLACE INTO builds ({COLUMNS}) VALUES "
    + ROW.format(id="b", label="rear-a/1", note="damp"),
    "a copy": "REPLACE INTO builds SELECT * FROM other_builds",
    "into its rowid": f"REPLACE INTO builds (rowid, {COLUMNS}) SELECT rowid, {COLUMNS} FROM other_builds",
    "by rowid": f"REPLACE INTO builds (rowid, {COLUMNS}) SELECT b.rowid, 'new', x.label, x.diff, x.built_on, "
    "x.dry_mass_g, x.note, 't', 't' FROM other_builds x JOIN builds b ON b.id = 'b'",
    "id of another": "UPDATE OR REPLACE builds SET id = 'b', note = 'damp' WHERE id = 'c'",
    "rowid of another": "UPDATE OR REPLACE builds SET rowid = (SELECT rowid FROM builds WHERE id = 'b'), "
    "note = 'damp' WHERE id = 'c'",
    "rowid and id of another": "UPDATE OR REPLACE builds SET _rowid_ = (SELECT rowid FROM builds WHERE id = 'b'), "
    "id = 'b', note = 'damp' WHERE id = 'c'",
}


@pytest.mark.parametrize("sql", REPLACING.values(), ids=REPLACING)
def test_what_it_replaces_is_in_the_history_and_out_of_the_search(other: sqlite3.Connection, sql: str) -> None:
    with other:
        other.execute("CREATE TEMP TABLE other_builds AS SELECT * FROM builds WHERE id = 'b'")
        other.execute("UPDATE other_builds SET note = 'damp', dry_mass_g = 9.75")
        other.execute(sql)
    (entry,) = other.execute("SELECT id FROM entries").fetchone()
    first, removal = other.execute(
        "SELECT version, parents, content, replaced_at FROM history WHERE row_id = 'b' ORDER BY id"
    ).fetchall()
    assert first[:2] == (entry, None)
    assert json.loads(first[2])["note"] == "it weeps"
    assert json.loads(first[2])["dry_mass_g"] == 9.5
    assert first[3] is not None
    assert (json.loads(removal[1]), removal[2], removal[3]) == ([entry], None, None)
    assert removal[0].startswith("another program ")
    assert hits(other, "weeps") == []
    assert len(hits(other, "damp")) == 1
    assert search_is_right(other)
    assert other.execute("SELECT count(*) FROM replacing").fetchone()[0] == 0
    assert other.execute("SELECT * FROM writing").fetchone() == (1, None, None, None)


def test_what_comes_in_its_place_is_a_version_after_it(other: sqlite3.Connection) -> None:
    with other:
        other.execute(REPLACING["replace"])
    removal = other.execute("SELECT version FROM history WHERE content IS NULL").fetchone()[0]
    version, parents = other.execute("SELECT version, parents FROM builds WHERE id = 'b'").fetchone()
    assert version.startswith("another program ")
    assert version != removal
    assert json.loads(parents) == [removal]


def test_a_copy_with_the_version_that_was_there_gets_one_of_its_own(other: sqlite3.Connection) -> None:
    with other:
        other.execute("CREATE TEMP TABLE other_builds AS SELECT * FROM builds WHERE id = 'b'")
        other.execute("UPDATE other_builds SET note = 'damp'")
        other.execute("REPLACE INTO builds SELECT * FROM other_builds")
    (entry,) = other.execute("SELECT id FROM entries").fetchone()
    version, parents = other.execute("SELECT version, parents FROM builds WHERE id = 'b'").fetchone()
    assert version != entry
    assert json.loads(parents) == [other.execute("SELECT version FROM history ORDER BY id DESC").fetchone()[0]]


KEEPING = {
    "or ignore": f"INSERT OR IGNORE INTO builds ({COLUMNS}) VALUES " + ROW.format(id="b", label="x", note="damp"),
    "do nothing": f"INSERT INTO builds ({COLUMNS}) VALUES {ROW.format(id='b', label='x', note='damp')} "
    "ON CONFLICT DO NOTHING",
}


@pytest.mark.parametrize("sql", KEEPING.values(), ids=KEEPING)
def test_what_it_does_not_replace_has_no_history(other: sqlite3.Connection, team: Path, sql: str) -> None:
    """Not even where it changes, goes and comes back later."""
    with other:
        other.execute(sql)
    assert past(other, "b") == []
    assert hits(other, "weeps") == ["b"]
    with other:
        other.execute("UPDATE builds SET note = 'sticky' WHERE id = 'b'")
        other.execute("DELETE FROM builds WHERE id = 'b'")
        other.execute(f"INSERT INTO builds ({COLUMNS}) VALUES " + ROW.format(id="b", label="rear-a/1", note="damp"))
    assert past(other, "b") == [("it weeps", None), ("sticky", None), (None, None)]
    assert search_is_right(other)
    with other:
        other.execute(sql)
    with closing(open_for_writing(team)) as ours, transaction(ours, team):
        assert ours.execute("SELECT count(*) FROM replacing").fetchone()[0] == 0


def test_a_row_that_is_refused_leaves_nothing(other: sqlite3.Connection) -> None:
    with pytest.raises(sqlite3.IntegrityError), other:
        other.execute(f"INSERT INTO builds ({COLUMNS}) VALUES " + ROW.format(id="b", label="x", note="damp"))
    assert past(other, "b") == []
    assert other.execute("SELECT count(*) FROM replacing").fetchone()[0] == 0


def test_an_upsert_that_changes_it_is_a_change(other: sqlite3.Connection) -> None:
    with other:
        other.execute(
            f"INSERT INTO builds ({COLUMNS}) VALUES {ROW.format(id='b', label='x', note='damp')} "
            "ON CONFLICT (id) DO UPDATE SET note = excluded.note"
        )
    assert past(other, "b") == [("it weeps", None)]
    assert (hits(other, "weeps"), hits(other, "damp")) == ([], ["b"])
    assert search_is_right(other)


def test_facts_are_noted_as_old(other: sqlite3.Connection) -> None:
    with other:
        other.execute(REPLACING["replace"])
    assert other.execute("SELECT value FROM about WHERE name = 'facts'").fetchone()[0] == "changed by another program"


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.own], ids=lambda kind: kind.name)
def test_of_every_kind(db: Path, kind) -> None:  # type: ignore[no-untyped-def]
    with closing(sqlite3.connect(db)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        row = {"id": "one", "created_at": "t", "updated_at": "t"}
        row |= {field.name: "1" if field.is_number else "word" for field in kind.fields}
        names = ", ".join(f'"{name}"' for name in row)
        for by in ("ana", "bo", "cy"):
            values = list((row | {"updated_by": by}).values())
            marks = ", ".join("?" * len(values))
            connection.execute(f"REPLACE INTO {kind.table} ({names}, updated_by) VALUES ({marks})", values)
        contents = [row[0] for row in connection.execute("SELECT content FROM history ORDER BY id")]
        assert [json.loads(one)["updated_by"] if one else None for one in contents] == ["ana", None, "bo", None]
        assert search_is_right(connection)


def test_drawn_statements_leave_the_same_with_recursive_triggers_and_without(team: Path, tmp_path: Path) -> None:
    """Inserts, replacements, moves and removals of builds by id and by rowid: records, notes of the past and search."""
    seed = random.randrange(1_000_000)
    left = []
    for setting in ("off", "on"):
        path = tmp_path / f"{setting}.db"
        path.write_bytes(team.read_bytes())
        draw = random.Random(seed)
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute(f"PRAGMA recursive_triggers = {setting}")
            for _ in range(200):
                _drawn(connection, draw)
                assert search_is_right(connection), seed
            rows = connection.execute("SELECT rowid, id, note FROM builds ORDER BY rowid").fetchall()
            left.append((rows, {row_id: past(connection, row_id) for row_id in "bcefg"}))
            versions = connection.execute(
                "SELECT row_id, version FROM history UNION ALL SELECT id, version FROM builds"
            ).fetchall()
            assert len(versions) == len(set(versions)), seed
    assert left[0] == left[1], seed


def _drawn(connection: sqlite3.Connection, draw: random.Random) -> None:
    row_id, rowid, note = draw.choice("bcefg"), draw.randint(1, 6), draw.choice(["damp", "dry", "it weeps", None])
    way = draw.choice(["", "OR REPLACE", "OR REPLACE", "OR IGNORE"])
    columns, marks = "id, note, label, diff, built_on, created_at, updated_at", "?, ?, 'x', 'd', '2026-05-03', 't', 't'"
    sql, values = draw.choice(
        [
            (f"INSERT {way} INTO builds ({columns}) VALUES ({marks})", (row_id, note)),
            (f"INSERT {way} INTO builds (rowid, {columns}) VALUES (?, {marks})", (rowid, row_id, note)),
            (f"UPDATE {way} builds SET id = ?, note = ? WHERE rowid = ?", (row_id, note, rowid)),
            (f"UPDATE {way} builds SET rowid = ?, note = ? WHERE id = ?", (rowid, note, row_id)),
            ("UPDATE builds SET note = ? WHERE id = ?", (note, row_id)),
            ("DELETE FROM builds WHERE id = ?", (row_id,)),
        ]
    )
    try:
        connection.execute(sql, values)
    except sqlite3.IntegrityError:
        assert way == ""
