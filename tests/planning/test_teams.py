"""The constructed teams are what their words say. What is due for them is held by the tests of each part."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add
from planning.teams import TEAMS, rebuilt_since

from bevelbook.planning.event_to_come import event_to_come
from bevelbook.planning.places import diffs_in_place


@pytest.mark.parametrize("about", TEAMS)
def test_the_runs_planned_by_hand_are_those_of_the_event(connection: sqlite3.Connection, add: Add, about: str) -> None:
    """Where each diff sits and how many runs it is to do, of a diff in two cars those of both."""
    team = TEAMS[about](add)
    event = event_to_come(connection, team.event)
    there = {one.label: one for one in diffs_in_place(connection, event.cars).diffs}
    assert {label: there[label].runs_planned for label in team.runs_planned} == team.runs_planned
    assert {label for label, one in there.items() if not one.is_spare} == set(team.runs_planned) == set(team.due)


def test_a_build_since_is_the_diffs_last_one(connection: sqlite3.Connection, add: Add) -> None:
    team = rebuilt_since(add, TEAMS["a build after the plan"](add))
    found = connection.execute("SELECT current_build, word FROM diff_facts WHERE diff = ?", (team.diffs["rear-a"],))
    assert tuple(found.fetchone()) == (team.more["build"], "ready")
