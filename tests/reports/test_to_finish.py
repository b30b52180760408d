"""What is left open at the end of a day, as of a day that the test gives."""

from __future__ import annotations

import sqlite3
from datetime import date

from constructed import Add, Team

from bevelbook.entering.putting_by import put_by
from bevelbook.reports.to_finish import DAYS, OF_RUN, LeftEmpty, count_to_finish, left_empty, to_finish
from bevelbook.store.ids import now_utc

TODAY = date(2026, 3, 10)
FILLED = {"best_lap_s": 14.2, "grip": "low", "changed": "nothing", "call": "keep", "note": "planted"}


def records(connection: sqlite3.Connection) -> list[tuple[str, tuple[str, ...]]]:
    return [(one.label, one.fields) for one in to_finish(connection, TODAY).records]


def test_a_run_of_the_last_days_is_asked_for_what_is_empty(connection: sqlite3.Connection, add: Add) -> None:
    add("run", label="whole", run_on="2026-03-10", **FILLED)
    add("run", label="bare", run_on="2026-03-09")
    add("run", label="five", run_on="2026-03-08", **{**FILLED, "best_lap_s": None}, best_five_s=14.4)
    add("run", label="no remark", run_on="2026-03-03", **{**FILLED, "note": None})
    add("run", label="long ago", run_on="2026-03-02")
    assert DAYS == 7
    assert records(connection) == [("bare", OF_RUN), ("no remark", ("note",))]


def test_a_run_from_a_sheet_is_completed_in_the_sheet(connection: sqlite3.Connection, add: Add) -> None:
    add("run", label="bare", run_on="2026-03-09")
    connection.execute("PRAGMA defer_foreign_keys = ON")
    connection.execute("UPDATE runs SET note_file = 'a sheet'")
    assert records(connection) == []


def test_no_diff_is_asked_for_its_temperature(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    run = add("run", label="whole", run_on="2026-03-10", **FILLED)
    add("run_diff", run=run, build=team.build(), position="rear")
    assert records(connection) == []


def test_a_build_is_weighed_closed_before_it_runs(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """Once it has run, its closed mass as built is gone."""
    team.build(built_on="2026-03-08", filled_mass_g=14.2, closed_mass_g=22.3)
    build = team.build(built_on="2026-03-09", filled_mass_g=14.2)
    assert records(connection) == [("rear-a/2", ("closed_mass_g",))]
    run = add("run", label="whole", run_on="2026-03-10", **FILLED)
    add("run_diff", run=run, build=build)
    assert records(connection) == []


def test_a_planned_build_and_an_opened_one_are_not_asked_for(connection: sqlite3.Connection, team: Team) -> None:
    team.build(built_on="2026-03-09")
    team.open(team.build(built_on="2026-03-09", filled_mass_g=14.2), "2026-03-10")
    assert records(connection) == []


def test_a_weighing_is_asked_what_was_on_the_scale(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    build = team.build(built_on="2026-02-08")
    for day, basis in (("2026-03-09", None), ("2026-03-09", "closed"), ("2026-02-09", None)):
        add("weighing", build=build, weighed_on=day, mass_g=22.3, mass_basis=basis)
    (found,) = to_finish(connection, TODAY).records
    assert (found.fields, found.mass_g) == (("mass_basis",), 22.3)


def test_what_is_left_empty_does_not_come_back_and_what_is_emptied_later_does(
    connection: sqlite3.Connection, add: Add
) -> None:
    run = add("run", label="bare", run_on="2026-03-09", **{**FILLED, "note": None, "call": None})
    found = left_empty(connection, "runs", run, TODAY)
    assert found is not None
    for one in found.as_one():
        put_by(connection, one, "left empty", "ana", now_utc)
    assert records(connection) == []
    assert left_empty(connection, "runs", run, TODAY) is None
    connection.execute("UPDATE runs SET grip = NULL")
    assert records(connection) == [("bare", ("grip",))]


def test_work_left_on_the_bench_and_a_paper_to_look_at_wait_however_old_they_are(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    times = {"begun_at": "2025-03-09T14:10:00.000Z"}
    left = add("bench_job", diff=team.diff, kind="rebuild", way="step by step", at_step="shims", **times)
    add("bench_step", job=left, step="wait", title="Wait", until_at="2025-03-09T14:30:00.000Z", **times)
    done = add("bench_job", diff=team.diff, kind="rebuild", way="step by step", done_at="2025-03-09T16:00:00Z", **times)
    add("bench_step", job=done, step="rest", title="Lid down", until_at="2025-03-09T17:00:00.000Z", **times)
    add("bench_step", job=done, step="lid", title="Lid", done_at="2025-03-09T15:00:00.000Z", **times)
    add("bench_job", diff=team.diff, kind="rebuild", way="step by step", given_up="no time", **times)
    found = to_finish(connection, TODAY)
    assert [(one.id, one.diff_label, one.at_step) for one in found.jobs] == [(left, "rear-a", "shims")]
    assert [(one.job, one.step) for one in found.papers] == [(done, "rest")]
    assert count_to_finish(connection, TODAY) == 2


def test_the_record_names_the_finding_that_puts_it_by() -> None:
    found = LeftEmpty("runs", "an id", "bare", "2026-03-09", ("note",)).finding("note")
    assert (found.subject_table, found.subject_id, found.words) == ("runs", "an id", "without note")
