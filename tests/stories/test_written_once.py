"""A line sent twice by an arrow key, and a name used twice, add nothing that nobody asked for. Figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from conftest import Outcome

from bevelbook.store import entries, ids, writing

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, db: Path) -> Run:
    """A command of ana's on a database with an oil and a diff that is closed; her lines are words, parted by |."""

    def run(line: str, *more: str, by: str | None = "ana") -> Outcome:
        return bevelbook("--db", db, *(("--by", by) if by else ()), "record", *line.split("|"), *more)

    for line in (
        "fluid|label=house 7k|viscosity=7000|viscosity_source=printed on the bottle",
        "scale|name=pocket|step_g=0.01",
        "diff|label=rear-a",
        "build|diff=rear-a|built_on=2026-05-03|dry_mass=12.40|oil_mass=1.86|fluid=house 7k",
    ):
        assert run(line).code == 0
    return run


def later(monkeypatch: pytest.MonkeyPatch, minutes: float) -> None:
    """Move the clock of the database on."""

    def moved() -> str:
        then = datetime.now(UTC) + timedelta(minutes=minutes)
        return then.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    for module in (ids, entries, writing):
        monkeypatch.setattr(module, "now_utc", moved)


@pytest.mark.parametrize(
    "line",
    [
        "fluid|label=house 5k",
        "bottle|fluid=house 7k|lot=A",
        "scale|name=bench|step_g=0.01",
        "person|name=me",
        "diff|label=rear-b",
        "car|name=blue",
        "venue|name=Tannery Hall",
        "seal|label=lid ring",
        "idea|text=7k again",
        "run|run_on=2026-05-03|label=the final",
    ],
)
def test_a_name_is_for_one_record_unless_another_is_asked_for(
    team: Run, monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    assert team(line).code == 0
    kind, *fields = line.split("|")
    at, name = next((place, field) for place, field in enumerate(fields) if field.split("=")[0] in LABELS)
    fields[at] = f"{name.split('=')[0]}=  {name.split('=')[1].upper()} "
    typed = "|".join((kind, *fields))
    later(monkeypatch, 5)
    refused = team(typed, by="bert")
    assert refused.code == 2, refused.out
    assert f"record {kind} " in refused.err
    assert "already" in refused.err
    assert "--another" in refused.err
    assert team(typed, "--another", by="bert").code == 0


LABELS = ("label", "name", "lot", "text")


def test_the_error_says_how_to_change_what_is_there(team: Run, db: Path) -> None:
    refused = team("fluid|label=House 7K|density=0.97")
    assert refused.code == 2
    assert 'there is a fluid named "house 7k" already' in refused.err
    assert f"To change that one: 'bevelbook --db {db} --by ana record fluid \"house 7k\" FIELD=VALUE'." in refused.err
    assert team("fluid|house 7k|density=0.97").out.startswith("Changed fluid house 7k\n")


def test_a_record_does_not_take_the_name_of_another_by_a_change(team: Run) -> None:
    assert team("diff|label=rear-b").code == 0
    assert team("diff|rear-b|label=Rear-A").code == 2
    assert team("diff|rear-b|label=REAR-B").code == 0, "its own name in other letters is its own"
    assert team("diff|rear-b|label=Rear-A", "--another").code == 0


def test_bottles_of_two_oils_may_share_a_lot_and_limits_a_kind(team: Run) -> None:
    for line in (
        "fluid|label=house 5k",
        "bottle|fluid=house 7k|lot=A",
        "bottle|fluid=house 5k|lot=A",
        "limit|kind=seal uses|value=3",
        "limit|kind=seal uses|value=4|diff=rear-a",
    ):
        assert team(line).code == 0, line


def test_a_build_is_opened_once(team: Run, db: Path) -> None:
    assert team("opening|build=rear-a|opened_on=2026-05-09|reason=leak").out.startswith("Added opening of rear-a/1\n")
    for more in ((), ("--another",)):
        refused = team("opening|build=rear-a/1|opened_on=2026-05-10", *more)
        assert refused.code == 2
        assert "rear-a/1 is open already, since 2026-05-09" in refused.err
        assert f"'bevelbook --db {db} --by ana record opening \"opening of rear-a/1\" FIELD=VALUE'" in refused.err
    changed = team("opening|opening of rear-a/1|leak_place=joint")
    assert changed.out.startswith("Changed opening of rear-a/1\n")
    assert "leak_place: joint" in team("opening|rear-a|oil=grey").out


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("fluid|label=house 5k", "fluid house 5k"),
        ("weighing|build=rear-a|weighed_on=2026-05-04|runs=2|mass=14.25|mass_basis=open half", "weighing rear-a/1#1"),
        ("run|run_on=2026-05-04|rear=rear-a|grip=high", "run 2026-05-04/1"),
        ("build|diff=rear-a|built_on=2026-05-10|dry_mass=12.41", "build rear-a/2"),
        ("opening|build=rear-a|opened_on=2026-05-09|reason=leak", "opening of rear-a/1"),
        ("build-shim|build=rear-a|place=small gears|thickness=0.1", "build shim rear-a/1 small gears"),
    ],
)
def test_the_same_line_sent_twice_is_written_once(team: Run, db: Path, line: str, name: str) -> None:
    assert team(line).code == 0
    before = db.read_bytes()
    again = team(line)
    assert (again.code, again.err) == (0, "")
    assert again.out.startswith(f"Already written: {name}, by the same command a moment ago. Nothing was added.\n")
    assert db.read_bytes() == before
    assert team(line, "--json").json["done"] == "already written"


def test_what_is_like_it_but_not_the_same_is_written(team: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    line = "run|run_on=2026-05-04|rear=rear-a|grip=high"
    assert "2026-05-04/1" in team(line).out
    assert "2026-05-04/2" in team(line, by="bert").out, "somebody else's"
    assert "2026-05-04/3" in team(f"{line}|note=felt planted").out, "with another value"
    assert "2026-05-04/4" in team("run|run_on=2026-05-04|front=rear-a|grip=high").out, "in another place"
    assert "2026-05-04/5" in team(line, "--another").out, "asked for"
    later(monkeypatch, 1.9)
    assert team(line).out.startswith("Already written: run 2026-05-04/")
    later(monkeypatch, 2.1)
    assert "2026-05-04/6" in team(line).out, "some minutes later"


def test_a_value_written_otherwise_is_the_same_value(team: Run) -> None:
    assert team("run|run_on=2026-05-04|track_temp=31|rear=rear-a").code == 0
    assert team("run|rear=rear-a/1|run_on=4 May 2026|track_temp=31.0 °C").out.startswith("Already written")
