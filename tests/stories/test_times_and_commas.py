"""A time of day is a time however it is typed, and a comma is not read in silence. Figures constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]


@pytest.mark.parametrize("typed", ["14.10", "2:10 pm", "1410", "14:10"])
def test_a_time_is_kept_in_one_way(bevelbook: Run, db: Path, typed: str) -> None:
    done = bevelbook("--db", db, "record", "run", "run_on=2026-05-03", f"started_at={typed}")
    assert "  started_at: 14:10\n" in done.out


def test_what_is_no_time_is_refused_with_what_is_wanted(bevelbook: Run, db: Path) -> None:
    refused = bevelbook("--db", db, "record", "run", "run_on=2026-05-03", "started_at=25:99")
    assert refused.code == 2
    assert "wanted a time of day such as 14:05 or 2:05 pm" in refused.err


def test_a_comma_that_may_group_thousands_is_asked_about(
    bevelbook: Run, db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("--db", db, "record", "run", "run_on=2026-05-03", "track_temp=1,500")
    refused = bevelbook(*words)
    assert refused.code == 2
    assert "track_temp: read as 1.5 °C, because 1500 °C is out of its bounds" in refused.err
    assert bevelbook(*words, "--json").json["code"] == "ambiguous_number"
    assert "track_temp_c: 1.5\n" in bevelbook(*words, "--yes").out
    assert "track_temp_c: 31.5\n" in bevelbook(*words[:-1], "track_temp=31,5").out, "one way to read it"


def test_a_temperature_in_fahrenheit_is_said_as_the_pages_have_it_and_kept_to_the_last_digit(
    bevelbook: Run, db: Path
) -> None:
    """(88 - 32) / 1.8 = 31.1111 and (101 - 32) / 1.8 = 38.3333 by hand."""
    bevelbook("--db", db, "record", "diff", "label=rear-a")
    bevelbook("--db", db, "record", "build", "diff=rear-a", "built_on=2026-05-01")
    words = ("--db", db, "record", "run", "run_on=2026-05-03", "track_temp=88 °F", "rear=rear-a", "rear_temp=101 °F")
    done = bevelbook(*words, "air_temp=38.5")
    assert "  track_temp_c: 31.1\n" in done.out
    assert "  air_temp_c: 38.5\n" in done.out
    assert "  rear: rear-a/1, 38.3 °C\n" in done.out
    assert "rear: the diff read 38.3 °C, colder than the air at 38.5 °C" in done.out
    changed = bevelbook("--db", db, "record", "run", "2026-05-03/1", "track_temp=90 °F").out
    assert "  track_temp_c: 32.2, was 31.1\n" in changed
    kept = bevelbook("--db", db, "record", "run", "2026-05-03/1", "track_temp=88 °F", "--json").json
    assert kept["values"]["track_temp_c"] == pytest.approx(280.0 / 9.0, rel=1e-12), "programs get every digit"


def test_ten_runs_with_times_of_day_need_no_place_typed(bevelbook: Run, db: Path) -> None:
    """Two oils by turns on one day; the order is typed nowhere."""

    def team(*words: str) -> Outcome:
        done = bevelbook("--db", db, *words)
        assert done.code == 0, done.err
        return done

    for line in (
        "person|name=me",
        "car|name=blue",
        "venue|name=Tannery Hall",
        "diff|label=rear-a",
        "diff|label=rear-b",
    ):
        team("record", *line.split("|"))
    for diff in ("rear-a", "rear-b"):
        team("record", "build", f"diff={diff}", "built_on=2026-05-01", "dry_mass=12.40", "oil_mass=1.86")
    for number in range(6):
        team(
            *("record", "run", "run_on=2026-05-03", f"started_at={9 + number}.10", "venue=Tannery Hall", "car=blue"),
            *("driver=me", f"rear={'rear-a' if number % 2 else 'rear-b'}/1", f"best_lap=14.{50 - number}"),
        )
    compared = team("compare", "rear-a/1", "rear-b/1").out
    assert "6 runs, best lap" in compared
    assert "place in the day" not in compared


def test_laps_in_minutes_come_in_from_a_sheet_as_they_are_typed(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    """60 s a minute: 1:14.9 is 74.9 s, and 1:15.25 is 75.25 s."""
    sheet = tmp_path / "laps.csv"
    sheet.write_text("date,diff,best lap\n2026-05-03,rear-a,1:14.9\n2026-05-04,rear-a,1:15.25\n", encoding="utf-8")
    done = bevelbook("--db", db, "import", sheet, "--yes")
    assert done.code in (0, 1), done.err
    with sqlite3.connect(db) as connection:
        assert connection.execute("SELECT best_lap_s FROM runs ORDER BY run_on").fetchall() == [(74.9,), (75.25,)]
    assert bevelbook("--db", db, "record", "run", "run_on=2026-05-05", "best_lap=1:14.8", "--json").json["values"][
        "best_lap_s"
    ] == pytest.approx(74.8)
