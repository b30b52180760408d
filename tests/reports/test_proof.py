"""What 'check --deep' proves: each fault of a file is named in its part, and what could not be looked at is said."""

from __future__ import annotations

import json
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome
from demo_book import demo_book
from exported import SHEET
from photographed import picture

from bevelbook.pictures import reader
from bevelbook.plugin.registry import Registry
from bevelbook.reports import proof
from bevelbook.reports.proof import Proof, prove
from bevelbook.store.erased_marks import Mark

Run = Callable[..., Outcome]
_MADE: list[bytes] = []
FILE, PAGES, SCHEMA, VALUES = (
    "the file",
    "its pages and indexes, by SQLite",
    "tables, indexes, triggers and views as declared",
    "values as declared",
)
REFERENCES, VERSIONS, FACTS = "references", "versions, entries and clashes", "what follows from the records"
JOINS, ROWS, SEARCH = "names and joins as they show", "rows of notes on their builds", "the search"
NOTES = "kept files of notes, read once more"
FILES, RESULTS, PLUGINS = "kept files and pictures", "kept results, worked out again", "plugins and their checks"
NO_TRIGGERS = "no triggers"


@pytest.fixture
def sound(bevelbook: Run, tmp_path: Path) -> Path:
    """The demo with a sheet and a photograph brought in, a record changed and one removed."""
    path = tmp_path / "team.db"
    if not _MADE:
        (tmp_path / "sheet.csv").write_text(SHEET, encoding="utf-8", newline="")
        (tmp_path / "beside.csv").write_text(
            "date,diff,oil_mass_g,Mood\n2026-05-02,rear-z,1.86,calm\n", encoding="utf-8"
        )
        (tmp_path / "groove.jpg").write_bytes(picture())
        demo_book(path)
        for words, code in (
            (("import", tmp_path / "sheet.csv"), 1),
            (("import", tmp_path / "beside.csv"), 0),
            (("record", "photo", "--file", tmp_path / "groove.jpg", "build=rear-a/1", "piece=outdrive"), 0),
            (("record", "venue", "name=The Loft"), 0),
            (("record", "venue", "The Loft", "note=narrow"), 0),
            (("calc", "fill-target", "--dry-mass", "9.5 g", "--oil-mass", "1.5 ± 0.1 g", "--keep"), 0),
        ):
            outcome = bevelbook("--db", path, "--by", "ana", *words)
            assert outcome.code == code, (words, outcome.err)
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")
        _MADE.append(path.read_bytes())
    path.write_bytes(_MADE[0])
    return path


@pytest.fixture
def joined(bevelbook: Run, sound: Path) -> Path:
    """The same with oils, people and diffs joined that notes and people wrote."""
    for words in (
        ("record", "diff", "label=rear-x"),
        ("record", "diff", "label=rear-y"),
        ("record", "build", "diff=rear-x", "fluid=club 5000", "dry_mass=12.4g", "oil_mass=1.85g"),
        ("record", "build", "rear-x/1", "fluid=club 5000", "note=calm"),
        ("join", "fluid", "club 7000", "club 5000"),
        ("join", "diff", "rear-y", "rear-x"),
        ("record", "person", "name=anna"),
        ("join", "person", "anna", "ana"),
    ):
        outcome = bevelbook("--db", sound, "--by", "ana", *words)
        assert outcome.code == 0, (words, outcome.err)
    return sound


@pytest.fixture
def held(sound: Path) -> Iterator[sqlite3.Connection]:
    """The same in memory, with checks and foreign keys put aside, as a program does that knows nothing of us."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        connection.deserialize(_MADE[0])
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("PRAGMA recursive_triggers = OFF")
        yield connection


def without_triggers(connection: sqlite3.Connection) -> None:
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f'DROP TRIGGER "{name}"')


def test_a_sound_file_is_in_order_in_every_part(bevelbook: Run, sound: Path) -> None:
    before = sound.read_bytes()
    done = bevelbook("--db", sound, "check", "--deep", "--json")
    assert (done.code, done.json["in_order"]) == (0, True), done.out
    parts = {one["what"]: one for one in done.json["proved"]}
    assert [*parts] == [
        *(FILE, PAGES, SCHEMA, VALUES, REFERENCES, VERSIONS, FACTS, JOINS, ROWS, NOTES, SEARCH, FILES, RESULTS, PLUGINS)
    ]
    assert all(one["looked_at"] for what, one in parts.items() if what != JOINS)
    assert any("±" in one for one in parts[RESULTS]["noted"])
    assert sound.read_bytes() == before
    said = bevelbook("--db", sound, "check", "--deep")
    assert said.code == 0
    assert "All 14 parts were looked at: nothing wrong." in said.out
    assert "the file: " in said.out


SPOILT = {
    "a mass without an end": (VALUES, "UPDATE weighings SET mass_g = 9e999 WHERE rowid = 1", "mass_g <= 1"),
    "a word that nobody may choose": (VALUES, "UPDATE builds SET kind = 'perhaps' WHERE rowid = 1", "builds"),
    "a day that is none": (VALUES, "UPDATE runs SET run_on = 'soon' WHERE rowid = 1", "run_on"),
    "an endless fact": (VALUES, "UPDATE build_facts SET loss_g = 9e999", "build facts"),
    "an endless mass, by SQLite": (PAGES, "UPDATE weighings SET mass_g = 9e999 WHERE rowid = 1", "CHECK"),
    "a diff that is gone": (REFERENCES, "UPDATE builds SET diff = 'nothing' WHERE rowid = 1", "builds points to diffs"),
    "a fact": (FACTS, "UPDATE build_facts SET runs = runs + 1 WHERE rowid_of_it", "build_facts"),
    "a word in the search": (SEARCH, "INSERT INTO runs_search (runs_search) VALUES ('delete-all')", "search of runs"),
    "lengths in the search": (SEARCH, "DELETE FROM runs_search_docsize", "search of runs"),
    "a picture": (FILES, "UPDATE picture_bytes SET jpeg = x'ffd8ff00'", "another hash"),
    "a kept file": (FILES, "UPDATE note_bytes SET packed = x'00' WHERE rowid = 1", "another hash"),
    "a kept file that is gone": (FILES, "DELETE FROM note_bytes WHERE rowid = 1", "not kept any more"),
    "a result": (
        RESULTS,
        "UPDATE calculations SET verdict = iif(verdict = 'ok', 'stop', 'ok') WHERE rowid = 1",
        "comes out otherwise: verdict",
    ),
    "an output": (
        RESULTS,
        "UPDATE calculations SET found = replace(found, '1', '2') WHERE rowid = 1",
        "comes out otherwise",
    ),
    "a past version": (VERSIONS, "UPDATE history SET content = '{' WHERE content LIKE '{%'", "not JSON"),
    "the past of a record": (VERSIONS, "DELETE FROM history WHERE table_name = 'venues'", "its past is gone"),
    "an entry": (VERSIONS, "DELETE FROM entries", "the entry that wrote it is gone"),
    "a record removed in silence": (VERSIONS, NO_TRIGGERS, "DELETE FROM venues WHERE name = 'The Loft'", "is gone"),
    "a clash that nobody made": (
        VERSIONS,
        "INSERT INTO clashes (id, table_name, row_id, why, shown, others, differing) "
        "SELECT 'x', 'venues', id, 'changed', version, '[]', '[]' FROM venues LIMIT 1",
        "list of clashes",
    ),
    "a moment that is none": (VALUES, NO_TRIGGERS, "UPDATE builds SET created_at = 'then'", "created_at is not a day"),
    "when a result was kept": (VALUES, "UPDATE calculations SET calculated_at = '2026-13-45T9'", "calculated_at"),
    "what a result is of": (REFERENCES, "UPDATE calculations SET subject_id = 'x' WHERE rowid = 1", "of builds that"),
    "a table that no result is of": (REFERENCES, "UPDATE calculations SET subject_table = 'x;'", "of x; that"),
    "an entry left half written": (VERSIONS, "UPDATE writing SET bulk = 1", "being written, and none is"),
    "who wrote a version": (VERSIONS, NO_TRIGGERS, "UPDATE venues SET updated_by = 'zoe'", "name another author"),
    "who wrote a past version": (
        VERSIONS,
        "UPDATE history SET content = json_set(content, '$.updated_by', 'zoe') WHERE table_name = 'venues'",
        "past versions of venues name another author",
    ),
    "whose an entry was": (VERSIONS, "UPDATE entries SET made_by = 'zoe' WHERE asked LIKE '%venue%'", "another author"),
    "when an entry was made": (VERSIONS, "UPDATE entries SET made_at = '2020-05-01T10:00:00.000Z'", "on another day"),
    "when it was replaced": (
        VERSIONS,
        "UPDATE history SET replaced_at = '2020-05-01T10:00:00.000Z'",
        "were replaced on",
    ),
    "what was typed": (VERSIONS, NO_TRIGGERS, "UPDATE photos SET entered = '[3]'", "cannot be read what was typed"),
    "what an entry took back": (
        VERSIONS,
        "UPDATE entries SET took_back = 'x' WHERE rowid = 2",
        "took back an entry that",
    ),
    "an entry that took itself back": (VERSIONS, "UPDATE entries SET took_back = id WHERE rowid = 2", "took back an"),
    "a mark that is none": (VERSIONS, "UPDATE about SET value = 'maybe' WHERE name = 'invented'", "of invented"),
    "a mark of nobody": (VERSIONS, "INSERT INTO about VALUES ('x', 'y')", "a row x"),
    "a record left in passing": (
        VERSIONS,
        "INSERT INTO replacing VALUES ('runs', 1, 'x', 'y', NULL, '{}')",
        "replacing",
    ),
    "a step less": (SCHEMA, "DELETE FROM _sqlite_migrations WHERE name = '0003'", "does not have step 0003"),
    "a step more": (SCHEMA, "UPDATE _sqlite_migrations SET name = '9999' WHERE name = '0003'", "a step 9999"),
    "which version the facts are of": (VERSIONS, "UPDATE about SET value = '10' WHERE name = 'facts'", "of facts"),
    "that facts are of any version": (VERSIONS, "DELETE FROM about WHERE name = 'facts'", "by which version the facts"),
    "who wrote a row of notes": (
        VERSIONS,
        NO_TRIGGERS,
        "UPDATE builds SET updated_by = 'zoe' WHERE note_file IS NOT NULL",
        "of the builds from notes name another author",
    ),
    "when a row of notes came": (
        VERSIONS,
        NO_TRIGGERS,
        "UPDATE weighings SET created_at = '2020-05-01T10:00:00.000Z', updated_at = '2020-05-01T10:00:00.000Z' "
        "WHERE note_file IS NOT NULL",
        "of the weighings from notes have another moment than every entry",
    ),
    "when a file was read": (
        VERSIONS,
        "UPDATE note_files SET read_at = '2020-05-01T10:00:00.000Z' WHERE name = 'sheet.csv'",
        "the file of notes sheet.csv names the moment of no entry",
    ),
    "which entry brought a file in": (
        VERSIONS,
        "UPDATE note_files SET entry = NULL WHERE name = 'sheet.csv'",
        "the file of notes sheet.csv names no entry",
    ),
    "who kept a result": (
        VERSIONS,
        "UPDATE calculations SET calculated_by = 'zoe'",
        "kept results name another author",
    ),
    "when results were kept": (
        VERSIONS,
        "UPDATE calculations SET calculated_at = '2020-05-01T10:00:00.000Z'",
        "kept results were kept on another day",
    ),
    "which entry kept a result": (VERSIONS, "UPDATE calculations SET entry = NULL", "kept results name no entry"),
    "when a version was replaced, emptied": (
        VERSIONS,
        "UPDATE history SET replaced_at = NULL WHERE table_name = 'venues'",
        "which entry replaced them, and not when",
    ),
    "that a version was replaced": (
        VERSIONS,
        "UPDATE history SET replaced_at = NULL, replaced_in = NULL WHERE table_name = 'venues'",
        "does not say when it was replaced",
    ),
    "where a version was replaced": (
        VERSIONS,
        "UPDATE history SET replaced_in = (SELECT id FROM entries WHERE asked = 'demo' ORDER BY id LIMIT 1) "
        "WHERE table_name = 'venues'",
        "and what follows it is of another",
    ),
    "a past version twice": (
        VERSIONS,
        "INSERT INTO history SELECT id + 100, table_name, row_id, version, parents, content, replaced_in, replaced_at "
        "FROM history WHERE table_name = 'venues'",
        "past versions are kept twice",
    ),
    "what a past version was": (
        VERSIONS,
        "UPDATE history SET content = NULL WHERE table_name = 'venues'",
        "what they were is gone",
    ),
    "when a record was made": (
        VERSIONS,
        NO_TRIGGERS,
        "UPDATE photos SET created_at = '2020-05-01T10:00:00.000Z'",
        "were made on another day than they were written",
    ),
    "a diff of a row that is not there": (
        VERSIONS,
        "INSERT INTO note_diffs (id, table_name, row_id, version, diff) SELECT 'x y', 'weighings', 'x', 'y', id "
        "FROM diffs LIMIT 1",
        "1 row of the table note_diffs says",
    ),
    "a mark of what nobody erased": (
        VERSIONS,
        "INSERT INTO erasures (id, what, row_id, instead) VALUES ('x', 'picture', 'x', 'erased')",
        "an id that is not theirs",
    ),
    "a mark of a picture that is there": (
        VERSIONS,
        "INSERT INTO erasures (id, what, row_id, instead) SELECT '{mark}', 'picture', id, 'erased' FROM pictures",
        "something is in the file that was erased",
    ),
    "what is written of a column that shows all": (
        JOINS,
        "INSERT INTO as_written VALUES ('builds', (SELECT id FROM builds LIMIT 1), 'note', 'x')",
        "of columns that always show",
    ),
    "a join of two others": (
        JOINS,
        NO_TRIGGERS,
        "INSERT INTO joins (id, version, created_at, updated_at, kind, one, other) SELECT 'x', version, created_at, "
        "updated_at, 'venue', id, id FROM venues LIMIT 1",
        "under another id than that of the two records",
    ),
    "a mass of a row of notes": (
        NOTES,
        NO_TRIGGERS,
        "UPDATE weighings SET mass_g = mass_g + 1 WHERE note_file IS NOT NULL",
        "its mass_g is",
    ),
    "a word of a row of notes": (
        NOTES,
        NO_TRIGGERS,
        "UPDATE runs SET grip = iif(grip = 'low', 'high', 'low') WHERE grip IS NOT NULL AND note_file IS NOT NULL",
        "its grip is",
    ),
    "the oil of a row of notes": (
        NOTES,
        NO_TRIGGERS,
        "UPDATE builds SET fluid = (SELECT f.id FROM fluids f WHERE f.id <> builds.fluid ORDER BY f.id LIMIT 1) "
        "WHERE fluid IS NOT NULL AND note_file IS NOT NULL",
        "its fluid is",
    ),
    "a value of a row of notes, emptied": (
        NOTES,
        NO_TRIGGERS,
        "UPDATE runs SET call = NULL WHERE note_file IS NOT NULL",
        "what it says of call is in no record",
    ),
    "a weighing of notes that nothing refers to": (
        NOTES,
        NO_TRIGGERS,
        "DELETE FROM weighings WHERE note_file IS NOT NULL",
        "and the history has none",
    ),
    "the file of a row": (
        NOTES,
        NO_TRIGGERS,
        "UPDATE weighings SET note_file = (SELECT f.id FROM note_files f WHERE f.id <> weighings.note_file "
        "ORDER BY f.id LIMIT 1) WHERE note_file IS NOT NULL",
        "and no row of it made them",
    ),
    "the line of a row": (
        NOTES,
        NO_TRIGGERS,
        "UPDATE weighings SET note_line = note_line + 1 WHERE note_file IS NOT NULL",
        "its note_line is",
    ),
    "how many rows a file had": (NOTES, "UPDATE note_files SET accepted = accepted + 1", "are kept as its count"),
    "the size of a file": (NOTES, "UPDATE note_files SET byte_count = byte_count + 1", "are kept as its size"),
    "a line that was left out": (NOTES, "UPDATE note_rejects SET raw = '[]'", "are kept otherwise than the file has"),
    "a line that was left out, with the counts of its file": (
        NOTES,
        "UPDATE note_rejects SET raw = '[]'",
        "UPDATE note_files SET rejected = rejected + 1, skipped = skipped - 1",
        "are kept otherwise than the file has",
    ),
    "the counts of a file alone": (
        NOTES,
        "UPDATE note_files SET skipped = skipped + 3",
        "and its own counts say",
    ),
    "the id of a line that was left out": (
        NOTES,
        "UPDATE note_rejects SET id = id || 'x'",
        "are kept under another id",
    ),
    "cells beside a row": (NOTES, "UPDATE note_extras SET cells = '{}'", "columns that no record takes"),
    "a name of nothing": (JOINS, "INSERT INTO also_called VALUES ('builds', 'x', 'rear-a/99')", "nor ever were"),
    "rows that were left out": (FILES, "DELETE FROM note_rejects WHERE status = 'rejected'", "of them are kept"),
    "the hash of a file as it came": (FILES, NO_TRIGGERS, "UPDATE pictures SET came_sha256 = 'x'", "as it came"),
    "inputs that change no output": (
        RESULTS,
        "UPDATE calculations SET given = json_set(given, '$.housing_material', 'steel') WHERE id = (SELECT id FROM "
        "calculations WHERE calculator = 'fill-target' AND uncertainties IS NULL ORDER BY id LIMIT 1)",
        "an id that its inputs do not make",
    ),
    "where inputs came from": (
        RESULTS,
        "UPDATE calculations SET origins = json_remove(origins, '$.dry_mass_g') WHERE calculator = 'fill-target'",
        "where its inputs came from",
    ),
    "a small picture": (FILES, "UPDATE picture_bytes SET thumbnail = x'ffd8ff'", "the small picture of"),
    "the size of a picture": (FILES, NO_TRIGGERS, "UPDATE pictures SET width_px = width_px + 1", "pixels, as its"),
    "what stands for another": (JOINS, "INSERT INTO one_with VALUES ('diff', 'one', 'other')", "stands for"),
    "a row on another build": (
        ROWS,
        "UPDATE weighings SET build = (SELECT id FROM builds WHERE label = 'rear-a/1') WHERE note_file IS NOT NULL",
        "belongs to",
    ),
    "a trigger less": (SCHEMA, "DROP TRIGGER builds_changed", "trigger builds_changed is missing"),
    "a trigger of somebody": (
        SCHEMA,
        "CREATE TRIGGER zz AFTER INSERT ON people BEGIN DELETE FROM history; END",
        "trigger zz is none of ours",
    ),
    "a view that is another": (SCHEMA, "DROP VIEW shelf", "CREATE VIEW shelf AS SELECT 1", "view shelf is not as"),
    "an index less": (SCHEMA, "DROP INDEX builds_by_label", "index builds_by_label is missing"),
    "an index of somebody": (SCHEMA, "CREATE INDEX mine ON builds (note)", "not declared: mine"),
    "a column of somebody": (SCHEMA, "ALTER TABLE builds ADD COLUMN mine TEXT", "column of another program: mine"),
    "a table less": (SCHEMA, "DROP TABLE diff_facts", "table diff_facts is missing"),
    "a view of results that cannot be read": (
        SCHEMA,
        "CREATE VIEW calc_zz AS SELECT no_such FROM calculations",
        "calc_zz cannot be read",
    ),
}


def spoil(connection: sqlite3.Connection, statements: tuple[str, ...]) -> None:
    (picture_id,) = connection.execute("SELECT id FROM pictures ORDER BY id LIMIT 1").fetchone()
    mark = Mark("picture", picture_id).id
    for statement in statements:
        if statement == NO_TRIGGERS:
            without_triggers(connection)
        else:
            connection.execute(
                statement.replace("{mark}", mark).replace(
                    "WHERE rowid_of_it", "WHERE build = (SELECT min(build) FROM build_facts)"
                )
            )

    connection.execute("PRAGMA ignore_check_constraints = OFF")


@pytest.mark.parametrize("name", SPOILT)
def test_each_fault_is_named_in_its_part(held: sqlite3.Connection, sound: Path, registry: Registry, name: str) -> None:
    part, *statements, said = SPOILT[name]
    spoil(held, tuple(statements))
    (proved,) = prove(held, sound, registry, only=part).parts
    assert proved.found_in_all >= 1
    assert not proved.unchecked
    assert any(said in one for one in proved.found), proved.found
    assert not Proof((proved,)).is_in_order
    assert "1 thing wrong" in Proof((proved,)).summary() or "things wrong" in Proof((proved,)).summary()


def deep(bevelbook: Run, path: Path) -> list[str]:
    """What is found."""
    done = bevelbook("--db", path, "check", "--deep", "--json")
    found = [one for part in done.json["proved"] for one in part["found"]]
    assert done.code == (1 if found else 0), done.out
    return found


def test_what_was_written_under_another_name_is_asked_of_all_that_knows_it(bevelbook: Run, joined: Path) -> None:
    assert deep(bevelbook, joined) == []
    with closing(sqlite3.connect(joined)) as connection, connection:
        kept = connection.execute("SELECT count(*) FROM as_written").fetchone()[0]
        connection.execute("DELETE FROM as_written")
    assert kept > 20
    found = deep(bevelbook, joined)
    typed = [one for one in found if "as it was typed" in one]
    assert [one.partition(",")[0] for one in typed] == [
        "1 record of builds (rear-x/1): its builder was written with ana",
        "1 record of builds (rear-x/1): its diff was written with rear-x",
        "1 record of builds (rear-x/1): its fluid was written with club 5000",
        "1 record of photos (rear-a/1 outdrive): its person was written with ana",
    ]
    assert any(
        "builds (rear-a/3, rear-a/4): their fluid was written with club 5000, as notes_season_1.csv has it" in one
        for one in found
    ), found
    assert all("'bevelbook record " in one and "Take the database from a backup" in one for one in found)


def test_a_row_of_what_was_written_that_names_another_is_no_witness(bevelbook: Run, joined: Path) -> None:
    with closing(sqlite3.connect(joined)) as connection, connection:
        connection.execute(
            "INSERT INTO as_written SELECT 'builds', id, 'fluid', (SELECT id FROM fluids WHERE label = 'club 5000') "
            "FROM builds WHERE label = 'rear-b/1'"
        )
    (found,) = deep(bevelbook, joined)
    assert found.startswith(
        "1 record of builds (rear-b/1): its fluid was written with club 7000, as notes_season_1.csv"
    )


def test_a_reference_that_is_typed_again_or_parted_again_is_no_fault(bevelbook: Run, joined: Path) -> None:
    for words in (
        ("record", "build", "rear-x/1", "fluid=club 3000"),
        ("record", "build", "rear-x/1", "fluid=club 5000"),
        ("record", "build", "rear-a/3", "fluid=club 3000"),
        ("record", "build", "rear-a/3", "fluid=club 7000"),
        ("record", "build", "diff=rear-x", "fluid=club 5000", "oil_mass=1.85g"),
        ("take-back",),
        ("join", "fluid", "club 7000", "club 5000", "--not"),
        ("take-back",),
    ):
        outcome = bevelbook("--db", joined, "--by", "ana", *words)
        assert outcome.code == 0, (words, outcome.err)
        assert deep(bevelbook, joined) == [], words


def test_a_file_of_notes_that_was_taken_back_is_kept_for_when_it_comes_back(bevelbook: Run, tmp_path: Path) -> None:
    book, notes = tmp_path / "own.db", tmp_path / "notes.csv"
    notes.write_text("date,diff,dry mass g,oil g\n2026-04-04,rear-a,46.1,1.8\n", encoding="utf-8")
    for words in (("new",), ("import", notes), ("take-back",), ("take-back", "2")):
        outcome = bevelbook("--db", book, "--by", "ana", *words)
        assert outcome.code == 0, (words, outcome.err)
        assert deep(bevelbook, book) == [], words
    with closing(sqlite3.connect(book)) as connection, connection:
        connection.execute("INSERT INTO note_bytes SELECT printf('%064d', 1), packed FROM note_bytes")
    assert any("belongs to no file of notes" in one for one in deep(bevelbook, book))


READ_TWICE = "date,diff,oil_mass_g\n2026-05-02,rear-a,1.86\nsoon,rear-a,1.9\n2026-05-03,rear-a,many\n"
BY_AN_EARLIER_VERSION = {
    "it took no notice of the last line": (
        "DELETE FROM note_rejects WHERE line = 4",
        "UPDATE note_files SET rejected = rejected - 1",
    ),
    "it skipped the last line": (
        "UPDATE note_rejects SET status = 'skipped', reason = 'footer' WHERE line = 4",
        "UPDATE note_files SET rejected = rejected - 1, skipped = skipped + 1",
    ),
}


@pytest.mark.parametrize("name", BY_AN_EARLIER_VERSION)
def test_a_file_that_two_laptops_read_with_two_versions_is_no_fault(bevelbook: Run, tmp_path: Path, name: str) -> None:
    """The first reads it as an earlier version did, which is put into its book by hand; where the books meet, the file
    has the counts of the first, and the lines that either left out."""
    notes = tmp_path / "notes.csv"
    notes.write_text(READ_TWICE, encoding="utf-8")
    first, second = tmp_path / "first.db", tmp_path / "second.db"
    for book, by in ((first, "ana"), (second, "bo")):
        assert bevelbook("--db", book, "--by", by, "new").code == 0
        assert bevelbook("--db", book, "--by", by, "import", notes).code == 1
    with closing(sqlite3.connect(first)) as connection, connection:
        for statement in BY_AN_EARLIER_VERSION[name]:
            assert connection.execute(statement).rowcount == 1
    for book, other in ((second, first), (first, second)):
        assert bevelbook("--db", book, "--by", "ana", "merge", other).code == 0
        assert deep(bevelbook, book) == []
        assert "notes.csv reads otherwise now" in " ".join(bevelbook("--db", book, "check", "--deep").out.split())
        with closing(sqlite3.connect(book)) as connection:
            assert connection.execute("SELECT count(*) FROM note_rejects WHERE status = 'rejected'").fetchone() == (2,)
            assert connection.execute("SELECT rejected FROM note_files").fetchone() == (1,)


def test_rows_that_look_changed_and_are_left_out_are_no_fault(bevelbook: Run, tmp_path: Path) -> None:
    book, notes = tmp_path / "own.db", tmp_path / "notes.csv"
    assert bevelbook("--db", book, "new").code == 0
    for remark in ("fine", "fine; new rings"):
        notes.write_text(f"date,diff,oil_mass_g,runs,note\n2026-05-02,rear-a,1.86,3,{remark}\n", encoding="utf-8")
        bevelbook("--db", book, "import", notes)
        assert deep(bevelbook, book) == []
        assert "reads otherwise" not in bevelbook("--db", book, "check", "--deep").out
    with closing(sqlite3.connect(book)) as connection, connection:
        assert connection.execute("SELECT reason FROM note_rejects").fetchall() == [("looks_changed",)]
        connection.execute("UPDATE note_files SET rejected = rejected + 1")
    assert any("its own counts say" in one for one in deep(bevelbook, book))


def test_what_an_edition_leaves_out_is_no_fault_wherever_it_goes(bevelbook: Run, tmp_path: Path) -> None:
    own, begun, older, again = (tmp_path / name for name in ("own.db", "begun.db", "older.db", "again.db"))
    notes = tmp_path / "notes.csv"
    notes.write_text("Tag,diff,oil g,Mood\n2026-04-04,rear-a,1.8,calm\nsoon,rear-a,1.9,\n\n", encoding="utf-8")
    folder, files = tmp_path / "edition", tmp_path / "files"

    def run(book: Path, *words: str | Path, code: int = 0) -> None:
        outcome = bevelbook("--db", book, "--by", "ana", *words)
        assert outcome.code == code, (words, outcome.err)
        if words[0] not in ("edition", "export"):
            assert deep(bevelbook, book) == [], (book.name, words)

    run(own, "new")
    run(own, "import", notes, "--map", "Tag=date", code=1)
    run(own, "calc", "fill-target", "--dry-mass", "9.5 g", "--oil-mass", "1.5 g", "--keep")
    run(older, "new")
    with closing(sqlite3.connect(older)) as connection, connection:
        connection.execute(
            "INSERT INTO entries (id, made_at, made_by, asked) "
            "VALUES ('018cc251-f400-7000-8000-000000000000', '2024-01-01T00:00:00.000Z', 'ana', 'record venue')"
        )
    spoilt = tmp_path / "spoilt.db"
    with closing(sqlite3.connect(spoilt)) as connection, connection:
        with closing(sqlite3.connect(own)) as source:
            source.backup(connection)
        connection.execute("DELETE FROM note_rejects WHERE status = 'rejected'")
    assert any("left out" in one for one in deep(bevelbook, spoilt))
    run(own, "edition", folder, "--with-files", "--yes")
    run(begun, "new", "--from", folder)
    said = bevelbook("--db", begun, "check", "--deep")
    assert "1 file of notes came with an edition" in said.out
    assert "cannot be read any more" not in said.out
    run(older, "merge", begun)
    run(older, "export", files)
    run(again, "new", "--from", files)
    run(begun, "merge", own)
    read_with = "SELECT options, entry, read_at FROM note_files"
    with closing(sqlite3.connect(own)) as connection:
        before = connection.execute(read_with).fetchone()
    assert before[0] and before[1]
    run(own, "merge", older)
    for book in (begun, own):
        with closing(sqlite3.connect(book)) as connection:
            assert connection.execute(read_with).fetchone() == before, "the edition says less of the file"


@pytest.mark.parametrize("with_picture", [False, True])
def test_without_what_reads_pictures_all_else_is_looked_at(
    bevelbook: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, with_picture: bool
) -> None:
    book = tmp_path / "own.db"
    assert bevelbook("--db", book, "demo").code == 0
    if with_picture:
        (tmp_path / "groove.jpg").write_bytes(picture((400, 300)))
        words = ("record", "photo", "--file", tmp_path / "groove.jpg", "build=rear-a/1", "piece=outdrive")
        assert bevelbook("--db", book, *words).code == 0
    monkeypatch.setattr(reader, "find_spec", lambda name: None)
    monkeypatch.setitem(sys.modules, "bevelbook.pictures.redrawn", None)
    said = bevelbook("--db", book, "check", "--deep")
    assert said.code == int(with_picture), said.err
    assert ("install what reads them with pip install" in " ".join(said.out.split())) == with_picture
    rescued = bevelbook("--db", book, "export", "--rescue", tmp_path / "rescued")
    assert rescued.code == 0, rescued.err


def test_a_name_that_shows_who_wrote_it_without_what_was_written(bevelbook: Run, sound: Path) -> None:
    for who, day in (("ana", "2026-05-02"), ("bo", "2026-05-03")):
        words = ("record", "build", "diff=rear-a", "label=ours", f"built_on={day}", "oil_mass=1.85g", "--another")
        done = bevelbook("--db", sound, "--by", who, *words)
        assert done.code == 0, done.err
    with closing(sqlite3.connect(sound)) as connection, connection:
        shown = sorted(row[0] for row in connection.execute("SELECT label FROM builds WHERE label LIKE 'ours of %'"))
        assert shown == ["ours of ana", "ours of bo"]
        assert deep(bevelbook, sound) == []
        connection.execute("DELETE FROM as_written")
    found = deep(bevelbook, sound)
    assert [one.partition(" (")[0] for one in found] == ["the build ours of ana", "the build ours of bo"]
    assert all("was written as ours" in one for one in found)


def test_a_table_that_is_gone_is_what_could_not_be_checked(
    held: sqlite3.Connection, sound: Path, registry: Registry
) -> None:
    held.execute("DROP TABLE bench_steps")
    found = prove(held, sound, registry)
    by_part = {one.what: one for one in found.parts}
    assert any("bench_steps" in one for one in by_part[VALUES].unchecked)
    assert "the table bench_steps is missing" in by_part[SCHEMA].found
    assert by_part[VALUES].looked_at  # the other tables were looked at
    assert "could not be checked, so there may be more" in found.summary()
    text = "\n".join(found.lines())
    assert "could not be checked: " in text
    assert "nothing wrong." not in found.summary()


def test_what_takes_too_long_is_what_could_not_be_checked(
    held: sqlite3.Connection, sound: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(proof, "_STEPS", 10)
    (proved,) = prove(held, sound, registry, longest_s=-1, only=SEARCH).parts
    assert proved.unchecked == ("it was given up after -1 s",)
    assert proved.line == f"{SEARCH}: could not be checked"
    (proved,) = prove(held, sound, registry, only=SEARCH).parts
    assert proved.is_in_order


def test_a_plugin_that_fails_is_what_could_not_be_checked(bevelbook: Run, sound: Path, tmp_path: Path) -> None:
    folder = tmp_path / "plugins"
    folder.mkdir()
    (folder / "ours.py").write_text(
        "from bevelbook import hookimpl\n\n\n@hookimpl\ndef bevelbook_checks(reader):\n    raise OverflowError('x')\n"
    )
    plain = bevelbook("--db", sound, "--plugins", folder, "check")
    assert plain.code == 1
    assert "Nothing found." not in plain.out
    assert "There may be more" in plain.out or "there may be something" in plain.out
    deep = bevelbook("--db", sound, "--plugins", folder, "check", "--deep", "--json")
    assert (deep.code, deep.json["in_order"]) == (1, False)
    (part,) = [one for one in deep.json["proved"] if one["what"] == PLUGINS]
    assert "OverflowError" in part["could_not_be_checked"][0]


def test_a_damaged_page_is_said_and_one_that_cannot_be_opened_has_the_way_back(bevelbook: Run, sound: Path) -> None:
    whole = sound.read_bytes()
    with closing(sqlite3.connect(sound)) as connection:
        size = connection.execute("PRAGMA page_size").fetchone()[0]
        (page,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'weighings'").fetchone()
    at = (page - 1) * size
    sound.write_bytes(whole[:at] + bytes(size) + whole[at + size :])
    done = bevelbook("--db", sound, "check", "--deep", "--json")
    assert (done.code, done.json["in_order"]) == (1, False)
    parts = {one["what"]: one for one in done.json["proved"]}
    assert parts[PAGES]["wrong"] or parts[PAGES]["could_not_be_checked"]
    assert parts[VALUES]["could_not_be_checked"]
    sound.write_bytes(whole[:100] + bytes(len(whole) - 100))
    done = bevelbook("--db", sound, "check", "--deep")
    assert (done.code, done.out) == (2, "")
    assert "backup" in done.err


def test_a_name_that_was_erased_from_kept_results_is_no_fault(bevelbook: Run, sound: Path) -> None:
    """Their ids are made of the inputs as they were typed, with the name."""
    assert bevelbook("--db", sound, "erase", "person", "ana", "--yes").code == 0
    done = bevelbook("--db", sound, "check", "--deep", "--json")
    assert (done.code, done.json["in_order"]) == (0, True), done.out
    noted = {one["what"]: one["noted"] for one in done.json["proved"]}[RESULTS]
    assert any("of a person who was erased" in one for one in noted)


def test_it_is_about_the_whole_file(bevelbook: Run, sound: Path) -> None:
    assert bevelbook("--db", sound, "check", "rear-a", "--deep").code == 2


def test_a_result_of_another_formula_is_compared_by_its_figures(
    held: sqlite3.Connection, sound: Path, registry: Registry
) -> None:
    held.execute("UPDATE calculations SET fingerprint = 'zzzzzz' || substr(fingerprint, 7) WHERE rowid = 1")
    (proved,) = prove(held, sound, registry, only=RESULTS).parts
    assert proved.is_in_order
    assert any("1 of " in one and "another formula of that version" in one for one in proved.noted)


def test_results_of_another_version_are_counted_with_their_reason(
    held: sqlite3.Connection, sound: Path, registry: Registry
) -> None:
    held.execute("UPDATE calculations SET version = 1000 WHERE rowid = 1")
    held.execute("UPDATE calculations SET calculator = 'our-own' WHERE rowid = 2")
    (proved,) = prove(held, sound, registry, only=RESULTS).parts
    assert proved.is_in_order
    assert sum("not worked out again: 1 of" in one for one in proved.noted) == 2
    assert any("our-own, which no plugin here has" in one for one in proved.noted)
    json.dumps(proved.as_dict())
