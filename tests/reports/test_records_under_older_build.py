"""Records that stay under a build that was replaced. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.reports.records_under_older_build import late_records, later_build_line


def test_records_dated_after_the_next_build_are_named_with_where_they_came_from(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    first = team.build(built_on="2026-05-01", oil_mass_g=1.86)
    team.run(first, "2026-05-02")
    team.run(first, "2026-05-05")
    add("weighing", build=first, weighed_on="2026-05-06", mass_g=14.0)
    add("opening", build=first, opened_on="2026-05-03")
    assert list(late_records(connection)) == []
    second = team.build(built_on="2026-05-04", oil_mass_g=1.86)
    team.run(second, "2026-05-05")
    (found,) = late_records(connection)
    assert found.subject_id == first
    assert found.words == (
        "1 run and 1 weighing dated after rear-a/2 was built (2026-05-04) are still written under rear-a/1"
    )
    assert "record run-diff ID build=rear-a/2" in found.remedy
    assert list(late_records(connection, team.diff)) == [found]
    assert list(late_records(connection, "another")) == []


def test_a_record_of_the_day_of_the_next_build_may_belong_to_either(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    first = team.build(built_on="2026-05-01")
    add("weighing", build=first, weighed_on="2026-05-04", mass_g=14.0)
    team.build(built_on="2026-05-04")
    assert list(late_records(connection)) == []


def test_a_build_written_down_late_is_said_not_to_be_the_last(connection: sqlite3.Connection, team: Team) -> None:
    last = team.build(built_on="2026-05-04")
    assert later_build_line(connection, last) is None
    late = team.build(built_on="2026-05-01")
    said = later_build_line(connection, late)
    assert said is not None
    assert said.startswith("rear-a/2 is not the last build of its diff: rear-a/1 of 2026-05-04 is later.")
    assert later_build_line(connection, last) is None
