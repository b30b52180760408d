"""``bevelbook merge`` of a book in which another program changed records without making versions: what stands here
stays, each difference is named, and what was rescued of it does no more. All data are constructed.

That a merge never decides which of two is right is what 'bevelbook help meeting' promises; the values that are compared
are those that the tests write by SQL.
"""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from asked import asked, tables_of
from clashing import copy_of
from conftest import Begin, Outcome
from spoiled_by_others import spoil

from bevelbook.store.blanking import text_mark
from bevelbook.store.erased_marks import keep_marks

Run = Callable[..., Outcome]

_SHOWN = {
    "diff": ("UPDATE diffs SET usual_dry_mass_g = 47.5, label = 'aaa'", {"label", "usual_dry_mass_g"}),
    "fluid": ("UPDATE fluids SET viscosity_cst = 1234", {"viscosity_cst"}),
    "build": ("UPDATE builds SET dry_mass_g = 40.25, note = 'spoiled'", {"dry_mass_g", "note"}),
    "run": ("UPDATE runs SET note = 'zzz not so'", {"note"}),
    "who wrote": ("UPDATE runs SET updated_by = 'aaron'", {"updated_by"}),
    "emptied": ("UPDATE builds SET hand_feel = NULL", {"hand_feel"}),
}
"""What another program does to what is shown, and the columns that differ then."""
_PAST = {
    "diff": ("diffs", "usual_dry_mass_g", 41.0),
    "fluid": ("fluids", "viscosity_cst", 10.0),
    "build": ("builds", "dry_mass_g", 39.5),
    "run": ("runs", "note", "aaa"),
}
_TABLES = (
    *("diffs", "fluids", "builds", "runs", "history", "entries", "as_written", "also_called", "build_facts"),
    *("calculations", "note_files", "note_rejects", "note_extras"),
)


@pytest.fixture
def ana(bevelbook: Run, begin: Begin, db: Path) -> Path:
    """Ana's book: of each of four kinds a record that she wrote and changed once."""
    by_ana = ("--db", db, "--by", "ana", "record")
    begin(
        bevelbook,
        db,
        (*by_ana, "diff", "label=rear-a", "usual_dry_mass=46.10g"),
        (*by_ana, "fluid", "label=house 5k", "viscosity=5000", "viscosity_source=bottle"),
        (*by_ana, "build", "diff=rear-a", "built_on=2026-05-01", "fluid=house 5k", "dry_mass=46.20g"),
        (*by_ana, "run", "run_on=2026-05-02", "rear=rear-a", "note=calm"),
        (*by_ana, "diff", "rear-a", "usual_dry_mass=46.30g"),
        (*by_ana, "fluid", "house 5k", "viscosity=5100"),
        (*by_ana, "build", "rear-a/1", "hand_feel=smooth"),
        (*by_ana, "run", "2026-05-02/1", "note=calm and planted"),
    )
    return db


def past_of(table: str, column: str, value: object) -> str:
    written = f"'{value}'" if isinstance(value, str) else value
    return f"UPDATE history SET content = json_set(content, '$.{column}', {written}) WHERE table_name = '{table}'"


def held(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    return tables_of(path, _TABLES, "1, 2, 3")


def rescued(bevelbook: Run, path: Path) -> Path:
    folder = path.with_name(f"rescued-{path.stem}")
    assert bevelbook("--db", path, "export", "--rescue", folder).code in (0, 1)
    return folder / "export"


def as_it_comes(bevelbook: Run, path: Path, way: str) -> Path:
    return path if way == "the copy" else rescued(bevelbook, path)


@pytest.mark.parametrize("way", ["the copy", "what was rescued of it"])
@pytest.mark.parametrize("what", _SHOWN)
def test_what_is_shown_here_stays_and_each_field_that_says_something_else_there_is_named(
    bevelbook: Run, ana: Path, what: str, way: str
) -> None:
    statement, columns = _SHOWN[what]
    other = as_it_comes(bevelbook, spoil(copy_of(ana, "bo"), statement), way)
    before = held(ana)
    for words in (("--dry-run",), (), ()):  # it is said again each time
        done = bevelbook("--db", ana, "merge", other, *words, "--json")
        assert done.code == 1, done.err
        (named,) = done.json["said_otherwise_there"]
        assert {one["column"] for one in named["fields"]} == columns
        assert named["is_shown"] and named["by"].startswith("ana, ")
        assert done.json["copy"] is None, "nothing was written, so there is no copy of before"
        assert held(ana) == before
    said = bevelbook("--db", ana, "merge", other)
    assert said.code == 1
    assert "already" not in said.out
    for field in named["fields"]:
        assert f"{field['here']}" in said.out and f"{field['there']}" in said.out
    assert list(ana.parent.glob("*before-merge*")) == []


@pytest.mark.parametrize("way", ["the copy", "what was rescued of it"])
@pytest.mark.parametrize("kind", _PAST)
def test_what_was_written_once_stays_and_taking_back_goes_by_it(bevelbook: Run, ana: Path, kind: str, way: str) -> None:
    table, column, value = _PAST[kind]
    other = as_it_comes(bevelbook, spoil(copy_of(ana, "bo"), past_of(table, column, value)), way)
    before = held(ana)
    was = asked(ana, f"SELECT json_extract(content, '$.{column}') FROM history WHERE table_name = '{table}'")
    for _ in range(2):
        done = bevelbook("--db", ana, "merge", other)
        assert done.code == 1, done.err
        assert "already" not in done.out
        assert "said otherwise there" in done.out and "a past version written by ana" in done.out
        assert held(ana) == before
    numbers = {"diff": 5, "fluid": 6, "build": 7, "run": 8}
    assert bevelbook("--db", ana, "--by", "ana", "take-back", numbers[kind]).code == 0
    assert asked(ana, f"SELECT {column} FROM {table}") == was


@pytest.mark.parametrize("kind", ["diff", "fluid", "build", "run"])
def test_the_command_that_is_printed_enters_the_other_value_and_that_settles_it(
    bevelbook: Run, ana: Path, kind: str
) -> None:
    statement, columns = _SHOWN[kind]
    other = spoil(copy_of(ana, "bo"), statement)
    (named,) = bevelbook("--db", ana, "merge", other, "--json").json["said_otherwise_there"]
    words = shlex.split(named["command"])
    assert named["command"] in bevelbook("merge", other, "--db", ana).out.replace(f" --db {ana}", "")
    assert words[0] == "bevelbook"
    done = bevelbook("--db", ana, "--by", "ana", *words[1:])
    assert done.code == 0, done.err
    table = asked(other, f"SELECT {', '.join(sorted(columns))} FROM {kind}s")
    assert asked(ana, f"SELECT {', '.join(sorted(columns))} FROM {kind}s") == table
    again = bevelbook("--db", ana, "merge", other)
    assert (again.code, again.out) == (0, "From bo.db:\n  All of it was here already.\n")


def test_what_was_removed_here_stays_removed(bevelbook: Run, ana: Path) -> None:
    assert bevelbook("--db", ana, "--by", "ana", "record", "run", "2026-05-02/1", "--remove", "a slip").code == 0
    content = "(SELECT content FROM history o WHERE o.table_name = 'runs' AND o.content IS NOT NULL LIMIT 1)"
    other = spoil(
        copy_of(ana, "bo"), f"UPDATE history SET content = {content} WHERE content IS NULL AND table_name = 'runs'"
    )
    before = held(ana)
    done = bevelbook("--db", ana, "merge", other)
    assert done.code == 1
    assert "here   removed (stays)" in done.out and "there  not removed" in done.out
    assert held(ana) == before


def test_the_other_way_round_what_stands_there_stays_there_and_is_named_too(bevelbook: Run, ana: Path) -> None:
    other = spoil(copy_of(ana, "bo"), *(statement for statement, _ in _SHOWN.values()))
    before = held(other)
    done = bevelbook("--db", other, "merge", ana, "--json")
    assert done.code == 1
    named = {one["record"]: {each["column"] for each in one["fields"]} for one in done.json["said_otherwise_there"]}
    assert named == {
        "diff": {"label", "usual_dry_mass_g"},
        "fluid": {"viscosity_cst"},
        "build": {"dry_mass_g", "note", "hand_feel"},
        "run": {"note", "updated_by"},
    }
    assert held(other) == before


def test_what_came_beside_it_is_taken_in(bevelbook: Run, ana: Path) -> None:
    """What bo wrote in the spoiled copy comes, and that the past of it says something else there is named."""
    other = spoil(copy_of(ana, "bo"), _SHOWN["build"][0])
    assert bevelbook("--db", other, "--by", "bo", "record", "build", "rear-a/1", "oil_mass=1.80g").code == 0
    assert bevelbook("--db", other, "--by", "bo", "record", "venue", "name=Brickfield").code == 0
    done = bevelbook("--db", ana, "merge", other, "--json")
    assert done.code == 1
    for again in (done, bevelbook("--db", ana, "merge", other, "--json")):
        (named,) = again.json["said_otherwise_there"]
        assert (again.code, named["record"], named["is_shown"]) == (1, "build", False)
    assert done.json["copy"]
    assert any("dry mass 40.25 g, was 46.20 g" in line for line in done.json["lines"]), done.json["lines"]
    assert asked(ana, "SELECT name FROM venues") == [("Brickfield",)]
    (past,) = asked(ana, "SELECT json_extract(content, '$.dry_mass_g') FROM history WHERE content LIKE '%smooth%'")
    assert past == (46.2,)


def test_a_rescue_says_what_of_a_file_does_not_agree_with_itself(bevelbook: Run, ana: Path) -> None:
    other = spoil(copy_of(ana, "bo"), _SHOWN["build"][0], _SHOWN["fluid"][0])
    done = bevelbook("--db", other, "export", "--rescue", "saved")
    assert done.code == 1
    said = " ".join(done.out.split())
    assert "Nothing is missing." not in said
    assert "Nothing is missing, but what was read does not agree with itself" in said
    assert "1 row of build_facts is not what the records say" in said
    assert "the search of builds does not match its records" in said
    again = bevelbook("--db", other, "export", "--rescue", "saved-too", "--json")
    assert (again.code, again.json["lost"]) == (1, [])
    assert any("build_facts" in one for one in again.json["not_agreeing"])
    whole = bevelbook("--db", ana, "export", "--rescue", "whole", "--json")
    assert (whole.code, whole.json["not_agreeing"], whole.json["agreement_not_looked_at"]) == (0, [], [])


def test_a_record_that_was_read_in_part_does_not_stand_for_the_whole_one(bevelbook: Run, ana: Path) -> None:
    """A text of which a byte is damaged, in a rescue: the book that has it keeps it, and names the difference."""
    other = copy_of(ana, "bo")
    content = other.read_bytes()
    spoiled = content.replace(b"calm and planted", b"calm and pl\xffnted")
    assert spoiled != content
    other.write_bytes(spoiled)
    export = rescued(bevelbook, other)
    before = held(ana)
    done = bevelbook("--db", ana, "merge", export, "--json")
    assert done.code == 1, done.err
    assert [
        (one["record"], [each["column"] for each in one["fields"]]) for one in done.json["said_otherwise_there"]
    ] == [("run", ["note", "entered"]), ("entry", ["asked"])], "an entry has what was typed too"
    assert held(ana) == before
    from_it = other.with_name("from-it.db")
    assert bevelbook("--db", from_it, "new", "--from", export).code == 0
    back = bevelbook("--db", from_it, "merge", ana, "--json")
    assert back.code == 1
    named, entry = back.json["said_otherwise_there"]
    assert named["fields"][0]["there"] == "calm and planted"
    assert (entry["command"], entry["fields"][0]["there"]) == (
        None,
        'record run 2026-05-02/1 "note=calm and planted"',
    )
    assert bevelbook("--db", from_it, "--by", "bo", *shlex.split(named["command"])[1:]).code == 0
    assert asked(from_it, "SELECT note FROM runs") == [("calm and planted",)]


_KEPT = {
    "who an entry is of": ("entry", "UPDATE entries SET made_by = 'aaron'", {"made_by"}),
    "who, where it sorts after": ("entry", "UPDATE entries SET made_by = 'zoe'", {"made_by"}),
    "when": ("entry", "UPDATE entries SET made_at = '1999-01-01T00:00:' || substr(made_at, 18)", {"made_at"}),
    "what and why": ("entry", "UPDATE entries SET asked = 'a', reason = 'a slip'", {"asked", "reason"}),
    "what a result found": (
        "calculation",
        "UPDATE calculations SET found = json_set(found, '$.mass_g', 0.5), verdict = 'stop'",
        {"found", "verdict"},
    ),
    "who kept a result": ("calculation", "UPDATE calculations SET calculated_by = 'aaron'", {"calculated_by"}),
    "when a result was kept": (
        "calculation",
        "UPDATE calculations SET calculated_at = '1999-01-01T00:00:00.000Z', found = '{}'",
        {"calculated_at", "found"},
    ),
    "the entry of a result": ("calculation", "UPDATE calculations SET entry = NULL", {"entry"}),
    "the inputs of a result": ("calculation", "UPDATE calculations SET given = '{}'", {"given"}),
    "how many rows a file had": (
        "note_file",
        "UPDATE note_files SET accepted = 0, rejected = 99",
        {"accepted", "rejected"},
    ),
    "when a file was read": ("note_file", "UPDATE note_files SET read_at = '1999-01-01T00:00:00.000Z'", {"read_at"}),
    "what a file is called": ("note_file", "UPDATE note_files SET name = 'a.csv'", {"name"}),
    "why a row was left out": ("note_reject", "UPDATE note_rejects SET words = 'aaa'", {"words"}),
    "what was in it": ("note_reject", "UPDATE note_rejects SET value = '1.5', raw = '[\"1\"]'", {"value", "raw"}),
    "cells beside a row": ("note_extra", 'UPDATE note_extras SET cells = \'{"colour": "aaa"}\'', {"cells"}),
}
"""What another program does to what has no versions, and the columns that differ then."""


@pytest.fixture
def with_kept(bevelbook: Run, ana: Path) -> Path:
    """Ana's book with a kept result, and a sheet of which a row was left out."""
    ana.with_name("sheet.csv").write_text(_WITH_A_BAD_ROW, encoding="utf-8")
    for words in (
        ("calc", "fill-target", "--for", "rear-a/1", "--oil-mass", "1.86", "--keep"),
        ("import", ana.with_name("sheet.csv")),
    ):
        assert bevelbook("--db", ana, "--by", "ana", *words).code in (0, 1)
    counts = {table: asked(ana, f"SELECT count(*) FROM {table}")[0][0] for table in ("calculations", "note_rejects")}
    assert counts == {"calculations": 1, "note_rejects": 1}
    return ana


_WITH_A_BAD_ROW = "date,diff,dry mass (g),colour\n2026-05-03,rear-b,46.20,red\n2026-05-04,rear-c,heavy,blue\n"


@pytest.mark.parametrize(
    ("what", "way"),
    [
        *((what, "the copy") for what in _KEPT),
        *((what, "what was rescued of it") for what in ("when", "what a result found", "when a file was read")),
    ],
)
def test_what_has_no_versions_stays_and_is_named_too(bevelbook: Run, with_kept: Path, what: str, way: str) -> None:
    """Entries, kept results and files of notes, whichever of two texts is the lesser."""
    kind, statement, columns = _KEPT[what]
    other = as_it_comes(bevelbook, spoil(copy_of(with_kept, "bo"), statement), way)
    before = held(with_kept)
    for words in (("--dry-run",), (), ()):
        done = bevelbook("--db", with_kept, "merge", other, *words, "--json")
        assert done.code == 1, done.err
        named = done.json["said_otherwise_there"]
        assert {one["record"] for one in named} == {kind}
        assert {each["column"] for one in named for each in one["fields"]} == columns
        assert all(
            one["is_shown"] and one["command"] is None and "No command changes" in one["remedy"] for one in named
        )
        assert all(one["by"].startswith("ana, ") for one in named)
        assert done.json["copy"] is None, "nothing was written, so there is no copy of before"
        assert held(with_kept) == before
    said = bevelbook("--db", with_kept, "merge", other)
    assert said.code == 1
    assert "already" not in said.out
    for field in named[0]["fields"]:
        assert all(part in " ".join(said.out.split()) for part in (field["words"], field["here"], field["there"]))


def test_a_kept_result_and_a_file_are_named_as_people_call_them(bevelbook: Run, with_kept: Path) -> None:
    other = spoil(
        copy_of(with_kept, "bo"),
        "UPDATE entries SET made_by = 'zoe' WHERE asked LIKE 'record run 2026%'",
        _KEPT["what a result found"][1],
        _KEPT["how many rows a file had"][1],
    )
    done = bevelbook("--db", with_kept, "merge", other)
    said = " ".join(done.out.split())
    assert (
        "1 file of notes, 1 kept result, 1 entry say something else there than here, which only another program does"
    ) in said
    assert (
        'said otherwise there: entry 8 of ana (record run 2026-05-02/1 "note=calm and planted"): who made it, made by'
        in said
    )
    assert "said otherwise there: kept result of fill-target of build rear-a/1: outputs, verdict, kept by ana" in said
    assert "said otherwise there: file sheet.csv: rows taken, rows rejected, brought in by ana" in said
    assert "here rows taken 1; rows rejected 1 (stays)" in said


def test_what_a_result_said_once_stays_and_what_bo_wrote_beside_it_comes(bevelbook: Run, with_kept: Path) -> None:
    """A kept result that was taken back: what it was is in the history alone, and comes back as it was here."""
    (number,) = asked(
        with_kept, "SELECT count(*) FROM entries WHERE rowid <= (SELECT rowid FROM entries WHERE asked LIKE 'calc %')"
    )[0]
    was = asked(with_kept, "SELECT * FROM calculations")
    assert bevelbook("--db", with_kept, "--by", "ana", "take-back", number).code == 0
    assert asked(with_kept, "SELECT * FROM calculations") == []
    content = "json_set(content, '$.calculated_by', 'aaron')"
    other = spoil(
        copy_of(with_kept, "bo"),
        f"UPDATE history SET content = {content} WHERE table_name = 'calculations' AND json_valid(content)",
    )
    assert bevelbook("--db", other, "--by", "bo", "record", "venue", "name=Brickfield").code == 0
    done = bevelbook("--db", with_kept, "merge", other, "--json")
    (named,) = done.json["said_otherwise_there"]
    assert (done.code, named["record"], named["is_shown"]) == (1, "calculation", False)
    assert asked(with_kept, "SELECT name FROM venues") == [("Brickfield",)]
    (last,) = asked(with_kept, "SELECT count(*) FROM entries WHERE made_by = 'ana'")[0]
    assert bevelbook("--db", with_kept, "--by", "ana", "take-back", last).code == 0
    assert asked(with_kept, "SELECT * FROM calculations") == was


def test_the_same_result_and_the_same_file_on_two_laptops_become_one_and_nothing_is_named(
    bevelbook: Run, ana: Path
) -> None:
    """Two people keep the same result and bring in the same file, each at a moment of their own; bo's calculator, and
    what rejects rows on his laptop, say it in other words, as those of another version do."""
    bo = copy_of(ana, "bo")
    ana.with_name("sheet.csv").write_text(_WITH_A_BAD_ROW, encoding="utf-8")
    for path, by in ((bo, "bo"), (ana, "ana")):
        assert (
            bevelbook(
                "--db", path, "--by", by, "calc", "fill-target", "--for", "rear-a/1", "--oil-mass", "1.86", "--keep"
            ).code
            == 0
        )
        assert bevelbook("--db", path, "--by", by, "import", ana.with_name("sheet.csv")).code in (0, 1)
    spoil(
        bo,
        "UPDATE calculations SET package_version = '0.0.1', fingerprint = 'another', reasons = '[\"as before\"]'",
        "UPDATE note_rejects SET words = 'not a number at all'",
    )
    for one, two in ((ana, bo), (bo, ana)):
        done = bevelbook("--db", one, "merge", two, "--json")
        assert done.json["said_otherwise_there"] == []
    for one, two in ((ana, bo), (bo, ana)):
        said = bevelbook("--db", one, "merge", two)
        assert (said.code, said.out) == (0, f"From {two.name}:\n  All of it was here already.\n")
    for table in ("calculations", "note_files", "note_rejects", "entries"):
        assert asked(ana, f"SELECT * FROM {table} ORDER BY 1") == asked(bo, f"SELECT * FROM {table} ORDER BY 1")
    assert asked(ana, "SELECT calculated_by FROM calculations") == [("bo",)], "who kept it first"


def test_a_row_that_a_file_there_closed_comes_closed_and_what_was_spoiled_of_it_is_named_as_past(
    bevelbook: Run, with_kept: Path
) -> None:
    """An import that closes a row is an act of its own: its state comes; the one before it is the same act in both."""
    mended = with_kept.with_name("sheet.rejected.csv")
    mended.write_text(mended.read_text(encoding="utf-8").replace("heavy", "46.40"), encoding="utf-8")
    sound = copy_of(with_kept, "cy")
    spoiled = spoil(copy_of(with_kept, "bo"), "UPDATE note_rejects SET words = 'aaa'")
    for path in (sound, spoiled):
        assert bevelbook("--db", path, "--by", "bo", "import", mended).code == 0
    whole, partly = copy_of(with_kept, "whole"), copy_of(with_kept, "partly")
    done = bevelbook("--db", whole, "merge", sound, "--json")
    assert (done.code, done.json["said_otherwise_there"]) == (0, []), "two sound books say nothing apart"
    (was,) = asked(with_kept, "SELECT words FROM note_rejects")
    assert asked(whole, "SELECT words, closed_line FROM note_rejects") == [(*was, 2)]
    assert bevelbook("--db", whole, "merge", with_kept, "--json").json["said_otherwise_there"] == []
    bevelbook("--db", partly, "merge", spoiled)
    assert asked(partly, "SELECT closed_line FROM note_rejects") == [(2,)]
    done = bevelbook("--db", whole, "merge", copy_of(sound, "again"), "--json")
    assert (done.code, done.json["said_otherwise_there"]) == (0, [])
    spoil(sound, "UPDATE note_rejects SET words = 'aaa'")
    before = held(whole)
    done = bevelbook("--db", whole, "merge", sound, "--json")
    assert [(one["record"], one["is_shown"]) for one in done.json["said_otherwise_there"]] == [("note_reject", True)]
    assert done.code == 1
    assert held(whole) == before


def test_a_row_left_out_is_named_by_its_line_and_its_file(bevelbook: Run, with_kept: Path) -> None:
    other = spoil(copy_of(with_kept, "bo"), "UPDATE note_rejects SET words = 'aaa'")
    said = " ".join(bevelbook("--db", with_kept, "merge", other).out.split())
    assert "1 row left out of notes says something else there than here" in said
    assert "said otherwise there: row 3 left out of sheet.csv: reason in words, left out by ana" in said
    assert "there aaa" in said


@pytest.mark.parametrize("way", ["the copy", "what was rescued of it"])
def test_what_another_program_changed_through_the_triggers_is_taken_in_and_said(
    bevelbook: Run, ana: Path, way: str
) -> None:
    """The triggers of the file make a version of such a change, in nobody's name, and its check names that."""
    other = copy_of(ana, "bo")
    with closing(sqlite3.connect(other)) as connection, connection:
        connection.execute("UPDATE builds SET dry_mass_g = 40.25")
        connection.execute("UPDATE runs SET note = 'zzz not so'")
    assert "changed by another program" in bevelbook("--db", other, "check").out
    other, before = as_it_comes(bevelbook, other, way), held(ana)
    tried = bevelbook("--db", ana, "merge", other, "--dry-run", "--json")
    assert held(ana) == before
    done = bevelbook("--db", ana, "merge", other, "--json")
    for one in (tried, done):
        assert one.code == 1, one.err
        assert one.json["changed_by_another_program_there"] == [
            {"table": "builds", "records": 1},
            {"table": "runs", "records": 1},
        ]
        assert any(line.startswith("Another program changed 1 record of builds, 1 ") for line in one.json["lines"])
        assert one.json["said_otherwise_there"] == []
    assert asked(ana, "SELECT dry_mass_g FROM builds") == [(40.25,)]
    assert "changed by another program" in bevelbook("--db", ana, "check").out
    again = bevelbook("--db", ana, "merge", other, "--json")
    assert (again.code, again.json["changed_by_another_program_there"]) == (0, []), "it is here now, and check names it"
    assert bevelbook("--db", ana, "--by", "ana", "check", "--accept").code in (0, 1)
    again = bevelbook("--db", ana, "merge", other, "--json")
    assert (again.code, again.json["changed_by_another_program_there"]) == (0, []), "nor once it is accepted"
    assert bevelbook("--db", ana, "backup", "--bring-back", ana.with_name(done.json["copy"])).code == 0
    assert asked(ana, "SELECT dry_mass_g FROM builds") == [(46.2,)]


def test_of_a_sound_book_nothing_is_said_of_another_program(bevelbook: Run, ana: Path) -> None:
    other = copy_of(ana, "bo")
    assert bevelbook("--db", other, "--by", "bo", "record", "build", "rear-a/1", "dry_mass=46.25g").code == 0
    done = bevelbook("--db", ana, "merge", other, "--json")
    assert (done.code, done.json["changed_by_another_program_there"]) == (0, [])


_SHEET = """date,diff,driver,dry mass (g),oil,total mass (g),venue,packs,note
2026-05-01,rear-a,ana,46.20,house 5k,48.06,hall 1,3,calm
2026-05-02,rear-b,ana,46.30,house 5k,48.10,hall 1,2,planted
2026-05-03,rear-a,ana,,,47.90,hall 1,1,calm again
"""


@pytest.mark.parametrize(
    ("statement", "columns"),
    [
        ("UPDATE builds SET dry_mass_g = 1.25", {"dry_mass_g"}),
        ("UPDATE builds SET label = 'aaa' WHERE label LIKE 'rear-a/%'", {"label"}),
        ("UPDATE runs SET label = '2O26' || substr(label, 5) WHERE label LIKE '2026%'", {"label"}),
        ("UPDATE builds SET fluid = NULL", {"fluid"}),
        ("UPDATE builds SET diff = (SELECT id FROM diffs WHERE label = 'rear-b')", {"diff"}),
        ("UPDATE runs SET note = 'aaa'", {"note"}),
        ("UPDATE weighings SET mass_g = 9.5", {"mass_g"}),
    ],
)
def test_what_an_import_wrote_stays_too(bevelbook: Run, db: Path, statement: str, columns: set[str]) -> None:
    """An import names its versions by what stood in the rows: what each laptop may say for itself does not count."""
    db.with_name("notes.csv").write_text(_SHEET, encoding="utf-8")
    assert bevelbook("--db", db, "--by", "ana", "import", db.with_name("notes.csv")).code == 0
    other = spoil(copy_of(db, "bo"), statement)
    before = held(db)
    for _ in range(2):
        done = bevelbook("--db", db, "merge", other, "--json")
        assert done.code == 1, done.out
        named = {each["column"] for one in done.json["said_otherwise_there"] for each in one["fields"]}
        assert named == columns
        assert held(db) == before


def test_one_sheet_on_two_laptops_becomes_one_and_nothing_is_named(bevelbook: Run, db: Path) -> None:
    """Who imported it first, and which of two diffs of one name it found, may differ."""
    other = copy_of(db, "bo")
    db.with_name("notes.csv").write_text(_SHEET, encoding="utf-8")
    assert bevelbook("--db", other, "--by", "bo", "record", "diff", "label=rear-a").code == 0
    for path, by in ((other, "bo"), (db, "ana")):
        assert bevelbook("--db", path, "--by", by, "import", db.with_name("notes.csv")).code == 0
    for one, two in ((db, other), (other, db)):
        assert bevelbook("--db", one, "merge", two, "--json").json["said_otherwise_there"] == []
    for one, two in ((db, other), (other, db)):
        said = bevelbook("--db", one, "merge", two)
        assert (said.code, said.out) == (0, f"From {two.name}:\n  All of it was here already.\n")


@pytest.fixture
def with_erased(bevelbook: Run, ana: Path) -> Path:
    """Ana's book, in which a driver was erased: a mark of the name, and of what was typed."""
    for words in (("record", "person", "name=zoltan"), ("record", "run", "2026-05-02/1", "note=zoltan drove")):
        assert bevelbook("--db", ana, "--by", "ana", *words).code == 0
    assert bevelbook("--db", ana, "--by", "ana", "erase", "person", "zoltan", "--yes").code == 0
    return ana


def marks(path: Path) -> list[tuple[Any, ...]]:
    return asked(path, "SELECT * FROM erasures ORDER BY id")


_MARKS = {
    "what stands in the place": ("UPDATE erasures SET instead = 'Zed' WHERE what = 'name'", {"instead"}),
    "lesser than what an erasing writes": ("UPDATE erasures SET instead = 'aaa' WHERE what = 'name'", {"instead"}),
    "the words": ("UPDATE erasures SET words = NULL WHERE what = 'name'", {"words"}),
    "of whom": ("UPDATE erasures SET row_id = 'another' WHERE what = 'name'", {"row_id"}),
}
"""What another program does to a mark of what was erased, and the columns that differ then."""


@pytest.mark.parametrize("what", _MARKS)
def test_a_mark_of_what_was_erased_stays_as_it_is_and_the_spoiled_one_is_named(
    bevelbook: Run, with_erased: Path, what: str
) -> None:
    """A spoiled mark is never taken over: it would put its words into texts, or erase what nobody erased."""
    statement, columns = _MARKS[what]
    other = spoil(copy_of(with_erased, "bo"), statement)
    before, kept = held(with_erased), marks(with_erased)
    for words in (("--dry-run",), (), ()):
        done = bevelbook("--db", with_erased, "merge", other, *words, "--json")
        assert done.code == 1, done.err
        named = done.json["said_otherwise_there"]
        assert {one["record"] for one in named} == {"erasure"}
        assert {each["column"] for one in named for each in one["fields"]} == columns
        assert all(one["command"] is None and "No command changes a mark" in one["remedy"] for one in named)
        assert (held(with_erased), marks(with_erased)) == (before, kept)
    said = bevelbook("--db", with_erased, "merge", other)
    assert said.code == 1
    assert "said otherwise there: mark of an erased name" in " ".join(said.out.split())
    deep = bevelbook("--db", other, "check", "--deep")
    assert deep.code != 0 and "of what was erased" in deep.out


@pytest.mark.parametrize("what", ["lesser than what an erasing writes", "of whom"])
def test_a_book_that_takes_its_marks_from_a_sound_one_has_them_right_again(
    bevelbook: Run, with_erased: Path, what: str
) -> None:
    other = spoil(copy_of(with_erased, "bo"), _MARKS[what][0])
    assert bevelbook("--db", other, "merge", with_erased).code == 0
    assert marks(other) == marks(with_erased)


def test_what_was_erased_is_erased_here_too_where_its_mark_was_spoiled_there(bevelbook: Run, ana: Path) -> None:
    """An erasure that the book does not know yet: no merge may lose it, and nobody else's words come with it."""
    assert bevelbook("--db", ana, "--by", "ana", "record", "person", "name=zoltan").code == 0
    other = copy_of(ana, "bo")
    assert bevelbook("--db", other, "--by", "ana", "erase", "person", "zoltan", "--yes").code == 0
    called = asked(other, "SELECT name FROM people")
    spoil(other, _MARKS["what stands in the place"][0])
    done = bevelbook("--db", ana, "merge", other, "--json")
    assert (done.code, {one["record"] for one in done.json["said_otherwise_there"]}) == (1, {"erasure"})
    assert asked(ana, "SELECT name FROM people") == called
    assert asked(ana, "SELECT count(*) FROM erasures WHERE instead = 'Zed'") == [(0,)]


@pytest.mark.parametrize(("table", "column"), [("diffs", "label"), ("builds", "dry_mass_g"), ("runs", "run_on")])
def test_a_mark_of_what_no_erasing_takes_out_is_named_and_takes_out_nothing(
    bevelbook: Run, ana: Path, table: str, column: str
) -> None:
    """Numbers, days and the names of diffs stay whatever another program writes."""
    other = copy_of(ana, "bo")
    with closing(sqlite3.connect(other)) as connection, connection:
        row_id, version = connection.execute(f"SELECT id, version FROM {table} ORDER BY id").fetchone()
        keep_marks(connection, [text_mark(table, row_id, version, column)])
    before = held(ana)
    done = bevelbook("--db", ana, "merge", other, "--json")
    assert (done.code, held(ana), marks(ana)) == (1, before, [])
    assert [one["record"] for one in done.json["said_otherwise_there"]] == ["erasure"]
    deep = bevelbook("--db", other, "check", "--deep")
    assert deep.code != 0 and "of what was erased" in deep.out


def test_of_a_difference_in_the_past_it_is_said_which_book_has_which_and_that_no_command_settles_it(
    bevelbook: Run, ana: Path
) -> None:
    other = spoil(copy_of(ana, "bo"), past_of(*_PAST["build"]))
    said = " ".join(bevelbook("--db", ana, "merge", other).out.split())
    assert "No command settles it: this book goes on with what it says here, and that file with what it says" in said
    assert "Keep both files until you know which is right" in said
