"""A sheet that leaves something open, imported on a terminal: asked, shown, brought in, and silent the next time.

All cells are invented.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from asked import asked
from conftest import Outcome, empty_database
from terminal import STOP, play

from bevelbook.display.wrapping import display_width

ELEVEN = (
    "Day,Driver,Diff,Dry weight (g),Oil weight (g),Total weight (g),Oil,cSt,Track temperature (°C),"
    "Air temperature,Notes\n03/04/2024,ana,K-01,19.02,2.10,21.12,house 7k,7000,31,22,felt planted\n"
    "05/04/2024,bo,K-02,18.90,2.00,20.90,house 10k,10000,30,20,\n"
)
FOURTEEN = (
    "Date,Diff,Track,Oil,dry,w/ oil,oil in,Air,Track temp,Grip,Packs,Best lap,Who,Notes\n"
    "03/04/2024,K-01,hall north,7k,19.02,21.12,2.10,22,31,high,3,14.2,ana,felt planted\n"
    "05/04/2024,K-02,hall north,10k,18.90,20.90,2.00,20,30,low,2,14.4,bo,\n"
)
BUILDS = "SELECT built_on, dry_mass_g, oil_mass_g, filled_mass_g FROM builds ORDER BY built_on"
RUNS = (
    "SELECT run_on, track_temp_c, air_temp_c, grip, best_lap_s, note, (SELECT name FROM venues WHERE id = runs.venue) "
    "FROM runs ORDER BY run_on"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with an empty database."""
    empty_database(tmp_path / "bevelbook.db")
    return tmp_path


@pytest.mark.parametrize(("sheet", "units"), [(ELEVEN, ["c"]), (FOURTEEN, ["1", ""])])
def test_a_sheet_with_plain_headings_comes_in_whole_at_the_first_try(
    folder: Path, sheet: str, units: list[str]
) -> None:
    (folder / "season.csv").write_text(sheet, encoding="utf-8")
    done = play(folder, ["import", "season.csv"], ["", "both", "1", *units, "y"])
    assert done.code == 0, done.screen
    assert "2 rows accepted, 0 rejected, 0 skipped." in done.screen
    assert asked(folder / "bevelbook.db", BUILDS) == [
        ("2024-04-03", 19.02, 2.1, 21.12),
        ("2024-04-05", 18.9, 2.0, 20.9),
    ]
    runs = asked(folder / "bevelbook.db", RUNS)
    assert [run[:3] for run in runs] == [("2024-04-03", 31.0, 22.0), ("2024-04-05", 30.0, 20.0)]
    assert runs[0][5] == "felt planted"
    if sheet is FOURTEEN:
        assert [run[3:5] + run[6:] for run in runs] == [("high", 14.2, "hall north"), ("low", 14.4, "hall north")]
    again = play(folder, ["import", "season.csv"], [])
    assert again.code == 0
    assert "2 known already" in again.screen
    assert "Which (" not in again.screen
    assert "Bring them in?" not in again.screen
    assert "read with season.profile.yaml" in again.screen


def test_what_is_shown_fits_a_screen_of_eighty_columns(folder: Path) -> None:
    (folder / "season.csv").write_text(FOURTEEN, encoding="utf-8")
    done = play(folder, ["import", "season.csv"], ["2", "", "", "n"])
    assert done.code == 1
    first = done.screen.index("What is first in the dates of Date: the day or the month?")
    shown = done.screen[first : done.screen.index("Bring them in?")].splitlines()
    assert max(map(display_width, shown)) < 80
    assert "  line 2: 2024-03-04, diff K-01" in shown
    assert "dry mass 19.02 g; oil mass 2.1 g;" in " ".join(shown)
    assert {"New diffs: K-01, K-02.", "New oils: 7k, 10k.", "New people: ana, bo.", "New venue: hall north."} <= {
        *shown
    }
    assert done.screen.endswith("Nothing was stored.\n")


@pytest.mark.parametrize("answers", [[STOP], ["1", "", STOP], ["1", "", "", STOP], ["1", "", "", "perhaps", "n"]])
def test_stopped_at_any_question_nothing_is_stored(folder: Path, answers: list[str]) -> None:
    (folder / "season.csv").write_text(FOURTEEN, encoding="utf-8")
    done = play(folder, ["import", "season.csv"], answers)
    assert done.code == (130 if STOP in answers else 1)
    assert sorted(one.name for one in folder.iterdir() if one.suffix != ".db") == ["season.csv"]
    assert asked(folder / "bevelbook.db", "SELECT count(*) FROM note_files, builds, entries") == [(0,)]


def test_a_script_is_not_asked_and_gets_the_command_that_answers(
    folder: Path, bevelbook: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert callable(bevelbook)
    monkeypatch.chdir(folder)
    (folder / "season.csv").write_text(FOURTEEN, encoding="utf-8")
    done: Outcome = bevelbook("import", "season.csv")
    assert done.code == 1
    lines = [line.strip() for line in done.out.splitlines()]
    for order in ("dmy", "mdy"):
        assert f"bevelbook import --again season.csv --date-order {order}" in lines, "a whole line, as it is copied"
