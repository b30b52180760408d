"""What the page of a venue asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.web.pages.venue import venue_page_of


def test_the_page_of_a_venue_knows_its_runs_by_conditions_and_its_open_ideas(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    field, hall = add("venue", name="Brickfield", surface="asphalt"), add("venue", name="Tannery Hall")
    build = team.build()
    for venue, day, track_c in ((field, "2026-03-01", 36.0), (field, "2026-03-02", 38.0), (hall, "2026-03-03", 20.0)):
        run = add("run", label=day, run_on=day, venue=venue, grip="low", track_temp_c=track_c, call="keep")
        add("run_diff", run=run, build=build, position="rear")
    add("idea", text="Try 15,000 on dust", venue=field)
    add("idea", text="Try 3,000 on carpet", venue=hall)
    found = venue_page_of(connection, registry, field)
    assert found.record["name"] == "Brickfield"
    (condition,) = found.conditions
    assert (condition["grip"], condition["band"], condition["runs"]) == ("low", 3, 2)
    assert condition["by_day"].words == "kept on 2 of 2 days"
    assert found.count_of_runs == 2
    assert [run["run_on"] for run in found.runs] == ["2026-03-02", "2026-03-01"]
    assert [idea.text for idea in found.ideas] == ["Try 15,000 on dust"]


def test_the_oils_of_front_and_rear_are_not_mixed(
    connection: sqlite3.Connection, registry: Registry, add: Add, team: Team
) -> None:
    field = add("venue", name="Brickfield")
    front = Team(add, "front-a", usual_position="front")
    in_front, thin, thick = (
        one.build(viscosity_cst=cst) for one, cst in ((front, 3000.0), (team, 7000.0), (team, 10000.0))
    )
    for day, in_rear in (("2026-03-01", thin), ("2026-03-02", thick)):
        run = add("run", label=day, run_on=day, venue=field, grip="low", track_temp_c=36.0)
        add("run_diff", run=run, build=in_rear, position="rear")
        add("run_diff", run=run, build=in_front)
    (condition,) = venue_page_of(connection, registry, field).conditions
    assert list(condition["oils"].items()) == [("front", (3000.0, 3000.0)), ("rear", (7000.0, 10000.0))]
