"""Runs and weighings dated when their build was not there, and diffs twice in a run. All data are constructed."""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]
MASS = ("mass=22.3g", "mass_basis=closed")


@pytest.fixture
def team(bevelbook: Run) -> Run:
    """A diff whose build of 3 May was opened on 10 May."""
    bevelbook("new")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-03", "oil_mass=1.86g", "closed_mass=22.35g")
    bevelbook("record", "opening", "build=rear-a/1", "opened_on=2026-05-10")
    return bevelbook


def findings(bevelbook: Run, code: str = "out_of_time") -> list[dict[str, Any]]:
    return [one for one in bevelbook("check", "--json").json["diffs"][0]["findings"] if one["code"] == code]


def facts(db: Path = Path("bevelbook.db")) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute("SELECT runs, opened_on, weighings FROM build_facts ORDER BY build").fetchall()


def move(table: str, day: str) -> None:
    """Date the records of a table otherwise, as an older version or another program may have written them."""
    column = {"runs": "run_on", "weighings": "weighed_on"}[table]
    with closing(sqlite3.connect("bevelbook.db")) as other, other:
        other.execute(f"UPDATE {table} SET {column} = ?", (day,))


def write(team: Run, sort: str) -> str:
    """A run or weighing of 5 May; its name."""
    if sort == "run":
        return str(team("record", "run", "run_on=2026-05-05", "rear=rear-a/1", "--another", "--json").json["label"])
    return str(team("record", "weighing", "build=rear-a/1", "weighed_on=2026-05-05", *MASS, "--json").json["id"])


@pytest.mark.parametrize(
    ("day", "why"),
    [
        ("2026-05-02", "before rear-a/1 was built (2026-05-03)"),
        ("2026-05-03", None),
        ("2026-05-10", None),
        ("2026-05-11", "after rear-a/1 was opened (2026-05-10)"),
    ],
)
@pytest.mark.parametrize("sort", ["run", "weighing"])
def test_a_record_dated_outside_the_time_of_its_build_is_found_by_check(
    team: Run, sort: str, day: str, why: str | None
) -> None:
    write(team, sort)
    move(f"{sort}s", day)
    found = findings(team)
    assert len(found) == (0 if why is None else 1)
    if why is not None:
        assert found[0]["words"] == f"1 {sort} of it is dated {day}, {why}"
        remedy = found[0]["remedy"]
        assert ("bevelbook record build diff=rear-a built_on=2026-05-10 ...'" in remedy) == ("opened" in why)
        words = shlex.split(remedy.partition("correct it: 'bevelbook ")[2].partition("...")[0] + "2026-05-05")
        assert team(*words, "--json").json["done"] == "changed"
        assert findings(team) == []


@pytest.mark.parametrize("sort", ["run", "weighing"])
def test_a_record_moved_past_the_opening_of_its_build_says_so_at_once(team: Run, sort: str) -> None:
    name = write(team, sort)
    column = {"run": "run_on", "weighing": "weighed_on"}[sort]
    said = team("record", sort, name, f"{column}=2026-05-11", "--json").json["hints"]
    assert said[0].startswith(f"This {sort} is dated 2026-05-11, after rear-a/1 was opened (2026-05-10). ")
    refused = team("record", sort, name, f"{column}=2026-05-02")
    assert "rear-a/1 was built later, on 2026-05-03" in refused.err
    assert facts()[0][:2] == (1.0 if sort == "run" else 0.0, "2026-05-10")


def test_a_run_on_a_fill_that_was_not_written_down_goes_under_the_build_that_is_written_then(team: Run) -> None:
    write(team, "run")
    move("runs", "2026-05-11")
    (found,) = findings(team)
    build, _, owner = found["remedy"].split("bevelbook ")[1:]
    assert team(*shlex.split(build.partition("...")[0]), "oil_mass=1.86g").code == 0
    assert team(*shlex.split(owner.partition("...")[0] + "rear-a/2"), "--json").json["done"] == "changed"
    assert findings(team) == []
    assert [row[0] for row in facts()] == [0.0, 1.0]


def test_what_is_dated_after_the_next_build_is_said_once(team: Run) -> None:
    team("record", "build", "diff=rear-a", "built_on=2026-05-12", "oil_mass=1.86g")
    written = team("record", "run", "run_on=2026-05-20", "rear=rear-a/1", "--json").json
    assert written["hints"][0].startswith("This run is dated 2026-05-20, after rear-a/1 was opened (2026-05-10)")
    assert findings(team) == []
    assert len(findings(team, "written_under_an_older_build")) == 1


def test_a_build_that_is_only_replaced_is_said_too(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    for day in ("2026-05-03", "2026-05-12"):
        bevelbook("record", "build", "diff=rear-a", f"built_on={day}", "oil_mass=1.86g")
    written = bevelbook("record", "run", "run_on=2026-05-20", "rear=rear-a/1", "--json").json
    assert "after rear-a/1 was replaced by rear-a/2 (2026-05-12)" in written["hints"][0]


def test_several_are_counted_with_their_first_day(team: Run) -> None:
    for _ in range(2):
        write(team, "run")
    move("runs", "2026-04-28")
    (found,) = findings(team)
    assert found["words"] == "2 runs of it are dated from 2026-04-28 on, before rear-a/1 was built (2026-05-03)"


def test_a_diff_that_is_in_a_run_twice_is_found(team: Run) -> None:
    team("record", "run", "run_on=2026-05-05", "rear=rear-a/1")
    with closing(sqlite3.connect("bevelbook.db")) as other, other:
        columns = [row[1] for row in other.execute("PRAGMA table_info(run_diffs)") if row[1] not in ("id", "position")]
        listed = ", ".join(columns)
        other.execute(f"INSERT INTO run_diffs (id, position, {listed}) SELECT 'twin', 'front', {listed} FROM run_diffs")
    (found,) = findings(team, "twice_in_a_run")
    assert "it is in the run 2026-05-05/1 twice" in found["words"]
