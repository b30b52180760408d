"""What to do before the next time out, by urgency, with its reason and the team's minutes. All data are constructed."""

from __future__ import annotations

import sqlite3
from itertools import product

import pytest
from conftest import FIXED_NOW
from constructed import Add, Team

from bevelbook.entering.putting_by import put_by
from bevelbook.plugin.registry import Registry
from bevelbook.reports.before_next_time_out import MOST_LINES, before_next_time_out, lines_of_jobs, most_urgent
from bevelbook.reports.check import check
from bevelbook.reports.shelf import shelf_without_advice


def words(connection: sqlite3.Connection) -> list[str]:
    jobs = before_next_time_out(connection)
    first = most_urgent(connection, shelf_without_advice(connection), 2)
    assert first == (jobs[:2], max(0, len(jobs) - 2)), "worked out for the first alone"
    return [one.words for one in jobs]


def weighed_full(team: Team, runs: float = 4.0, **build: object) -> str:
    """A build that has lost nothing by the run at which it was weighed."""
    made = team.build(oil_mass_g=1.86, **build)
    team.weigh(made, (0.0, 22.40), (runs, 22.40))
    return made


def test_nothing_to_do_with_a_sound_diff(connection: sqlite3.Connection, team: Team) -> None:
    weighed_full(team)
    assert words(connection) == []


def test_a_diff_is_weighed_some_runs_after_the_last_weighing(connection: sqlite3.Connection, team: Team) -> None:
    team.run(weighed_full(team), "2026-02-10", runs=11.0, call="keep")
    assert words(connection) == ["weigh rear-a (7 runs since)"]


def test_one_never_weighed_says_since_when(connection: sqlite3.Connection, team: Team) -> None:
    team.run(team.build(oil_mass_g=1.86), "2026-02-10", runs=3.0, call="keep")
    assert words(connection) == ["weigh rear-a (3 runs since it was filled)"]


def test_one_that_is_opened_is_not_to_be_weighed_or_turned_as_well(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86, hand_feel="loose")
    team.weigh(build, (0.0, 22.40), (4.0, 22.05))
    team.run(build, "2026-02-10", runs=11.0, call="keep")
    add("limit", kind="runs between openings", value=8.0)
    assert words(connection) == [
        "rebuild rear-a (lost 0.35 g of 1.86 g (19 %); 11 runs since it was filled, 3 over your limit of 8; "
        "it turned loose)"
    ]


def test_the_most_urgent_comes_first_then_ideas_runs_without_a_call_and_rejected_rows(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    hall, field = add("venue", name="Tannery Hall"), add("venue", name="Brickfield")
    rough, leaking = Team(add, "front-a"), Team(add, "rear-z")
    weighed_full(rough, hand_feel="stiff all round")
    lost = leaking.build(oil_mass_g=1.86)
    leaking.weigh(lost, (0.0, 22.40), (4.0, 22.05))
    waiting = weighed_full(team)
    run = add("run", label="2026-02-10/1", run_on="2026-02-10", venue=hall, runs=11.0)
    add("run_diff", run=run, build=waiting)
    add("idea", text="3,000 on carpet", venue=hall)
    add("idea", text="15,000 on dust", venue=field)
    add("idea", text="{no} braces")
    connection.execute(
        "INSERT INTO note_files (id, name, sha256, byte_count, read_at, accepted, rejected, skipped) "
        "VALUES ('f', 'a.csv', 's', 1, '2026-02-02', 0, 1, 0)"
    )
    connection.execute(
        "INSERT INTO note_rejects (id, note_file, line, status, reason, raw) "
        "VALUES ('r', 'f', 2, 'rejected', 'bad_date', '[]')"
    )
    assert words(connection) == [
        "rebuild rear-z (lost 0.35 g of 1.86 g (19 %))",
        "weigh rear-a (7 runs since)",
        "look at front-a (it turned stiff all round): turn it by hand",
        "try: 3,000 on carpet (at Tannery Hall)",
        "try: {no} braces",
        "give 1 note (11 runs) a call (keep, change or undecided)",
        "correct 1 row of notes (rejected by the import, with what settles it)",
    ]
    jobs = before_next_time_out(connection)
    assert list(lines_of_jobs(jobs * 2))[MOST_LINES - 1 :] == [f"{MOST_LINES}. try: {{no}} braces", "and 2 more"]


def test_a_diff_that_was_opened_is_built_again_until_others_run_without_it(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    build = weighed_full(team)
    team.run(build, "2026-02-10", runs=1.0, call="keep")
    team.open(build, day="2026-02-12")
    assert words(connection) == ["rebuild rear-a (opened 2026-02-12)"]
    said = check(connection, registry).summary()
    assert said == "1 thing to do before the next time out, listed above; no finding besides."
    other = Team(add, "rear-b")
    other.run(weighed_full(other), "2026-03-01", runs=1.0, call="keep")
    assert words(connection) == []


def test_typed_minutes_are_the_teams_own_and_one_for_a_diff_goes_first(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    team.run(weighed_full(team), "2026-02-10", runs=11.0, call="keep")
    add("job_time", job="weigh", minutes=6.0)
    add("job_time", job="rebuild", minutes=40.0)
    assert words(connection) == ["weigh rear-a (7 runs since), about 6 min, your figure"]
    add("job_time", job="weigh", minutes=9.5, diff=team.diff)
    add("job_time", job="weigh", minutes=5.0)
    assert words(connection) == ["weigh rear-a (7 runs since), about 9.5 min, your figure"]


def test_what_was_put_by_is_not_to_be_done(connection: sqlite3.Connection, registry: Registry, team: Team) -> None:
    team.run(weighed_full(team), "2026-02-10", runs=11.0, call="keep")
    finding = check(connection, registry).named("rear-a/1 weighed long ago")
    put_by(connection, finding.finding, "the scale is away", "ana", lambda: FIXED_NOW)
    assert words(connection) == []


@pytest.mark.parametrize(
    ("mass_g", "expected"), [(22.25, []), (22.05, ["rebuild rear-a (lost 0.35 g of 1.86 g (19 %))"])]
)
def test_lost_oil_may_be_put_by_except_a_stop(
    connection: sqlite3.Connection, registry: Registry, team: Team, mass_g: float, expected: list[str]
) -> None:
    build = team.build(oil_mass_g=1.86)
    team.weigh(build, (0.0, 22.40), (4.0, mass_g))
    assert len(words(connection)) == 1
    finding = check(connection, registry).named("rear-a/1 oil lost")
    put_by(connection, finding.finding, "seen to", "ana", lambda: FIXED_NOW)
    assert words(connection) == expected


def test_the_check_begins_with_them_and_that_of_one_diff_with_its_own(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    team.run(weighed_full(team), "2026-02-10", runs=11.0)
    weighed_full(Team(add, "rear-b"), hand_feel="loose")
    report = check(connection, registry)
    assert [one.words for one in report.jobs] == words(connection)
    assert list(report.lines())[:2] == ["Before the next time out", "  1. weigh rear-a (7 runs since)"]
    assert report.as_dict()["before_next_time_out"][0]["words"] == "weigh rear-a (7 runs since)"
    assert [one.name for one in check(connection, registry, "rear-b").jobs] == ["rear-b"]


def test_a_limit_reached_comes_before_a_weighing_that_is_due_and_repeats_what_was_noted(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    add("limit", kind="oil lost as a share", value=0.05)
    due, further = Team(add, "front-b"), Team(add, "rear-z")
    for each in (team, further):
        add("limit", kind="runs between openings", value=12.0, diff=each.diff)
    due.run(due.build(oil_mass_g=1.86), "2026-02-10", runs=8.0, call="keep")
    further.run(further.build(oil_mass_g=1.86), "2026-02-10", runs=19.0, call="keep")
    suspect = team.build(oil_mass_g=1.86)
    team.run(suspect, "2026-02-10", runs=17.0, call="keep")
    team.weigh(suspect, (0.0, 22.40))
    noted = "wet at the joint {}"
    add("weighing", build=suspect, runs=14.0, mass_g=22.305, mass_basis="closed", scale=team.scale, note=noted)
    assert words(connection) == [
        "change the oil in rear-z (19 runs since it was filled, 7 over your limit of 12)",
        "change the oil in rear-a (17 runs since it was filled, 5 over your limit of 12; "
        f"lost 0.10 g of 1.86 g (5 %): unclear; noted at its last weighing: “{noted}”): "
        "weigh it closed before you open it",
        "weigh front-b (8 runs since it was filled)",
    ]


def test_the_first_thing_to_do_with_a_diff_is_what_its_word_says(connection: sqlite3.Connection, add: Add) -> None:
    for runs, feel, mass_g, limit in product(
        (2.0, 8.0), ("smooth", "loose", "notchy"), (None, 22.4, 22.3, 22.26, 22.0), (None, 5.0)
    ):
        team = Team(add, f"{runs:g}-{feel}-{mass_g}-{limit}")
        build = team.build(oil_mass_g=1.86, hand_feel=feel)
        team.run(build, "2026-02-10", runs=runs, call="keep")
        if mass_g is not None:
            team.weigh(build, (0.0, 22.40), (1.0, mass_g))
        if limit is not None:
            add("limit", kind="runs between openings", value=limit, diff=team.diff)
    allowed = {
        "ready": (None, "change the oil in {}", "unclear: {}", "rebuild {}"),
        "weigh it": ("weigh {}", "look at {}", "change the oil in {}", "rebuild {}"),
        "look at it": ("look at {}", "change the oil in {}", "rebuild {}"),
        "open it": ("rebuild {}",),
    }
    first: dict[str, str] = {}
    for job in before_next_time_out(connection):
        first.setdefault(job.name, job.what)
    shelf = shelf_without_advice(connection)
    assert {row["word"] for row in shelf} == set(allowed)
    assert [row for row in shelf if first.get(row["label"]) not in allowed[row["word"]]] == []


def test_of_two_that_lost_oil_the_one_that_lost_more_comes_first(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    for each, mass_g in ((team, 22.05), (Team(add, "rear-z"), 21.40)):
        each.weigh(each.build(oil_mass_g=1.86), (0.0, 22.40), (4.0, mass_g))
    assert [one.name for one in before_next_time_out(connection)] == ["rear-z", "rear-a"]


@pytest.mark.parametrize(
    ("limit", "runs", "expected"),
    [
        (12.0, 11.0, ["change the oil in rear-a (1 run left of your 12; a day usually has 2)"]),
        (13.0, 11.0, []),
    ],
)
def test_a_limit_that_the_next_day_out_passes_is_a_job(
    connection: sqlite3.Connection, add: Add, team: Team, limit: float, runs: float, expected: list[str]
) -> None:
    add("limit", kind="runs between openings", value=limit)
    build = weighed_full(team, 11.0)
    other = Team(add, "front-a")
    gone = weighed_full(other, 4.0)
    for day in ("2026-02-10", "2026-02-11"):
        other.run(gone, day, runs=2.0, call="keep")
    team.run(build, "2026-02-10", runs=2.0, call="keep")
    team.run(build, "2026-02-11", runs=runs - 2.0, call="keep")
    assert words(connection) == expected
