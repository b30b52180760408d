"""Where the answers for a file are found, and which of them hold for its rejected rows. Names are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from bevelbook.notes.profile_beside import found_beside, profile_beside, settings_beside, write_beside
from bevelbook.notes.settings import Settings


@pytest.mark.parametrize(
    ("file", "profile"),
    [
        ("season.csv", "season.profile.yaml"),
        ("season.rejected.csv", "season.profile.yaml"),
        ("season.rejected-2.csv", "season.profile.yaml"),
        ("season.sheet-K-01.rejected.csv", "season.profile.yaml"),
        ("season.sheet-K-01.csv", None),
        ("other.csv", None),
    ],
)
def test_a_file_and_its_rejected_rows_have_one_profile(tmp_path: Path, file: str, profile: str | None) -> None:
    (tmp_path / "season.profile.yaml").write_text("columns: {}\n", encoding="utf-8")
    found = found_beside(tmp_path / file)
    assert (found.name if found else None) == profile


def test_every_answer_comes_back_as_it_was_given(tmp_path: Path) -> None:
    given = Settings(
        decimal=",",
        date_order="dmy",
        temp_unit="F",
        encoding="cp1252",
        lines="1-40",
        sheet="K-01",
        sheet_as_diff=True,
        year=2024,
        columns={"w/ oil": "total_mass_g", "mood": "ignore"},
        units={"track_temp_c": "°F"},
        words={"grip": {"grippy": "high"}},
        constants={"venue": "Hall north"},
        as_above=("date", "diff"),
    )
    written = write_beside(tmp_path / "season.xlsx", given, {"mood": "Mood"})
    assert written == profile_beside(tmp_path / "season.xlsx")
    assert '"Mood": "ignore"' in written.read_text(encoding="utf-8")
    assert settings_beside(tmp_path / "season.xlsx", written) == given


def test_rejected_rows_are_a_plain_table_of_their_own(tmp_path: Path) -> None:
    of_sheet = Settings(encoding="cp1252", header_line=3, lines="1-40", sheet="all", sheet_as_diff=True, transpose=True)
    given = of_sheet._replace(date_order="dmy", as_above=("date",), columns={"mood": "ignore"})
    written = write_beside(tmp_path / "season.csv", given, {})
    settings = settings_beside(tmp_path / "season.rejected.csv", written)
    assert settings == Settings(date_order="dmy", columns={"mood": "ignore"})
