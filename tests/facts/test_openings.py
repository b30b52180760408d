"""Runs since the case was open, and what openings found. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.facts.openings import found_at_openings, opened_words, runs_when_notchy, since_opened
from bevelbook.facts.renew import renew_touched
from bevelbook.reports.service import service_states


def test_the_runs_since_a_diff_was_open(connection: sqlite3.Connection, team: Team) -> None:
    assert since_opened(connection) == []
    first = team.build()
    team.run(first, "2026-02-01", 12.0)
    team.open(first)
    (one,) = since_opened(connection)
    assert (one.build_label, one.opened, one.words) == ("rear-a/1", True, "open now")
    second = team.build()
    assert since_opened(connection)[0].words == "not run since it was closed"
    team.run(second, "2026-02-08", 41.0)
    (one,) = since_opened(connection)
    assert (one.label, one.build_label, one.runs, one.words) == ("rear-a", "rear-a/2", 41.0, "filled 41 runs ago")


def test_a_build_that_a_job_began_was_not_closed_before_the_job_is_done(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    first = team.build()
    team.open(first, "2026-02-01")
    build = team.build(built_on="2026-02-01")
    job = add(
        "bench_job", diff=team.diff, kind="rebuild", way="step by step", build=build, begun_at="2026-02-01T06:43Z"
    )
    renew_touched(connection)
    (one,) = since_opened(connection)
    assert (one.words, one.is_closed) == ("on the bench, not closed yet", False)
    assert opened_words(connection, build) == "on the bench, not closed yet"
    assert opened_words(connection, first) == "opened 2026-02-01, after 0 runs"
    (state,) = service_states(connection)
    assert state.left == ()
    connection.execute("UPDATE bench_jobs SET given_up = 'no gasket' WHERE id = ?", (job,))
    renew_touched(connection)
    assert since_opened(connection)[0].words == "given up on the bench, never closed"
    connection.execute("UPDATE bench_jobs SET given_up = NULL, done_at = '2026-02-01T09:10Z' WHERE id = ?", (job,))
    renew_touched(connection)
    (one,) = since_opened(connection)
    assert (one.words, one.is_closed) == ("not run since it was closed", True)


def test_an_opening_names_each_part_with_its_runs(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """The outdrive ran 6 + 4, the case 4 since it was closed; the cross pin was never noted."""
    first, second = team.build(), team.build()
    add("build_part", build=first, part="outdrive", place="both", condition="new")
    team.run(first, "2026-02-01", 6.0)
    team.run(second, "2026-02-02", 4.0)
    team.open(second, shafts="grooved", cross_pin="worn")
    assert [(one.part, one.state, one.build_runs, one.part_runs) for one in found_at_openings(connection)] == [
        ("outdrive", "grooved", 4.0, 10.0),
        ("cross pin", "worn", 4.0, None),
    ]
    assert {one.diff for one in found_at_openings(connection)} == {team.diff}


def test_the_runs_after_which_builds_were_notchy(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    other = Team(add, "rear-b")
    for one, runs, reason in (
        (team, 30.0, "notchy"),
        (team, 22.0, "notchy"),
        (team, 9.0, "leak"),
        (other, 5.0, "notchy"),
    ):
        build = one.build()
        one.run(build, "2026-02-01", runs)
        one.open(build, reason=reason)
    assert runs_when_notchy(connection) == [(other.diff, 5.0), (team.diff, 22.0), (team.diff, 30.0)]


def test_a_build_says_how_long_ago_it_was_filled_or_after_how_many_runs_it_was_opened(
    connection: sqlite3.Connection, team: Team
) -> None:
    build = team.build()
    assert opened_words(connection, build) == "not run since it was closed"
    team.run(build, "2026-02-01", 1.0)
    assert opened_words(connection, build) == "filled 1 run ago"
    team.open(build, "2026-03-01")
    assert opened_words(connection, build) == "opened 2026-03-01, after 1 run"
    again, topped_up = team.build(built_on="2026-03-02"), team.build(built_on="2026-03-04", kind="top-up")
    for one in (again, topped_up):
        team.run(one, "2026-03-05", 2.0)
    assert opened_words(connection, again) == "filled 2 runs ago", "the build before it was opened, this one was not"
    assert opened_words(connection, topped_up) == "filled 2 runs ago"
    assert since_opened(connection)[0].words == "filled 2 runs ago"
    rebuilt = team.build(built_on="2026-03-06", kind="rebuild")
    team.run(rebuilt, "2026-03-07", 3.0)
    assert since_opened(connection)[0].words == opened_words(connection, rebuilt) == "filled 3 runs ago"


def test_of_two_openings_of_one_build_the_first_ended_it(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build()
    team.open(build, "2026-03-05", reason="routine")
    team.open(build, "2026-03-01", reason="leak", leak_place="joint")
    kept = connection.execute("SELECT opened_on, opened_for, leak_place FROM build_facts").fetchall()
    assert [tuple(row) for row in kept] == [("2026-03-01", "leak", "joint")]
    assert opened_words(connection, build).startswith("opened 2026-03-01")
