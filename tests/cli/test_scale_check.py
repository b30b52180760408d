"""``bevelbook scale-check``: readings written, the scale set from all of them, one entry. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
TEN = ["20.00", "20.01", "20.00", "20.00", "20.01", "20.01", "20.00", "20.01", "20.00", "20.01"]


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    begin(bevelbook, Path("bevelbook.db"), ("new",), ("record", "scale", "name=pocket", "step=0.01"))
    return bevelbook


@pytest.fixture
def db(tmp_path: Path) -> Path:
    return tmp_path / "bevelbook.db"


def of_scale(db: Path) -> tuple[float | None, float | None, str | None, int]:
    connection = sqlite3.connect(db)
    row = connection.execute(
        "SELECT repeatability_g, day_to_day_g, checked_on, (SELECT count(*) FROM scale_readings) FROM scales"
    ).fetchone()
    connection.close()
    return tuple(row)


def test_ten_readings_set_the_scale_and_say_what_it_sees(team: Run, db: Path) -> None:
    """sqrt((2.2622 / 1.96)^2 x 0.00527^2 - 0.01^2 / 12) = 0.0054 g, by hand from t(9)."""
    done = team("scale-check", "pocket", *TEN, "--thing", "closed rear-b", "--on", "2026-05-01")
    assert done.code == 0
    assert "pocket: 10 readings of closed rear-b on 1 May 2026 added" in done.out
    assert "repeatability: never checked: one step, 0.01 g, is assumed -> 0.0054 g" in done.out
    assumed = "from one day to another (one step assumed from day to day)"
    assert f"sees: 0.029 g on one day, 0.04 g {assumed} -> 0.017 g on one day, 0.032 g {assumed}" in " ".join(
        done.out.split()
    )
    assert of_scale(db) == (pytest.approx(0.0054, abs=5e-5), None, "2026-05-01", 10)


def test_a_second_day_gives_the_term_from_day_to_day_and_one_take_back_takes_all_of_it(team: Run, db: Path) -> None:
    first = ("--thing", "closed rear-b", "--on", "2026-05-01")
    team("scale-check", "pocket", *TEN, *first)
    one_day = of_scale(db)
    later = [f"{float(mass) + 0.02:.2f}" for mass in TEN]
    done = team("scale-check", "pocket", *later, "--thing", "closed rear-b", "--on", "2026-05-08")
    assert "from day to day: never checked on a second day: one step, 0.01 g, is assumed -> " in done.out
    assert "2 days say little about it" in " ".join(done.out.split())
    repeatability_g, day_to_day_g, checked_on, count = of_scale(db)
    assert (checked_on, count) == ("2026-05-08", 20)
    assert repeatability_g == pytest.approx(0.005, abs=0.001)
    assert day_to_day_g is not None
    assert day_to_day_g > 0.014
    team("take-back")
    assert of_scale(db) == one_day


def test_things_that_nobody_named_are_not_compared_from_day_to_day(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *TEN, "--on", "2026-05-01")
    team("scale-check", "pocket", *(f"{float(mass) + 5:.2f}" for mass in TEN), "--on", "2026-05-08")
    repeatability_g, day_to_day_g, _, count = of_scale(db)
    assert (day_to_day_g, count) == (None, 20)
    assert repeatability_g == pytest.approx(0.005, abs=0.001)


def test_few_readings_are_kept_and_set_nothing(team: Run, db: Path) -> None:
    done = team("scale-check", "pocket", "20.00", "20.01", "--on", "2026-05-01")
    assert "Not set yet" in done.out
    assert "put it on 8 more times" in done.out
    assert of_scale(db) == (None, None, None, 2)
    one = team("scale-check", "pocket", "20.00", "--on", "2026-05-02", "--json")
    assert (one.code, one.json["set"]) == (0, False)


def test_an_odd_reading_sets_nothing_and_is_asked_about(team: Run, db: Path) -> None:
    done = team("scale-check", "pocket", *TEN[:9], "20.90", "--on", "2026-05-01")
    assert "20.90 g does not belong with the other readings" in " ".join(done.out.split())
    assert of_scale(db)[:3] == (None, None, None)


def test_a_slip_on_another_day_sets_nothing_until_it_is_corrected(team: Run, db: Path) -> None:
    """25.00 for 20.00, one of two readings of a second day: no test of that day alone could see it."""
    team("scale-check", "pocket", *TEN, "--on", "2026-05-01", "--thing", "ref")
    before = of_scale(db)[0]
    slip = team("scale-check", "pocket", "20.00", "25.00", "--on", "2026-05-02", "--thing", "ref")
    assert "unclear: 25.00 g does not belong with the other readings" in " ".join(slip.out.split())
    assert of_scale(db)[0] == before
    odd = team("check", "--json").json
    assert "25.00 g does not belong" in str(odd)
    removed = "'bevelbook record scale-reading \"pocket ref on 2026-05-02 reading 2\" --remove WHY'"
    assert removed in str(odd).replace("\\'", "'")
    assert removed in " ".join(slip.out.split())
    done = team("record", "scale-reading", "pocket ref on 2026-05-02 reading 2", "mass=20.01")
    assert "pocket: repeatability 0.0054 g -> 0.0055 g, and 0 g from day to day" in done.out
    assert of_scale(db)[0] == pytest.approx(0.0055, abs=5e-5)
    team("take-back")
    assert of_scale(db)[0] == before


def test_what_looks_odd_counts_where_a_person_says_so(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *TEN, "20.90", "--on", "2026-05-01", "--thing", "ref")
    assert of_scale(db)[0] is None
    assert "Set all the same" not in team("scale-check", "pocket", "--set").out
    done = team("scale-check", "pocket", "--set", "--yes")
    assert done.code == 0
    assert of_scale(db)[0] == pytest.approx(0.31, abs=0.01)


def test_a_removed_reading_reaches_the_scale_in_the_same_entry(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *TEN[:6], "20.03", "--on", "2026-05-01", "--thing", "ref")
    with_it = of_scale(db)
    team("record", "scale-reading", "pocket ref on 2026-05-01 reading 7", "--remove", "misread")
    assert with_it[0] is not None
    assert of_scale(db)[0] < with_it[0]
    team("take-back")
    assert of_scale(db) == with_it


def test_a_scale_without_enough_readings_left_was_never_checked(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *TEN[:5], "--on", "2026-05-01", "--thing", "ref")
    assert of_scale(db)[0] is not None
    done = team("record", "scale-reading", "pocket ref on 2026-05-01 reading 5", "--remove", "misread")
    assert "never checked: too few readings are left" in done.out
    assert of_scale(db)[:3] == (None, None, None)


def test_another_step_changes_what_the_readings_say(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *["20.00"] * 10, "--on", "2026-05-01")
    team("record", "scale", "pocket", "step=0.1")
    assert of_scale(db)[0] == pytest.approx(0.1 / 12**0.5, abs=1e-6)


def test_a_figure_typed_against_the_readings_stays_and_is_said_to_differ(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *TEN, "--on", "2026-05-01", "--thing", "ref")
    team("record", "scale", "pocket", "repeatability=0.02")
    team("record", "scale-reading", "pocket ref on 2026-05-01 reading 10", "mass=20.00")
    assert of_scale(db)[0] == 0.02
    known = " ".join(team("scale-check", "pocket").out.split())
    assert "the readings now say 0.0052 g, the record says 0.02 g" in known
    assert "bevelbook scale-check pocket --set" in known
    assert "its readings now say 0.0052 g, its record says 0.02 g" in str(team("check", "--json").json)
    team("scale-check", "pocket", "--set")
    assert of_scale(db)[0] == pytest.approx(0.0052, abs=5e-5)


def test_a_figure_from_day_to_day_that_was_typed_stays_while_no_thing_is_read_on_two_days(team: Run, db: Path) -> None:
    """Readings of one day have no second day to differ from, so they cannot speak against it: of k days there are
    k - 1 degrees of freedom between them (JCGM 100:2008, H.5, analysis of variance), none of one."""
    team("record", "scale", "pocket", "day_to_day=0.002")
    done = " ".join(team("scale-check", "pocket", *TEN, "--on", "2026-05-01", "--thing", "ref").out.split())
    assert of_scale(db)[:2] == (pytest.approx(0.0054, abs=5e-5), 0.002)
    assert "from day to day: 0.002 g checked on" in done
    assert "from one day to another: the 0.002 g that was set by hand stays, as no thing was read on two days" in done
    assert "assumed from day to day" not in done.partition(" -> 0.017")[2]
    known = " ".join(team("scale-check", "pocket").out.split())
    assert "set by hand stays" in known
    assert "readings now say" not in known
    assert "scale_differs_from_readings" not in team("check", "--json").out
    team("record", "scale-reading", "pocket ref on 2026-05-01 reading 10", "--remove", "misread")
    assert of_scale(db)[1] == 0.002
    for place in (9, 8, 7, 6, 5):
        team("record", "scale-reading", f"pocket ref on 2026-05-01 reading {place}", "--remove", "misread")
    assert of_scale(db)[:2] == (None, 0.002)
    team("scale-check", "pocket", *TEN, "--on", "2026-05-02", "--thing", "ref")
    assert of_scale(db)[1] not in (None, 0.002)


def test_a_figure_from_day_to_day_that_came_of_readings_goes_with_them(team: Run, db: Path) -> None:
    team("scale-check", "pocket", *TEN, "--on", "2026-05-01", "--thing", "ref")
    team("scale-check", "pocket", "20.02", "--on", "2026-05-08", "--thing", "ref")
    assert of_scale(db)[1] is not None
    team("record", "scale-reading", "pocket ref on 2026-05-08 reading 1", "--remove", "misread")
    assert of_scale(db)[1] is None


def test_the_same_readings_twice_in_a_row_count_once(team: Run, db: Path) -> None:
    given = ("scale-check", "pocket", *TEN, "--on", "2026-05-01", "--thing", "ref")
    team(*given)
    again = team(*given)
    assert (again.code, "Already written" in again.out, of_scale(db)[3]) == (0, True, 10)
    team(*given, "--another")
    assert of_scale(db)[3] == 20


def test_one_more_reading_is_asked_for_in_words(team: Run) -> None:
    nine = team("scale-check", "pocket", *TEN[:9], "--on", "2026-05-01")
    assert "put it on once more to know it better" in nine.out


def test_one_figure_ten_times_has_the_rounding_floor(team: Run, db: Path) -> None:
    done = team("scale-check", "pocket", *["20.00"] * 10, "--on", "2026-05-01")
    assert "repeatability: never checked: one step, 0.01 g, is assumed -> 0.0029 g" in done.out
    assert of_scale(db)[0] == pytest.approx(0.01 / 12**0.5, abs=1e-6)


def test_without_readings_it_prints_what_is_known(team: Run) -> None:
    known = team("scale-check", "pocket")
    assert "repeatability: never checked: one step, 0.01 g, is assumed" in known.out
    assert "no readings yet: put one thing on it ten times" in known.out
    assert team("scale-check", "pocket", "--json").json["now"]["repeatability_g"] is None


def test_readings_come_from_a_file_too(team: Run, tmp_path: Path) -> None:
    rows = ["mass_g,day,thing", *(f"{mass},2026-05-01,closed rear-b" for mass in TEN)]
    (tmp_path / "readings.csv").write_text("\n".join(rows), encoding="utf-8")
    done = team("scale-check", "pocket", "--readings", str(tmp_path / "readings.csv"))
    assert "10 readings of closed rear-b on 1 May 2026 added" in done.out


def test_readings_of_several_days_are_said_with_their_days(team: Run, tmp_path: Path) -> None:
    rows = ["mass_g,day,thing", "20.00,2026-05-07,cube", "20.01,2026-05-06,cube", "20.00,2026-05-06,cube"]
    (tmp_path / "days.csv").write_text("\n".join(rows), encoding="utf-8")
    done = team("scale-check", "pocket", "--readings", str(tmp_path / "days.csv"))
    assert "3 readings of cube on 6 May 2026 and 7 May 2026 added" in done.out
    rows = ["mass_g,day,thing", "20.00,2026-05-08,cube", "9.00,2026-05-08,cup", "5.00,2026-05-08,"]
    (tmp_path / "things.csv").write_text("\n".join(rows), encoding="utf-8")
    done = team("scale-check", "pocket", "--readings", str(tmp_path / "things.csv"))
    assert "3 readings of cube, cup and what was not named on 8 May 2026 added; 6 in all" in " ".join(done.out.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nope", "20.00"), 'there is no scale named "nope"'),
        (("pocket", "abc"), 'not a number, found "abc"'),
        (("pocket", "20.00", "--on", "32.5.2026"), "--on: no such day"),
        (("pocket", "20.00", "--on", "soon"), "--on: "),
        (("pocket", "abc"), "MASS: "),
        (("pocket", "--readings", "nowhere.csv"), "cannot be read as CSV"),
    ],
)
def test_what_cannot_be_read_changes_nothing(team: Run, db: Path, words: tuple[str, ...], said: str) -> None:
    done = team("scale-check", *words)
    assert done.code == 2
    assert said in done.err
    assert of_scale(db) == (None, None, None, 0)


@pytest.mark.parametrize(("row", "said"), [("20.00,soon,cup", "day: "), ("heavy,2026-05-01,cup", "mass_g: ")])
def test_a_file_is_named_by_its_columns(team: Run, tmp_path: Path, row: str, said: str) -> None:
    (tmp_path / "readings.csv").write_text(f"mass_g,day,thing\n{row}\n", encoding="utf-8")
    done = team("scale-check", "pocket", "--readings", str(tmp_path / "readings.csv"))
    assert done.code == 2
    assert said in done.err
    assert "read_on" not in done.err
