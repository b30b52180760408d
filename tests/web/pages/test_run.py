"""What the page of a run asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.web.pages.run import run_page_of


def test_the_page_of_a_run_knows_what_was_where_and_what_changed_since_the_run_before(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    car, build = add("car", name="blue"), team.build(oil_mass_g=1.86, built_on="2026-05-01")
    add("car_diff", car=car, position="rear", diff=team.diff, from_on="2026-05-01")
    add("car_diff", car=car, position="front", instead="spool", from_on="2026-05-01")
    add("car_value", car=car, what="motor", value="13.5", from_on="2026-05-01")
    first = add("run", label="2026-05-10/1", run_on="2026-05-10", car=car)
    add("car_value", car=car, what="motor", value="17.5", from_on="2026-05-11")
    second = add("run", label="2026-05-12/1", run_on="2026-05-12", car=car, note="planted", best_lap_s=14.2)
    for run, temperature in ((first, None), (second, 38.0)):
        add("run_diff", run=run, build=build, position="rear", diff_temp_c=temperature, temp_taken="in the pits")
    found = run_page_of(connection, second)
    assert [(row["position"], row["build_label"], row["diff_temp_c"], row["temp_taken"]) for row in found.sat] == [
        ("rear", "rear-a/1", 38.0, "in the pits")
    ]
    assert found.instead == {"front": "spool"}
    assert [one.words for one in found.changes] == ["motor: 17.5, was 13.5"]
    assert run_page_of(connection, first).changes == []


def test_a_run_without_car_or_diff_has_a_page(connection: sqlite3.Connection, add: Add) -> None:
    found = run_page_of(connection, add("run", label="2026-05-10/1", run_on="2026-05-10"))
    assert (found.sat, found.instead, found.changes) == ([], {}, [])
