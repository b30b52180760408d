"""Runs gathered by the oil in a place of the car."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.reports import questions
from bevelbook.reports.oils_in_runs import oils_in_runs


def test_oils_are_gathered_by_place_and_what_had_lost_oil_or_has_no_oil_is_left_out(
    connection: sqlite3.Connection, add: Add
) -> None:
    team = Team(add, usual_position="rear")
    thin, thick, unmarked = (
        add("fluid", label=label, viscosity_cst=cst, viscosity_source="label" if cst else None)
        for label, cst in (("oak 7k", 7000.0), ("oak 10k", 10_000.0), ("60 wt", None))
    )
    lost = team.build(oil_mass_g=1.86, fluid=thin)
    team.weigh(lost, (0.0, 22.35), (2.0, 22.20))
    builds = (lost, team.build(fluid=thick), team.build(fluid=unmarked), team.build(), team.build(fluid=thin))
    runs = []
    for build, position, count, call in zip(
        builds,
        (None, "front", "rear", "rear", None),
        (2.0, 3.0, 1.0, 1.0, 4.0),
        ["keep", "keep", "change", "keep", "keep"],
        strict=True,
    ):
        runs.append(add("run", label="run", run_on="2026-05-03", runs=count, call=call))
        add("run_diff", run=runs[-1], build=build, position=position)
    diffs = questions.diffs_in_runs(connection, runs)
    found = oils_in_runs(row for of_run in diffs.values() for row in of_run)
    assert [(one.place, one.rows[0]["fluid_label"], one.runs, one.by_day.all_kept) for one in found] == [
        ("front", "oak 10k", 3.0, 1),
        ("rear", "oak 7k", 4.0, 1),
        ("rear", "60 wt", 1.0, 0),
    ]
    assert [one.not_known_full().runs for one in found] == [3.0, 4.0, 1.0]
