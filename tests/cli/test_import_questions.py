"""Every kind of question of an import: what each answer makes of the rows, wrong answers, and the profile that is left.

All cells are invented.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from asked import asked
from conftest import Outcome

Import = Callable[..., Outcome]
BARE = "date,diff,dry mass,oil mass\n"
TEMPERATURES = "date,diff,oil mass,track temp,air temp\n2026-04-03,K-01,2.1,40,20\n"


class Typed(io.StringIO):
    """What somebody types on a terminal, answer by answer."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def bring(bevelbook: Any, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Import:
    """Import a sheet on a terminal with these answers; fails where more is asked, or less than is answered."""

    def run(text: str, *answers: str, name: str = "season.csv", options: tuple[str, ...] = ()) -> Outcome:
        if text:
            (tmp_path / name).write_text(text, encoding="utf-8")
        typed = Typed("".join(f"{one}\n" for one in answers))
        monkeypatch.setattr("sys.stdin", typed)
        done: Outcome = bevelbook("--db", db, "import", name, *options)
        assert typed.read() == "", "less was asked than answered"
        assert "stopped" not in done.err, "more was asked than answered"
        return done

    return run


def masses(db: Path) -> list[tuple[Any, ...]]:
    return asked(db, "SELECT dry_mass_g, oil_mass_g FROM builds ORDER BY built_on")


@pytest.mark.parametrize(("answer", "meant"), [("1", 100_000.0), (",", 100.0)])
def test_the_decimal_mark_is_asked_where_no_cell_proves_it(bring: Import, db: Path, answer: str, meant: float) -> None:
    text = 'date;diff;viscosity\n2026-04-03;K-01;"100,000"\n'
    done = bring(text, "", "3", answer, "y")
    assert "Which mark is the decimal one in the numbers?\n  for example 100,000\n" in done.err
    assert "the point: 100,000 is 100000" in done.err
    assert "the comma: 100,000 is 100" in done.err
    assert done.err.count("Error: type 1 to 2") == 2
    assert (meant,) in asked(db, "SELECT viscosity_cst FROM builds UNION SELECT viscosity_cst FROM fluids")


def test_lines_of_one_of_two_tables_are_asked_about(bring: Import, db: Path) -> None:
    text = f"{BARE}2026-04-03,K-01,12.5,2.1\n\ndate,diff,total mass,runs\n2026-05-03,K-02,14.0,3\n"
    done = bring(text, "9", "1", "y")
    assert done.code == 0
    assert "type 1 to 2" in done.err
    assert masses(db) == [(12.5, 2.1)]
    assert Path("season.profile.yaml").read_text(encoding="utf-8").endswith('lines: "1-2"\n')


def test_a_column_is_said_by_number_by_field_or_left_out(bring: Import, db: Path) -> None:
    text = "date,diff,dry mass,Zeug,Rest\n2026-04-03,K-01,12.5,felt fine,x1\n"
    done = bring(text, "zzz", "result note", "ignore", "y")
    assert done.code == 0
    assert 'there is no field named "zzz"' in done.err
    assert ("felt fine",) in asked(db, "SELECT note FROM builds UNION SELECT note FROM runs")
    kept = Path("season.profile.yaml").read_text(encoding="utf-8")
    assert '"Zeug": "result_note"' in kept
    assert '"Rest": "ignore"' in kept


def test_the_unit_of_each_temperature_is_its_own(bring: Import, db: Path) -> None:
    bring(TEMPERATURES, "f", "C", "y")
    assert asked(db, "SELECT round(track_temp_c, 2), air_temp_c FROM runs") == [(4.44, 20.0)]
    kept = Path("season.profile.yaml").read_text(encoding="utf-8")
    assert 'track_temp_c: "°F"' in kept
    assert 'air_temp_c: "°C"' in kept


def test_with_a_profile_only_what_is_needed_is_asked(bring: Import, db: Path) -> None:
    Path("team.yaml").write_text("columns:\n  Rest: ignore\n", encoding="utf-8")
    assert bring(TEMPERATURES, options=("--profile", "team.yaml")).code == 0
    assert asked(db, "SELECT track_temp_c FROM runs") == [(40.0,)]
    text = TEMPERATURES.replace("2026-04-03", "03/04/2026")
    bring(text, "2", "y", options=("--profile", "team.yaml"), name="other.csv")
    assert asked(db, "SELECT run_on FROM runs ORDER BY 1") == [("2026-03-04",), ("2026-04-03",)]


def test_a_profile_that_is_there_is_never_overwritten(bring: Import) -> None:
    Path("season.profile.yaml").write_text("columns: {}\n", encoding="utf-8")
    done = bring(TEMPERATURES, "1", "1", "y", options=("--no-profile",))
    assert Path("season.profile.yaml").read_text(encoding="utf-8") == "columns: {}\n"
    assert "--profile season.profile-2.yaml" in done.out
    assert 'track_temp_c: "°C"' in Path("season.profile-2.yaml").read_text(encoding="utf-8")


def test_the_rejected_rows_of_a_sheet_are_read_with_its_answers(bring: Import, db: Path) -> None:
    text = "date,diff,dry mass,Zeug\n2026-04-03,K-01,12.5,fine\n2026-04-04,K-02,heavy,loose\n"
    bring(text, "result_note", "y")
    rows = Path("season.rejected.csv").read_text(encoding="utf-8-sig").replace("heavy", "12.6")
    done = bring(rows, name="season.rejected.csv")
    assert done.code == 0, done.out
    assert "season.rejected.csv is read with season.profile.yaml" in done.err
    assert len(asked(db, "SELECT id FROM builds")) == 2
    assert ("loose",) in asked(db, "SELECT note FROM builds UNION SELECT note FROM runs")


def test_a_dry_run_asks_and_writes_nothing(bring: Import, db: Path) -> None:
    done = bring(TEMPERATURES, "1", "1", options=("--dry-run",))
    assert "line 2: 2026-04-03, diff K-01" in done.err
    assert asked(db, "SELECT count(*) FROM note_files") == [(0,)]
    assert not Path("season.profile.yaml").exists()


@pytest.mark.parametrize("option", ["--json", "--yes"])
def test_nothing_is_asked_for_programs_or_with_yes(bring: Import, db: Path, option: str) -> None:
    assert bring(TEMPERATURES, options=(option,)).code == 0
    assert asked(db, "SELECT track_temp_c FROM runs") == [(40.0,)]


def test_a_year_that_is_not_offered_may_be_typed(bring: Import, db: Path) -> None:
    bring(f"{BARE}14 Feb,K-01,12.5,2.1\n", "19", "2019", "y")
    assert asked(db, "SELECT built_on FROM builds") == [("2019-02-14",)]


def test_what_is_left_open_is_asked_again_next_time(bring: Import) -> None:
    bring(TEMPERATURES, "", "", "n")
    bring(TEMPERATURES, "", "", "y")
    assert not Path("season.profile.yaml").exists()
    assert "known already" in bring(TEMPERATURES, "", "", "y").out


def test_all_sheets_come_in_with_their_names_as_diffs(bring: Import, db: Path, tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    for place, name in enumerate(("K-01", "K-02")):
        sheet = book.create_sheet(name)
        sheet.append(["Date", "Dry weight (g)", "Oil weight (g)", "Track temp"])
        sheet.append(["2026-04-03", 12.5 + place, 2.1, 31])
    book.remove(book.worksheets[0])
    book.save(tmp_path / "season.xlsx")
    done = bring("", "4", "all", "1", "c", "y", name="season.xlsx")
    assert done.code == 0, done.out
    assert done.err.count("line 2: 2026-04-03, diff K-0") == 2
    assert asked(db, "SELECT d.label, b.dry_mass_g FROM builds b JOIN diffs d ON d.id = b.diff ORDER BY 1") == [
        ("K-01", 12.5),
        ("K-02", 13.5),
    ]
    again = bring("", name="season.xlsx")
    assert again.out.count("1 known already") == 2


WITHOUT_DIFF = "date,dry mass,oil mass\n2026-04-03,12.5,2.1\n"
DIFFS = "SELECT label FROM diffs"


@pytest.mark.parametrize(("answer", "diff"), [("1", "K-07"), ("K-08", "K-08")])
def test_a_sheet_without_a_column_of_diffs_is_asked_which_diff_it_is_of(
    bring: Import, db: Path, answer: str, diff: str
) -> None:
    done = bring(WITHOUT_DIFF, "", answer, "y", name="K-07.csv")
    assert done.code == 0
    assert 'Which diff is this sheet of?\n   1  "K-07", for all its rows\n' in done.err
    assert asked(db, DIFFS) == [(diff,)]
    assert f'set:\n  diff: "{diff}"\n' in Path("K-07.profile.yaml").read_text(encoding="utf-8")


def test_the_title_of_a_sheet_is_proposed_for_its_diff(bring: Import, db: Path) -> None:
    bring(f"rear of the blue car,,\n{WITHOUT_DIFF}", "2", "y")
    assert asked(db, DIFFS) == [("rear of the blue car",)]


def test_none_of_the_columns_may_be_the_diff(bring: Import, db: Path) -> None:
    text = "date,dry mass,oil mass,Kisa\n2026-04-03,12.5,2.1,A-1\n"
    done = bring(text, "0", "K-07", "", "y")
    assert "Which (1, or none of these: 0, or stop):" in done.err
    assert (done.code, asked(db, DIFFS)) == (0, [("K-07",)])


def test_a_question_that_needs_an_answer_is_left_by_stop(bring: Import, db: Path) -> None:
    done = bring(WITHOUT_DIFF, "stop")
    assert (done.code, done.out) == (1, "Nothing was stored.\n")
    assert asked(db, "SELECT count(*) FROM builds") == [(0,)]
