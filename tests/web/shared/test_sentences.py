"""A run in one sentence: the temperature of every diff that was read, by its place."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team
from markupsafe import Markup

from bevelbook.reports import questions
from bevelbook.web.shared.links import NamesOnly
from bevelbook.web.shared.sentences import run_sentence


@pytest.mark.parametrize(
    ("temperatures", "said"),
    [
        ({"rear": 39.0, "front": 36.0}, "rear 39.0 °C, front 36.0 °C"),
        ({"rear": 41.0, "front": None}, "rear 41.0 °C"),
        ({"rear": None, "front": 36.0}, "front 36.0 °C"),
        ({None: 38.0}, "diff 38.0 °C"),
    ],
)
def test_a_run_says_the_temperature_of_each_place_the_rear_first(
    connection: sqlite3.Connection, add: Add, temperatures: dict[str | None, float | None], said: str
) -> None:
    run = add("run", label="2026-05-03/1", run_on="2026-05-03")
    for place, temperature_c in temperatures.items():
        build = Team(add, f"{place or 'rear'}-c").build()
        add("run_diff", run=run, build=build, position=place, diff_temp_c=temperature_c)
    words = str(Markup(run_sentence(NamesOnly("team"), questions.latest_runs(connection, 1))).striptags())
    assert f"; {said}; " in words
