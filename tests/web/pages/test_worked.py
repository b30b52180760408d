"""What the page of what worked asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.web.pages.worked import Wanted, worked_page_of

ANYWHERE = Wanted(None, "", None, None, None, None, None)


def test_runs_are_asked_for_by_grip_alone_but_near_a_temperature_of_any_grip(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    field = add("venue", name="Brickfield")
    build = team.build()
    for day, grip, track_c in (("2026-03-01", "low", 36.0), ("2026-03-02", "high", 37.0), ("2026-03-03", "low", 20.0)):
        run = add("run", label=day, run_on=day, venue=field, grip=grip, track_temp_c=track_c)
        add("run_diff", run=run, build=build, position="rear")

    def days(**wanted: object) -> list[str]:
        return [row["run_on"] for row in worked_page_of(connection, ANYWHERE._replace(**wanted)).runs]

    assert worked_page_of(connection, ANYWHERE) == (["Brickfield"], [])
    assert days(grip="low") == ["2026-03-03", "2026-03-01"]
    assert days(grip="low", track_c=36.0) == ["2026-03-03", "2026-03-02", "2026-03-01"]
    assert days(track_from=30.0, grip="low") == ["2026-03-01"]
    assert days(position="front") == []
