"""What a command says of a change: what the weighings tell, and which shelf words turned. All data are constructed."""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome
from constructed import Add, Team

from bevelbook.facts.renew import renew_touched
from bevelbook.records import BY_NAME
from bevelbook.reports.what_changed import News, news_of, touched_on_shelf
from bevelbook.store.writing import Writer

Run = Callable[..., Outcome]
MASS = {"runs": 3.0, "mass_g": 22.05, "mass_basis": "closed"}
NOTES = """date,diff,dry_mass_g,oil_mass_g,total_mass_g,runs
2026-05-01,rear-a,12.40,1.86,14.26,
2026-05-02,rear-a,,,,6
2026-05-03,rear-a,,,14.25,
2026-05-01,rear-b,12.40,1.86,14.26,
2026-05-02,rear-b,,,,6
2026-05-03,rear-b,,,13.96,
2026-05-01,rear-c,12.40,1.86,14.26,
"""


@pytest.fixture
def team(bevelbook: Run) -> Run:
    """A weighed diff with one sound build."""
    bevelbook("new")
    bevelbook("record", "scale", "name=pocket", "step=0.01", "repeatability=0.005", "day_to_day=0")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    build = ("diff=rear-a", "built_on=2026-05-01", "oil_mass=1.86g", "closed_mass=22.35g", "scale=pocket")
    bevelbook("record", "build", *build)
    return bevelbook


def weigh(bevelbook: Run, runs: int, mass_g: float) -> Outcome:
    given = (f"runs={runs}", f"mass={mass_g}g", "mass_basis=closed", "scale=pocket")
    return bevelbook("record", "weighing", "build=rear-a/1", *given, "--json")


def test_a_weighing_says_what_it_shows_and_an_unchanged_word_is_not_said(team: Run) -> None:
    first = weigh(team, 3, 22.34).json
    assert [(one["build"], one["verdict"], one["loss_g"]) for one in first["weighings_say"]] == [
        ("rear-a/1", "ok", 0.01)
    ]
    assert first["shelf"] == []
    second = weigh(team, 5, 22.05).json
    assert [one["verdict"] for one in second["weighings_say"]] == ["stop"]
    (turned,) = second["shelf"]
    assert (turned["diff"], turned["before"], turned["after"]) == ("rear-a", "ready", "open it")
    assert turned["why"] == ["lost 0.30 g of 1.86 g (16 %) by run 5, over our default limit of 0.19 g"]


@pytest.mark.parametrize(
    ("given", "asked"),
    [
        (("mass_basis=closed",), "say runs= or weighed_on="),
        (("runs=6", "mass_basis="), "say mass_basis=closed"),
        (("mass_basis=",), "say runs= or weighed_on= and mass_basis=closed"),
        (("runs=6", "mass_basis=open half"), "say mass_basis=closed if that was on the scale"),
    ],
)
def test_a_weighing_that_compares_with_nothing_says_what_is_missing(
    team: Run, given: tuple[str, ...], asked: str
) -> None:
    weigh(team, 5, 22.35)
    words = ("record", "weighing", "build=rear-a/1", "mass=22.05g", "weighed_on=", *given)
    written = team(*words, "--json").json
    assert written["hints"][0].startswith(f"This mass compares with nothing yet: {asked}")
    checked = team("check", "--json").json
    (found,) = [one for one in checked["diffs"][0]["findings"] if one["code"] == "weighing_uncompared"]
    assert found["words"] == "the mass of 22.05 g compares with nothing yet"
    assert found["severity"] == "worth a look"
    assert found["remedy"].lower().startswith(asked)
    mended = team("record", "weighing", written["id"], "runs=6", "mass_basis=closed", "--json").json
    assert mended["hints"] == []
    assert [one["verdict"] for one in mended["weighings_say"]] == ["stop"]
    assert "compares with nothing" not in team("check").out


def typed(remedy: str, more: str) -> list[str]:
    """The words behind ``bevelbook`` of the command that a hint prints last, with its dots filled in."""
    return shlex.split(remedy.rpartition("(bevelbook ")[2].partition("...")[0] + more)


def test_the_command_of_the_hint_to_weigh_again_adds_a_weighing_and_changes_none(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "diff", "label=rear a", "housing_material=aluminium")
    bevelbook("record", "build", "diff=rear a", "built_on=2026-05-01", "oil_mass=1.86g")
    words = ("record", "weighing", "build=rear a/1", "mass_basis=open half", "--json")
    bevelbook(*words, "runs=2", "mass=22.10g")
    alone = bevelbook("record", "weighing", "build=rear a/1", "mass_basis=closed", "runs=6", "mass=22.05g", "--json")
    (hint,) = alone.json["hints"]
    assert 'if that was on the scale (bevelbook record weighing "rear a/1#2" ...)' in hint
    again = bevelbook(*typed(hint, "mass_basis=closed runs=8 mass=22.04g --json")).json
    assert (again["done"], again["values"]["build"]) == ("added", "rear a/1")
    checked = bevelbook("check", "--json").json
    assert {one["code"] for one in checked["diffs"][0]["findings"]} & {"weighing_uncompared"} == {"weighing_uncompared"}
    (remedy,) = (one["remedy"] for one in checked["diffs"][0]["findings"] if one["code"] == "weighing_uncompared")
    assert bevelbook(*typed(remedy, "mass_basis='open half' runs=9 mass=22.09g --json")).json["done"] == "added"
    assert "compares with nothing" not in bevelbook("check").out


def test_the_command_of_the_hint_on_what_is_missing_corrects_that_weighing(team: Run) -> None:
    weigh(team, 5, 22.35)
    written = team("record", "weighing", "build=rear-a/1", "mass=22.05g", "runs=6", "mass_basis=", "--json").json
    checked = team("check", "--json").json
    (remedy,) = (one["remedy"] for one in checked["diffs"][0]["findings"] if one["code"] == "weighing_uncompared")
    mended = team(*typed(remedy, "mass_basis=closed --json")).json
    assert (mended["done"], mended["id"]) == ("changed", written["id"])


def test_the_first_mass_of_a_build_waits_for_the_next_one(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-01", "oil_mass=1.86g")
    first = bevelbook("record", "weighing", "build=rear-a/1", "runs=6", "mass=22.05g", "mass_basis=closed")
    assert "compares with nothing" not in first.out
    second = bevelbook("record", "weighing", "build=rear-a/1", "runs=7", "mass=22.05g", "mass_basis=").out
    assert "This mass compares with nothing yet: say mass_basis=closed" in second


def test_a_limit_of_the_team_turns_the_shelf_at_once_and_taking_it_back_turns_it_again(team: Run) -> None:
    weigh(team, 3, 22.32)
    limit = ("record", "limit", "kind=oil lost in grams", "--json")
    (turned,) = team(*limit, "value=0.01").json["shelf"]
    assert (turned["before"], turned["after"]) == ("ready", "open it")
    (turned,) = team(*limit, "value=0").json["shelf"]
    assert (turned["before"], turned["after"], turned["why"]) == ("open it", "ready", [])


def test_a_reason_more_for_the_same_word_is_said(team: Run) -> None:
    weigh(team, 3, 22.32)
    team("record", "build", "rear-a/1", "hand_feel=notchy")
    said = team("record", "limit", "kind=oil lost in grams", "value=0.01").out
    assert "Shelf: rear-a is still 'open it': lost 0.03 g of 1.86 g (2 %) by run 3, over your" in said
    again = team("record", "limit", "kind=oil lost in grams", "value=0.01", "--json").json
    assert again["shelf"] == []


def test_a_diff_that_is_opened_is_apart_with_the_reason_in_the_same_line(team: Run) -> None:
    said = team("record", "opening", "build=rear-a/1", "opened_on=2026-05-20").out
    assert "Shelf: rear-a was 'ready', is now 'apart': opened and not built since" in " ".join(said.split())


def test_one_diff_is_not_taken_twice_into_a_run(team: Run) -> None:
    twice = team("record", "run", "run_on=2026-05-02", "rear=rear-a", "front=rear-a/1", "--json")
    assert (twice.code, twice.json["code"]) == (2, "diff_twice_in_a_run")
    assert "rear-a would be in this run twice" in twice.err
    assert team("record", "run", "run_on=2026-05-02", "rear=rear-a").code == 0
    assert team("record", "run", "2026-05-02/1", "front=rear-a").code == 2
    assert team("record", "run-diff", "run=2026-05-02/1", "build=rear-a/1", "--json").json["done"] == "nothing"
    assert "rear-a: rear-a/1, filled 1 run ago" in team("check").out
    team("record", "diff", "label=front-b", "housing_material=aluminium")
    assert team("record", "build", "diff=front-b", "built_on=2026-05-01").code == 0
    assert team("record", "run", "2026-05-02/1", "front=front-b").code == 0
    assert team("record", "run", "2026-05-02/1", "note=felt planted").code == 0


def test_a_record_without_a_mass_says_nothing(team: Run) -> None:
    found = team("record", "venue", "name=Brickfield", "--json").json
    assert (found["weighings_say"], found["shelf"]) == ([], [])


def test_what_turned_is_read_of_the_diffs_concerned_however_long_the_shelf_is(
    connection: sqlite3.Connection, add: Add
) -> None:
    """Counted in steps of SQLite's machine, in tens: as many with 200 diffs more."""

    def steps() -> tuple[int, News]:
        weighing = Writer(connection, "ana").insert(BY_NAME["weighing"], {"build": build, **MASS})
        counted = 0

        def count() -> None:
            nonlocal counted
            counted += 1

        connection.set_progress_handler(count, 10)
        before = touched_on_shelf(connection)
        connection.set_progress_handler(None, 0)
        renew_touched(connection)
        connection.set_progress_handler(count, 10)
        news = news_of(connection, BY_NAME["weighing"], weighing, before)
        connection.set_progress_handler(None, 0)
        return counted, news

    made = Team(add)
    build = made.build(oil_mass_g=1.86, closed_mass_g=22.35)
    few, news = steps()
    assert [(one.diff, one.before, one.after) for one in news.turned] == [("rear-a", "ready", "open it")]
    for number in range(200):
        diff = add("diff", label=f"rear-{number:03}")
        add("build", label=f"rear-{number:03}/1", diff=diff, built_on="2026-05-01", oil_mass_g=1.86, closed_mass_g=22.3)
    build = made.build(oil_mass_g=1.86, closed_mass_g=22.35)
    many, news = steps()
    assert [(one.diff, one.before, one.after) for one in news.turned] == [("rear-a", "ready", "open it")]
    assert many <= 1.5 * few, (few, many)


def test_an_import_counts_what_the_weighings_say_and_names_what_lost_oil(bevelbook: Run, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(NOTES, encoding="utf-8")
    bevelbook("new")
    said = bevelbook("import", "notes.csv").out
    assert "Weighed twice: 1 ok, 1 stop" in said
    assert "rear-b/1: STOP: lost 0.30 g of 1.86 g (16 %) in 6 runs" in said
    assert "rear-a/1:" not in said
    again = bevelbook("import", "notes.csv", "--json").json
    assert "weighings_say" not in again


def test_reading_a_file_again_says_what_came_of_it(bevelbook: Run, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(NOTES.replace("13.96", "13.96 g?"), encoding="utf-8")
    bevelbook("new")
    before = bevelbook("import", "notes.csv", "--json").json
    assert before["weighings_say"]["verdicts"] == {"ok": 1}
    assert bevelbook("import", "--again", "notes.csv", "--yes", "--json").json.get("weighings_say") is None
