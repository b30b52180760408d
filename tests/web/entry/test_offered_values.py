"""What a form offers where a field is left empty, with where it comes from and how old it is."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta

from constructed import Add, Team

from bevelbook.records import BY_NAME
from bevelbook.web.entry.offered_values import offered_texts, text_of


def at(connection: sqlite3.Connection, ago: timedelta) -> None:
    instant = (datetime.now(UTC) - ago).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    connection.execute("UPDATE builds SET updated_at = ?", (instant,))


def test_the_scale_that_was_used_last_has_its_age(connection: sqlite3.Connection, team: Team) -> None:
    team.build(dry_mass_g=12.4)
    for ago, said in ((timedelta(minutes=40), "40 min ago"), (timedelta(hours=3), "3 h ago")):
        at(connection, ago)
        offered = offered_texts(connection, BY_NAME["weighing"], "ana", {})
        assert offered["scale"] == ("scale of rear-a", f"the one you used last, {said}")
    at(connection, timedelta(days=40))
    assert ", on " in offered_texts(connection, BY_NAME["weighing"], "ana", {})["scale"][1]
    assert offered_texts(connection, BY_NAME["weighing"], "bo", {})["scale"][1].startswith("the one used last")


def test_like_offers_what_it_carries_over_beside_what_is_typed(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    thin, thick = add("fluid", label="house 5k"), add("fluid", label="house 7k")
    team.build(fluid=thin, kind="top-up", dry_mass_g=12.4, target_oil_mass_g=1.86, degassing="left overnight")
    build = BY_NAME["build"]
    offered = offered_texts(connection, build, "ana", {"like": "rear-a/1"})
    assert offered["fluid"][0] == "house 5k"
    assert offered["fluid"][1].startswith("as in rear-a/1, built ")
    assert offered["target_oil_mass_g"][0] == "1.86"
    assert offered["degassing"][0] == "left overnight"
    assert not {"kind", "dry_mass_g"} & offered.keys(), "it does not carry these over"
    assert thick not in offered
    typed = offered_texts(connection, build, "ana", {"like": "rear-a/1", "fluid": "house 7k"})
    assert "fluid" not in typed, "an oil that is typed leaves the other one behind"
    assert "degassing" not in offered_texts(connection, build, "ana", {"like": "no such build"})


def test_a_stored_number_reads_as_itself(connection: sqlite3.Connection) -> None:
    field = BY_NAME["weighing"].field("mass_g")
    for value in (22.34, 22.0, 0.1 + 0.2, 12.400000000000002, 28.349523125):
        assert float(text_of(field, value)) == value
    assert text_of(field, 22.34) == "22.34"
