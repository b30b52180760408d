"""Day, scale and who writes need no typing twice, and what was taken is shown. Figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from conftest import Outcome

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


def later(monkeypatch: pytest.MonkeyPatch, hours: float) -> None:
    """Move the clock of the database on."""

    def moved() -> str:
        then = datetime.now(UTC) + timedelta(hours=hours)
        return then.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    for module in (entries, writing):
        monkeypatch.setattr(module, "now_utc", moved)


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
    later(monkeypatch, 25)
    assert f"opened_on: {TODAY}  (today)" in team("opening|build=rear-a|reason=leak").out


def test_a_change_of_an_old_record_does_not_give_its_day(team: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert team("run|run_on=2026-05-03|grip=low").code == 0
    later(monkeypatch, 13)
    assert team("run|2026-05-03/1|call=keep").code == 0
    assert f"run_on: {TODAY}  (today)" in team("run|grip=high").out


def test_a_day_that_is_given_empty_is_left_out(team: Run) -> None:
    assert "noted_on" not in team("idea|text=7k again|noted_on=").out
    assert team("run|run_on=|grip=high").code == 2


def test_json_and_the_record_keep_why_a_value_is_there(team: Run) -> None:
    found = team("run|grip=high", "--json").json
    assert found["taken"] == {"run_on": "today"}
    assert found["values"]["run_on"] == TODAY


def test_the_scale_that_was_used_last_is_taken_for_a_mass(team: Run) -> None:
    assert "scale" not in team("build|diff=rear-a|dry_mass=12.40").out, "none was used yet"
    assert team("scale|name=bench|step_g=0.01").code == 0
    assert team("build|diff=front-a|dry_mass=12.40|scale=bench").code == 0
    assert "scale: bench  (the one used last)" in team("weighing|build=front-a|mass=14.2", by="bert").out
    assert team("weighing|build=front-a|mass=14.3|scale=pocket", by="bert").code == 0
    assert "scale: pocket  (the one you used last)" in team("weighing|build=rear-a|mass=14.2", by="bert").out
    assert "scale: bench  (the one you used last)" in team("weighing|build=rear-a|mass=14.1").out
    assert "scale" not in team("weighing|build=rear-a|mass=14.0|scale=").out, "left out by hand"
    assert "scale" not in team("opening|build=rear-a|reason=leak").out, "nothing was weighed"
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
