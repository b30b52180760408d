"""Ideas that no build has tried yet. All data are constructed."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team, adding

from bevelbook.facts.ideas import ideas_by_venue, last_venue, open_ideas
from bevelbook.store.writing import Writer


@pytest.fixture
def add(writer: Writer) -> Add:
    return adding(writer)


@pytest.fixture
def team(add: Add) -> Team:
    return Team(add)


def test_an_idea_is_open_until_a_build_tries_it(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    hall, field = add("venue", name="Hall"), add("venue", name="Field")
    tried = add("idea", text="thicker", venue=hall, noted_on="2026-02-01")
    add("idea", text="thinner", venue=field, noted_on="2026-02-02", person=add("person", name="ana"))
    add("idea", text="measure the heat")
    add("idea", text="putty", venue=hall, dropped="not allowed")
    assert [one.text for one in open_ideas(connection)] == ["thinner", "thicker", "measure the heat"]
    assert [one.text for one in open_ideas(connection, hall)] == ["thicker", "measure the heat"]
    team.build(tries=tried)
    assert {venue: [one.text for one in ideas] for venue, ideas in ideas_by_venue(connection).items()} == {
        "Field": ["thinner"],
        None: ["measure the heat"],
    }
    assert open_ideas(connection, field)[0].person == "ana"


def test_the_venue_of_the_last_run_leads(connection: sqlite3.Connection, add: Add) -> None:
    hall, field = add("venue", name="Hall"), add("venue", name="Field")
    for text, venue in (("thicker", hall), ("thinner", field), ("any", None)):
        add("idea", text=text, venue=venue)
    assert last_venue(connection) is None
    for order, (venue, day) in enumerate(((field, "2026-02-01"), (hall, "2026-02-08"), (None, "2026-02-09")), start=1):
        add("run", label=str(order), run_on=day, venue=venue, day_order=order)
    assert last_venue(connection) == (hall, "Hall"), "the run of the last day names none"
    assert list(ideas_by_venue(connection, "Hall")) == ["Hall", "Field", None]
    assert list(ideas_by_venue(connection, "Quay")) == ["Field", "Hall", None], "a venue without ideas has no heading"
    add("run", label="last", run_on="2026-02-08", venue=field, day_order=9)
    assert last_venue(connection) == (field, "Field"), "of one day the last of its order"
