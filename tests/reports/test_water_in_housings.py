"""Where water in the housing hides a loss, each place that says what was lost says so. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

import pytest
from constructed import Add, Team

from bevelbook.facts.sql import Row
from bevelbook.reports import questions
from bevelbook.reports.build_outcome import outcome_of
from bevelbook.reports.oil_lost_line import loss_said
from bevelbook.reports.service import service_states
from bevelbook.reports.shelf import lost_said, shelf_rows

Said = Callable[[sqlite3.Connection, str, str], str]


def _row(row: Row | None) -> str:
    assert row is not None
    return loss_said(row)


PLACES: dict[str, Said] = {
    "the build": lambda connection, build, _: _row(questions.build(connection, build)),
    "the builds of a diff": lambda connection, _, diff: _row(questions.builds_of(connection, "diff", diff, 5)[0]),
    "builds by id": lambda connection, build, _: _row(questions.builds_by_id(connection, [build])[build]),
    "the shelf": lambda connection, *_: lost_said(shelf_rows(connection)[0]),
    "two builds compared": lambda connection, build, _: next(outcome_of(connection, build).lines()),
    "runs left": lambda connection, *_: " ".join(line for one in service_states(connection) for line in one.lines()),
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize(
    ("material", "said", "not_said"),
    [
        ("nylon", "with water in the housing it can see", "the scale can see"),
        ("aluminium", "the scale can see", "water"),
    ],
)
def test_what_hides_a_loss_is_named_alike_everywhere(
    connection: sqlite3.Connection, add: Add, place: str, material: str, said: str, not_said: str
) -> None:
    team = Team(add, housing_material=material)
    build = team.build(oil_mass_g=1.86)
    for day, mass_g in (("2026-02-02", 22.40), ("2026-03-20", 22.39)):
        add("weighing", build=build, weighed_on=day, mass_g=mass_g, mass_basis="closed", scale=team.scale)
    team.run(build, "2026-03-01", call="keep")
    words = PLACES[place](connection, build, team.diff)
    assert said in words
    assert not_said not in words
