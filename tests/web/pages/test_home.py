"""What the first page asks of the database."""

from __future__ import annotations

import sqlite3
from datetime import date

from conftest import FIXED_NOW
from constructed import Add, Team

from bevelbook.declare.vocabulary import SHELF_WORDS
from bevelbook.entering.putting_by import put_by
from bevelbook.reports.oil_lost_findings import leak_findings
from bevelbook.web.pages.home import (
    DIFFS,
    ON_FIRST_SCREEN,
    RUNS,
    URGENT_FIRST,
    apart_folded,
    further_words,
    home_page_of,
)
from bevelbook.web.shared.links import NamesOnly


def test_the_first_page_knows_the_shelf_the_newest_runs_and_builds_and_what_to_do(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    field, hall = add("venue", name="Brickfield"), add("venue", name="Tannery Hall")
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0.0, 22.40), (4.0, 22.05))
    for day in range(1, RUNS + 3):
        run = add("run", label=f"run {day}", run_on=f"2026-03-{day:02}", venue=field if day > 2 else hall)
        add("run_diff", run=run, build=build)
    add("idea", text="Try 15,000 on dust", venue=field)
    add("idea", text="Try 3,000 on carpet", venue=hall)
    found = home_page_of(connection)
    assert [(row["label"], row["build"]) for row in found.shelf] == [("rear-a", build)]
    assert [row["run_on"] for row in found.runs] == [f"2026-03-{day:02}" for day in range(RUNS + 2, 2, -1)]
    assert [row["id"] for row in found.builds] == [build]
    days = {row["name"]: row["last_on"] for row in found.venues}
    assert days == {"Brickfield": f"2026-03-{RUNS + 2:02}", "Tannery Hall": "2026-03-02"}
    assert [job.name for job in found.to_do.jobs] == ["rear-a", "Try 15,000 on dust", f"{RUNS + 2} runs"]
    assert found.past == [], "it is in use: the shelf says that it lost oil"


def test_the_first_page_of_an_empty_database_has_nothing_to_show(connection: sqlite3.Connection) -> None:
    found = home_page_of(connection)
    assert found == ([], {}, [], [], [], [], ((), 0), [], 0, "", None, None)


def test_builds_that_lost_oil_and_have_ended_are_about_the_past_until_put_by(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    for _ in range(2):
        build = team.build(oil_mass_g=1.86)
        team.weigh(build, (0.0, 22.40), (4.0, 22.05))
    team.build()
    assert [one.label for one in home_page_of(connection).past] == ["rear-a/2", "rear-a/1"]
    finding = next(one for one in leak_findings(connection) if one.subject_label == "rear-a/2")
    put_by(connection, finding, "the ring was nicked", "ana", lambda: FIXED_NOW)
    assert [one.label for one in home_page_of(connection).past] == ["rear-a/1"]
    add("weighing", build=finding.subject_id, runs=6.0, mass_g=21.90, mass_basis="closed", scale=team.scale)
    assert [one.label for one in home_page_of(connection).past] == ["rear-a/2", "rear-a/1"], "it says something else"


def test_diffs_that_are_apart_are_folded_where_the_shelf_is_long() -> None:
    shelf = [
        {"label": str(number), "word": "apart" if number % 2 else "ready"} for number in range(ON_FIRST_SCREEN + 1)
    ]
    assert apart_folded(shelf[1:]) == (shelf[1:], [])
    in_use, apart = apart_folded(shelf)
    assert [row["label"] for row in in_use] == ["0", "2", "4", "6", "8"]
    assert [row["label"] for row in apart] == ["1", "3", "5", "7"]


def test_of_a_long_shelf_the_most_urgent_diffs_are_shown_and_the_others_counted(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    assert set(URGENT_FIRST) == set(SHELF_WORDS)
    for number in range(DIFFS):
        add("diff", label=f"spare-{number:02}")
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0.0, 22.40), (4.0, 22.05))
    found = home_page_of(connection)
    assert [row["label"] for row in found.shelf] == ["rear-a", *(f"spare-{number:02}" for number in range(DIFFS - 1))]
    assert found.further == {"apart": 1}
    said = further_words(NamesOnly("team"), {"weigh it": 176, "ready": 1_200})
    assert said == f"The most urgent of {DIFFS + 1376} diffs come first. Not shown: 176 weigh it, 1,200 ready."


def test_an_event_that_is_just_over_is_led_to_for_a_week(connection: sqlite3.Connection, add: Add) -> None:
    over = {
        name: add("event", name=name, first_on=day) for name, day in (("older", "2026-05-02"), ("newer", "2026-05-03"))
    }
    add("event", name="nobody ran", first_on="2026-05-04")
    for event in over.values():
        add("run", label=f"at {event}", run_on="2026-05-02", event=event)
    found = {
        day: home_page_of(connection, date.fromisoformat(day)).just_over
        for day in ("2026-05-03", "2026-05-10", "2026-05-11")
    }
    assert {day: one and one.name for day, one in found.items()} == {
        "2026-05-03": "older",
        "2026-05-10": "newer",
        "2026-05-11": None,
    }
