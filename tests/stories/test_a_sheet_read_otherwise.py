"""A sheet imported a second time with other answers: its rows are changed, and no run comes in twice.

All cells are invented.
"""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from asked import asked
from conftest import Outcome, empty_database
from terminal import play

Run = Callable[..., Outcome]
NO_UNIT = (
    "Date,Diff,Oil,Dry,w/ oil,Track,Track temp,Packs,Notes\n"
    "2026-03-01,z1,7k,12.41,14.27,Reed Hall,58,3,planted\n2026-03-08,z1,,,,Reed Hall,61,2,pushy\n"
)
UNKNOWN_WORDS = (
    "Date,Diff,Oil,Oil mass g,Rubber,Track,Track temp C,Packs,Notes\n"
    "2026-03-01,z1,7k,1.86,soft,Reed Hall,31,3,planted\n2026-03-08,z2,7k,1.84,hard,Reed Hall,24,2,pushy\n"
)
COUNTS = "SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM runs), (SELECT count(*) FROM note_files)"
RUNS = "SELECT round(track_temp_c, 2) FROM runs ORDER BY run_on"
TYRES = "SELECT tyres FROM runs ORDER BY run_on"
HELD = [("soft",), ("hard",)]


@pytest.mark.parametrize(
    ("sheet", "answer", "other", "question", "made", "values"),
    [
        (NO_UNIT, ["--temp-unit", "F"], ["--temp-unit", "C"], RUNS, (1, 2, 1), [(14.44,), (16.11,)]),
        (UNKNOWN_WORDS, ["--map", "Rubber=tyres"], ["--map", "Rubber=ignore"], TYRES, (2, 2, 1), HELD),
    ],
)
def test_the_command_beside_a_question_changes_the_rows_and_its_answer_is_kept_for_the_file(
    bevelbook: Run,
    db: Path,
    tmp_path: Path,
    sheet: str,
    answer: list[str],
    other: list[str],
    question: str,
    made: tuple[int, ...],
    values: list[tuple[float | str]],
) -> None:
    file = tmp_path / "season.csv"
    file.write_text(sheet, encoding="utf-8")
    first = bevelbook("--db", db, "import", file)
    assert first.code == 0
    assert f"bevelbook --db {db} import --again season.csv" in first.out
    before = asked(db, question)
    for more in ([], ["--dry-run"], ["--as-new"], ["--take-changes"], ["--yes"]):
        done = bevelbook("--db", db, "import", file, *answer, *more)
        assert done.code == 2, more
        assert "not imported (read_otherwise). Nothing was stored." in done.out
        assert asked(db, COUNTS) == [made]
        assert asked(db, question) == before
    command = shlex.split(done.out.splitlines()[-1])
    assert command == ["bevelbook", "--db", str(db), "import", "--again", "season.csv", *answer]
    assert bevelbook(*command[1:], "--yes").code == 0
    assert asked(db, COUNTS) == [made]
    assert asked(db, question) == values
    known = bevelbook("--db", db, "import", file, *answer, "--json").json
    assert (known["added"], known["known"]) == (0, 2)
    back = bevelbook("--db", db, "import", file, "--json")
    assert (back.code, back.json["added"], back.json["known"]) == (0, 0, 2)
    assert "read_as_before" in back.json["warnings"]
    look = bevelbook("--db", db, "import", "--again", "season.csv", "--dry-run", "--json").json
    assert look["changes"] == []
    otherwise = bevelbook("--db", db, "import", file, *other, "--json")
    assert (otherwise.code, otherwise.json["file_reason"]) == (2, "read_otherwise")
    assert asked(db, question) == values


def test_an_answer_given_as_a_file_first_came_in_holds_for_the_same_file_again(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    """The rows and the columns left out stay as they were answered, by a reading again too, until another is given."""
    file = tmp_path / "season.csv"
    file.write_text("Day,Diff,Dry weight (g),Mood\n03/04/2026,z1,12.4,calm\n2026-03-08,z1,12.5,\n", encoding="utf-8")
    first = bevelbook("--db", db, "import", file, "--date-order", "dmy", "--map", "Mood=ignore", "--json")
    assert (first.code, first.json["added"]) == (0, 2)
    for more in ([], ["--dry-run"], ["--decimal", "."]):
        again = bevelbook("--db", db, "import", file, *more, "--json")
        assert (again.code, again.json["added"], again.json["known"], again.json["rejects"]) == (0, 0, 2, []), more
        assert "unknown_column:Mood" not in again.json["warnings"]
    assert bevelbook("--db", db, "import", "--again", "season.csv", "--dry-run", "--json").json["changes"] == []
    assert asked(db, "SELECT built_on FROM builds ORDER BY built_on") == [("2026-03-08",), ("2026-04-03",)]
    other = bevelbook("--db", db, "import", "--again", "season.csv", "--date-order", "mdy", "--yes")
    assert other.code == 0
    assert asked(db, "SELECT built_on FROM builds ORDER BY built_on") == [("2026-03-04",), ("2026-03-08",)]
    assert bevelbook("--db", db, "import", file, "--json").json["added"] == 0


def test_other_settings_that_read_every_row_alike_are_no_reason_to_refuse(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    file = tmp_path / "season.csv"
    file.write_text(NO_UNIT, encoding="utf-8")
    bevelbook("--db", db, "import", file)
    done = bevelbook("--db", db, "import", file, "--temp-unit", "C", "--json")
    assert (done.code, done.json["added"], done.json["known"]) == (0, 0, 2)
    assert done.json["questions"] == []


def test_rows_that_were_rejected_come_in_with_an_answer_beside_those_that_are_there(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    file = tmp_path / "season.csv"
    file.write_text("date,diff,track_temp_c,runs\n2026-03-01,z1,30,1\n08.03.,z1,25,4\n", encoding="utf-8")
    assert bevelbook("--db", db, "import", file, "--no-rejects").code == 1
    done = bevelbook("--db", db, "import", file, "--year", "2026", "--json")
    assert (done.code, done.json["added"], done.json["known"]) == (0, 1, 1)


def test_one_of_two_sheets_of_a_name_is_named_by_its_hash(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    file = tmp_path / "season.csv"
    file.write_text(UNKNOWN_WORDS, encoding="utf-8")
    bevelbook("--db", db, "import", file)
    file.write_text(NO_UNIT.replace("2026", "2025"), encoding="utf-8")
    bevelbook("--db", db, "import", file)
    ((sha256,),) = asked(db, "SELECT sha256 FROM note_files ORDER BY read_at DESC LIMIT 1")
    done = bevelbook("--db", db, "import", file, "--temp-unit", "F")
    assert f"import --again {sha256[:12]} --temp-unit F" in done.out
    assert bevelbook("--db", db, "import", "--again", sha256[:12], "--temp-unit", "F", "--yes").code == 0
    assert asked(db, COUNTS) == [(3, 4, 2)]


@pytest.mark.parametrize(("answer", "code", "first"), [("y", 0, 14.44), ("n", 130, 58.0)])
def test_a_question_left_open_once_and_answered_the_next_time_changes_the_rows(
    tmp_path: Path, answer: str, code: int, first: float
) -> None:
    empty_database(tmp_path / "bevelbook.db")
    (tmp_path / "season.csv").write_text(NO_UNIT, encoding="utf-8")
    done = play(tmp_path, ["import", "season.csv"], ["", "y"])
    assert done.code == 0, done.screen
    done = play(tmp_path, ["import", "season.csv"], ["2", answer])
    assert done.code == code, done.screen
    assert "Read it again with these answers, and change its rows?" in done.screen
    assert asked(tmp_path / "bevelbook.db", COUNTS) == [(1, 2, 1)]
    assert asked(tmp_path / "bevelbook.db", RUNS)[0][0] == first


def test_a_sheet_of_which_a_newer_version_understands_more_comes_in_once(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    """As an older version kept it: without a column that it did not know, and without an option that says so."""
    file = tmp_path / "season.csv"
    file.write_text(UNKNOWN_WORDS, encoding="utf-8")
    assert bevelbook("--db", db, "import", file, "--map", "Notes=ignore").code == 0
    with closing(sqlite3.connect(db)) as connection, connection:
        connection.execute("UPDATE note_files SET options = NULL")
    done = bevelbook("--db", db, "import", file)
    assert (done.code, asked(db, COUNTS)) == (2, [(2, 2, 1)])
    assert "as it is read now 2 rows of it would come in once more" in done.out
    again = bevelbook("--db", db, "import", "--again", "season.csv", "--yes")
    assert (again.code, asked(db, COUNTS)) == (0, [(2, 2, 1)])
    assert asked(db, "SELECT note FROM runs ORDER BY run_on") == [("planted",), ("pushy",)]
    assert "2 known already" in bevelbook("--db", db, "import", file).out
