"""A sheet imported a second time with other answers: its rows are changed, and no run comes in twice.

All cells are invented.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable
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
UNKNOWN_MASS = (
    "Date,Diff,Oil,Oil mass g,Empty wt,Track,Track temp C,Packs,Notes\n"
    "2026-03-01,z1,7k,1.86,12.41,Reed Hall,31,3,planted\n2026-03-08,z2,7k,1.84,12.50,Reed Hall,24,2,pushy\n"
)
COUNTS = "SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM runs), (SELECT count(*) FROM note_files)"
RUNS = "SELECT track_temp_c FROM runs ORDER BY run_on"
DRY = "SELECT dry_mass_g FROM builds ORDER BY built_on"


@pytest.mark.parametrize(
    ("sheet", "answer", "question", "made", "values"),
    [
        (NO_UNIT, ["--temp-unit", "F"], RUNS, (1, 2, 1), [(14.44,), (16.11,)]),
        (UNKNOWN_MASS, ["--map", "Empty wt=dry_mass_g"], DRY, (2, 2, 1), [(12.41,), (12.5,)]),
    ],
)
def test_the_command_beside_a_question_changes_the_rows_and_an_import_is_refused(
    bevelbook: Run,
    db: Path,
    tmp_path: Path,
    sheet: str,
    answer: list[str],
    question: str,
    made: tuple[int, ...],
    values: list[tuple[float]],
) -> None:
    file = tmp_path / "season.csv"
    file.write_text(sheet, encoding="utf-8")
    first = bevelbook("--db", db, "import", file)
    assert first.code == 0
    assert "bevelbook import --again season.csv" in first.out
    before = asked(db, question)
    for more in ([], ["--dry-run"], ["--as-new"], ["--take-changes"], ["--yes"]):
        done = bevelbook("--db", db, "import", file, *answer, *more)
        assert done.code == 2, more
        assert "not imported (read_otherwise). Nothing was stored." in done.out
        assert asked(db, COUNTS) == [made]
        assert asked(db, question) == before
    command = shlex.split(done.out.splitlines()[-1])
    assert command == ["bevelbook", "import", "--again", "season.csv", *answer]
    assert bevelbook("--db", db, *command[1:], "--yes").code == 0
    assert asked(db, COUNTS) == [made]
    assert [(round(value, 2),) for (value,) in asked(db, question)] == values
    known = bevelbook("--db", db, "import", file, *answer, "--json").json
    assert (known["added"], known["known"]) == (0, 2)
    back = bevelbook("--db", db, "import", file, "--json")
    assert (back.code, back.json["file_reason"]) == (2, "read_otherwise")


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
    file.write_text(UNKNOWN_MASS, encoding="utf-8")
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
    assert round(asked(tmp_path / "bevelbook.db", RUNS)[0][0], 2) == first
