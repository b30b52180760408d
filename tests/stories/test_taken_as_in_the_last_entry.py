"""Day, scale and who writes need no typing twice, and what was taken is shown. Figures constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from conftest import Outcome

from bevelbook.entering import defaults
from bevelbook.reading import dates
from bevelbook.saving import record
from bevelbook.store import entries, writing

Run = Callable[..., Outcome]
TODAY = date.today().isoformat()


@pytest.fixture
def team(bevelbook: Run, db: Path) -> Run:
    """``record`` by ana, or by another person; a line is words parted by |."""

    def run(line: str, *more: str, by: str | None = "ana") -> Outcome:
        return bevelbook("--db", db, *(("--by", by) if by else ()), "record", *line.split("|"), *more)

    for line in ("diff|label=rear-a", "diff|label=front-a", "scale|name=pocket|step_g=0.01"):
        assert run(line).code == 0
    return run


def later(monkeypatch: pytest.MonkeyPatch, hours: float) -> str:
    """Move the clock on; the day that it is then."""

    def then() -> datetime:
        return datetime.now(UTC) + timedelta(hours=hours)

    class Day(date):
        @classmethod
        def today(cls) -> Day:
            day = then().astimezone().date()
            return cls(day.year, day.month, day.day)

    for module in (entries, writing, record):
        monkeypatch.setattr(module, "now_utc", lambda: then().isoformat(timespec="milliseconds").replace("+00:00", "Z"))
    monkeypatch.setattr(defaults, "date", Day)
    monkeypatch.setattr(dates, "today_iso", lambda: Day.today().isoformat())
    return Day.today().isoformat()


def test_the_day_is_that_of_the_last_entry_for_twelve_hours(team: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert f"built_on: {TODAY}  (today)" in team("build|diff=front-a|dry_mass=12.40").out
    assert team("build|diff=rear-a|built_on=2026-05-10|dry_mass=12.40").code == 0
    assert team("scale|name=bench|step_g=0.01").code == 0, "an entry without a day in between"
    done = team("run|rear=rear-a|grip=high")
    assert done.out.startswith("Added run 2026-05-10/1\n")
    assert "run_on: 2026-05-10  (as in your last entry)" in done.out
    assert f"noted_on: {TODAY}  (today)" in team("idea|text=7k again", by="bert").out, "not bert's day"
    later(monkeypatch, 11.9)
    assert "weighed_on: 2026-05-10  (as in your last entry)" in team("weighing|build=rear-a|mass=14.2").out
    today = later(monkeypatch, 25)
    assert f"opened_on: {today}  (today)" in team("opening|build=rear-a|reason=leak").out


def test_a_change_of_an_old_record_does_not_give_its_day(team: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert team("run|run_on=2026-05-03|grip=low").code == 0
    today = later(monkeypatch, 13)
    assert team("run|2026-05-03/1|call=keep").code == 0
    assert f"run_on: {today}  (today)" in team("run|grip=high").out


def test_a_day_that_is_given_empty_is_left_out(team: Run) -> None:
    assert "noted_on" not in team("idea|text=7k again|noted_on=").out
    assert team("run|run_on=|grip=high").code == 2


def test_json_and_the_record_keep_why_a_value_is_there(team: Run) -> None:
    found = team("run|grip=high", "--json").json
    assert found["taken"] == {"run_on": "today"}
    assert found["values"]["run_on"] == TODAY


def test_the_scale_that_was_used_last_is_taken_for_a_mass(team: Run) -> None:
    assert "  scale: " not in team("build|diff=rear-a|dry_mass=12.40").out, "none was used yet"
    assert team("scale|name=bench|step_g=0.01").code == 0
    assert team("build|diff=front-a|dry_mass=12.40|scale=bench").code == 0
    assert "scale: bench  (the one used last)" in team("weighing|build=front-a|mass=14.2", by="bert").out
    assert team("weighing|build=front-a|mass=14.3|scale=pocket", by="bert").code == 0
    assert "scale: pocket  (the one you used last)" in team("weighing|build=rear-a|mass=14.2", by="bert").out
    assert "scale: bench  (the one you used last)" in team("weighing|build=rear-a|mass=14.1").out
    assert "  scale: " not in team("weighing|build=rear-a|mass=14.0|scale=").out, "left out by hand"
    assert "  scale: " not in team("opening|build=rear-a|reason=leak").out, "nothing was weighed"
    like = team("build|diff=rear-a|dry_mass=12.41|like=front-a/1", by="bert").out
    assert "scale: bench  (carried over from front-a/1)" in like


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ("build|diff=rear-a|dry_mass=12.4", "builder"),
        ("weighing|build=front-a|mass=14.2", "person"),
        ("opening|build=front-a|reason=leak", "person"),
        ("run|grip=high", "noted_by"),
        ("idea|text=7k again", "person"),
    ],
)
def test_who_writes_is_filled_in_where_that_person_is_recorded(team: Run, line: str, field: str) -> None:
    assert team("build|diff=front-a|dry_mass=12.4").code == 0
    assert f"{field}:" not in team(line, "--another", by="me").out, "nobody of that name is recorded"
    assert team("person|name=me").code == 0
    if line.startswith("opening"):
        assert team("build|diff=front-a|dry_mass=12.5").code == 0
        line = "opening|build=front-a/2|reason=leak"
    assert f"  {field}: me  (who writes)\n" in team(line, "--another", by="Me").out
    if not line.startswith("opening"):
        assert f"  {field}: " not in team(f"{line}|{field}=", "--another", by="me").out


def test_of_two_people_whose_names_differ_in_case_the_one_spelt_so_is_taken(team: Run) -> None:
    assert team("person|name=me").code == 0
    assert team("person|name=Me", "--another").code == 0
    assert "noted_by: Me  (who writes)" in team("run|grip=high", by="Me").out
    assert "noted_by" not in team("run|grip=low", by="ME").out


def test_a_run_with_nothing_in_it_is_refused(team: Run) -> None:
    refused = team("run")
    assert refused.code == 2
    assert "a run with nothing in it" in refused.err


def test_calls_of_old_runs_do_not_give_their_day(team: Run, bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text(
        "date,diff,pos,oil,lap,remarks\n"
        + "".join(f"2026-05-0{day},rear-a,rear,7k,17.0{day},ok\n" for day in (3, 4, 5))
    )
    assert bevelbook("--db", db, "--by", "ana", "import", tmp_path / "s.csv").code == 0
    assert bevelbook("--db", db, "--by", "ana", "calls", "--set", "2026-05-04/1=keep").code == 0
    assert team("run|2026-05-05/1|track_temp=31").code == 0, "a correction of an old run"
    assert f"weighed_on: {TODAY}  (today)" in team("weighing|build=rear-a/1|mass=22.30").out
    assert f"opened_on: {TODAY}  (as in your last entry)" in team("opening|build=rear-a/1|reason=leak").out


def test_a_record_that_was_corrected_gives_the_day_that_it_was_added_for(team: Run) -> None:
    assert team("build|diff=rear-a|built_on=2026-05-09|dry_mass=12.40").code == 0
    assert team("build|rear-a/1|built_on=2026-05-08").code == 0
    assert team("scale|name=bench|step_g=0.01").code == 0
    assert "weighed_on: 2026-05-08  (as in your last entry)" in team("weighing|build=rear-a/1|mass=22.30").out


def test_what_is_put_into_a_car_says_why_it_holds_from_that_day(team: Run) -> None:
    assert team("car|name=blue").code == 0
    assert f"  from_on: {TODAY}  (today)\n" in team("car-diff|car=blue|rear=rear-a").out
    assert team("run|run_on=2026-05-10|grip=high").code == 0
    done = team("car-value|car=blue|motor=13.5|pinion=21").out
    assert done.count("  from_on: 2026-05-10  (as in your last entry)\n") == 2
    assert "  car: blue  (your only car)\n" in team("car-diff|front=front-a").out
    assert "from_on: 2026-05-11\n" in team("car-diff|position=centre|instead=spool|from_on=2026-05-11").out
    found = team("car-value|car=blue|springs=hard", "--json").json
    assert found["written"][0]["taken"] == {"from_on": "as in your last entry"}


def test_a_finding_is_put_by_today_and_gives_no_day(team: Run, bevelbook: Run, db: Path) -> None:
    assert team("build|diff=rear-a|built_on=2026-05-10|dry_mass=12.40|filled_mass=14.20").code == 0
    assert team("weighing|build=rear-a|weighed_on=2026-05-11|mass=13.90|runs=2").code == 0
    name = bevelbook("--db", db, "check", "--json").json["diffs"][0]["findings"][0]["name"]
    done = bevelbook("--db", db, "--by", "ana", "check", "--put-by", name, "known")
    assert done.code == 0
    assert "as in your last entry" not in done.out
    with sqlite3.connect(db) as plain:
        days = plain.execute("SELECT put_by_on FROM findings_put_by").fetchall()
    plain.close()
    assert days == [(TODAY,)]
    assert "run_on: 2026-05-11  (as in your last entry)" in team("run|grip=high").out


def test_a_dry_mass_of_the_next_build_says_why_it_is_of_that_day(team: Run) -> None:
    assert team("build|diff=rear-a|built_on=2026-05-10|dry_mass=12.40|filled_mass=14.20").code == 0
    assert team("opening|build=rear-a|opened_on=2026-05-11|reason=leak").code == 0
    done = team("weighing|build=rear-a|mass=12.39", "--as-dry-mass").out
    assert "built_on: 2026-05-11  (as in your last entry)" in done
