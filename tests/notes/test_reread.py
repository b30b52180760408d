"""A kept file read again: what would change is shown first, and what is replaced goes to the history."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from asked import asked

Run = Callable[..., Any]

TEXT = "date,diff,dry_mass_g,oil_mass_g,viscosity_cst,grip\n03/02/2024,a,9.5,1.5,500,high\n2024-02-14,a,,,600,grippy\n"


@pytest.fixture
def kept(bevelbook: Run, db: Path, tmp_path: Path) -> Path:
    (tmp_path / "notes.csv").write_text(TEXT, encoding="utf-8")
    bevelbook("--db", db, "import", "notes.csv", "--date-order", "mdy")
    (tmp_path / "notes.csv").unlink()
    (tmp_path / "ours.yaml").write_text(
        'words: {grip: {"grippy": "high"}}\noptions: {date_order: "dmy"}\n', encoding="utf-8"
    )
    return db


def test_what_would_change_is_shown_before_it_changes(bevelbook: Run, kept: Path) -> None:
    before = kept.read_bytes()
    done = bevelbook("--db", kept, "import", "--again", "notes.csv", "--profile", "ours.yaml", "--dry-run", "--json")
    changes = {(one["what"], one["record"]): one["count"] for one in done.json["changes"]}
    assert changes == {
        ("added", "build"): 2,
        ("added", "run"): 2,
        ("added", "run_diff"): 2,
        ("removed", "build"): 1,
        ("removed", "run"): 1,
        ("removed", "run_diff"): 1,
    }
    assert (done.json["accepted_before"], done.json["accepted"]) == (1, 2)
    assert kept.read_bytes() == before


def test_a_script_has_to_say_yes(bevelbook: Run, kept: Path) -> None:
    done = bevelbook("--db", kept, "import", "--again", "notes.csv", "--profile", "ours.yaml")
    assert done.code == 2
    assert "--yes" in done.err
    assert asked(kept, "SELECT built_on FROM builds") == [("2024-03-02",)]


def test_the_change_is_made_and_the_old_goes_to_the_history(bevelbook: Run, kept: Path) -> None:
    words = ["--db", kept, "import", "--again", "notes.csv", "--profile", "ours.yaml", "--yes"]
    assert bevelbook(*words).code == 0
    assert asked(kept, "SELECT built_on, viscosity_cst FROM builds ORDER BY built_on") == [
        ("2024-02-03", 500.0),
        ("2024-02-14", 600.0),
    ]
    assert asked(
        kept,
        "SELECT table_name, content IS NULL FROM history WHERE table_name NOT LIKE 'note%' ORDER BY table_name, id",
    ) == [
        ("builds", 0),
        ("builds", 1),
        ("run_diffs", 0),
        ("run_diffs", 1),
        ("runs", 0),
        ("runs", 1),
    ]
    assert asked(kept, "SELECT made_by, asked FROM entries ORDER BY id")[1:] == [
        (None, "import --again notes.csv --profile ours.yaml --yes")
    ]
    assert asked(kept, "SELECT accepted, rejected FROM note_files") == [(2, 0)]
    assert asked(kept, "SELECT count(*) FROM note_rejects") == [(0,)]
    again = bevelbook(*words)
    assert "No record changes" in again.out


def test_a_file_is_found_by_the_beginning_of_its_hash(bevelbook: Run, kept: Path) -> None:
    sha256 = asked(kept, "SELECT sha256 FROM note_files")[0][0]
    done = bevelbook("--db", kept, "import", "--again", sha256[:10], "--date-order", "mdy", "--dry-run", "--json")
    assert done.json["changes"] == []


def test_a_record_that_others_hang_on_does_not_go(bevelbook: Run, kept: Path) -> None:
    build = asked(kept, "SELECT id FROM builds")[0][0]
    assert bevelbook("--db", kept, "record", "opening", f"build={build}", "opened_on=2024-04-01").code == 0
    done = bevelbook("--db", kept, "import", "--again", "notes.csv", "--profile", "ours.yaml", "--yes", "--json")
    assert (done.code, done.json["code"]) == (2, "record_in_use")
    assert asked(kept, "SELECT built_on FROM builds") == [("2024-03-02",)]


MOVED = "date,diff,dry_mass_g,oil_mass_g,grip\n03/02/2024,a,9.5,1.5,\n2024-02-14,a,,,high\n"
"""Read with the month first, the run comes before the build and has one of its own with everything unknown."""


@pytest.fixture
def moved(bevelbook: Run, db: Path, tmp_path: Path) -> Path:
    (tmp_path / "moved.csv").write_text(MOVED, encoding="utf-8")
    assert bevelbook("--db", db, "import", "moved.csv", "--date-order", "mdy").code == 0
    return db


def test_what_an_import_makes_is_a_first_version_named_by_its_id(moved: Path) -> None:
    for table in ("diffs", "builds", "runs", "run_diffs"):
        rows = asked(moved, f"SELECT id = version, parents FROM {table}")
        assert rows
        assert set(rows) == {(1, None)}
    assert asked(moved, "SELECT count(*) FROM history WHERE table_name NOT LIKE 'note%'") == [(0,)]


def test_a_run_that_only_belongs_to_another_build_is_no_other_version(bevelbook: Run, moved: Path) -> None:
    before = asked(moved, "SELECT id, version, parents, updated_at FROM run_diffs")
    (build,) = asked(moved, "SELECT build FROM run_diffs")
    done = bevelbook("--db", moved, "import", "--again", "moved.csv", "--date-order", "dmy", "--yes", "--json")
    assert ("changed", "run_diff", 1) in {(one["what"], one["record"], one["count"]) for one in done.json["changes"]}
    assert asked(moved, "SELECT id, version, parents, updated_at FROM run_diffs") == before
    assert asked(moved, "SELECT build FROM run_diffs") != [build]
    assert asked(moved, "SELECT built_on FROM builds JOIN run_diffs ON build = builds.id") == [("2024-02-03",)]
    assert asked(moved, "SELECT count(*) FROM history WHERE table_name IN ('runs', 'run_diffs')") == [(0,)]
    assert asked(moved, "SELECT * FROM writing") == [(1, None, None, None)]


def test_a_record_that_comes_back_follows_its_removal(bevelbook: Run, moved: Path) -> None:
    before = asked(moved, "SELECT id FROM builds ORDER BY id")
    for order in ("dmy", "mdy"):
        done = bevelbook("--db", moved, "import", "--again", "moved.csv", "--date-order", order, "--yes")
        assert done.code == 0
    assert asked(moved, "SELECT id FROM builds ORDER BY id") == before
    rows = asked(
        moved,
        "SELECT builds.version <> builds.id, builds.parents = json_array(history.version) FROM builds "
        "JOIN history ON row_id = builds.id WHERE content IS NULL",
    )
    assert rows == [(1, 1), (1, 1)]


def test_a_value_changed_by_hand_is_a_version_and_so_is_the_note_read_again(bevelbook: Run, moved: Path) -> None:
    """What the notes make of a record again is named by what it follows and what it is, not by the entry."""
    query = "SELECT id, label FROM builds WHERE dry_mass_g = 9.5"
    ((build, label),) = asked(moved, query)
    assert bevelbook("--db", moved, "record", "build", label, "dry_mass=9.6").code == 0
    ((by_hand,),) = asked(moved, f"SELECT version FROM builds WHERE id = '{build}'")
    again = ("--db", moved, "import", "--again", "moved.csv", "--date-order", "mdy", "--yes")
    assert bevelbook(*again).code == 0
    ((version, parents),) = asked(moved, f"SELECT version, parents FROM builds WHERE id = '{build}'")
    entries = {row[0] for row in asked(moved, "SELECT id FROM entries")}
    assert by_hand in entries
    assert version not in entries | {build}
    assert parents == f'["{by_hand}"]'
    past = asked(moved, f"SELECT version FROM history WHERE row_id = '{build}' ORDER BY id")
    assert past == [(build,), (by_hand,)]


def test_what_was_accepted_and_rejected_is_said_in_one_line(bevelbook: Run, moved: Path) -> None:
    done = bevelbook("--db", moved, "import", "--again", "moved.csv", "--date-order", "dmy", "--dry-run")
    assert re.match(r"moved\.csv: \d+ rows accepted \(before: \d+\), \d+ rejected \(before: \d+\)\n", done.out)


SEASON = "date,diff,dry_mass_g,oil_mass_g,grip,Mood\n2024-02-28,a,9.5,1.5,,calm\n03/04/2024,a,9.6,1.4,high,grumpy\n"


@pytest.fixture
def season(bevelbook: Run, db: Path, tmp_path: Path) -> Path:
    """A sheet with a date of two readings and a column that nobody knows, brought in without an answer."""
    (tmp_path / "season.csv").write_text(SEASON, encoding="utf-8")
    assert bevelbook("--db", db, "import", "season.csv").code == 1
    return db


def test_what_only_adds_records_needs_no_yes(bevelbook: Run, season: Path) -> None:
    done = bevelbook("--db", season, "import", "--again", "season.csv", "--date-order", "dmy")
    assert (done.code, done.err) == (0, "")
    assert "1 build added" in done.out
    assert asked(season, "SELECT built_on FROM builds ORDER BY id") == [("2024-02-28",), ("2024-04-03",)]


def test_an_answer_that_changes_no_record_is_kept(bevelbook: Run, season: Path) -> None:
    words = ("--db", season, "import", "--again", "season.csv", "--map", "Mood=ignore")
    look = bevelbook(*words, "--dry-run").out
    assert "What is said of the file now would be kept for its next reading." in look
    assert asked(season, "SELECT options FROM note_files") == [(None,)]
    done = bevelbook(*words)
    assert done.code == 1, "a row of it is rejected still"
    assert "No record changes.\n  What is said of the file now is kept for its next reading.\n  Done." in done.out
    assert asked(season, "SELECT options FROM note_files") == [('{"columns": {"mood": "ignore"}}',)]
    assert "Done" not in bevelbook(*words).out


def test_what_a_reading_again_adds_has_the_next_free_number(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    """As if it had been answered at once: the records that keep their label have taken no second number."""
    rows = ["2024-04-09,a,9.5,1.5,low", "2024-04-13,a,9.6,1.4,", "09/04/2024,a,9.7,1.3,high", "10/04/2024,a,9.8,1.2,"]
    (tmp_path / "season.csv").write_text("\n".join(["date,diff,dry_mass_g,oil_mass_g,grip", *rows]), encoding="utf-8")
    assert bevelbook("--db", db, "import", "season.csv").code == 1
    labels = "SELECT label FROM builds UNION ALL SELECT label FROM runs"
    assert sorted(asked(db, labels)) == [("2024-04-09/1",), ("a/1",), ("a/2",)]
    bevelbook("--db", db, "import", "--again", "season.csv", "--date-order", "dmy", "--yes")
    found = [("2024-04-09/1",), ("2024-04-09/2",), ("a/1",), ("a/2",), ("a/3",), ("a/4",)]
    assert sorted(asked(db, labels)) == found
