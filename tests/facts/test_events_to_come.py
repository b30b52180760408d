"""Which events are still to come."""

from __future__ import annotations

import sqlite3
from datetime import date

from constructed import Add

from bevelbook.facts.events_to_come import events_to_come


def test_events_to_come_are_those_whose_last_day_is_not_over_the_next_one_first(
    connection: sqlite3.Connection, add: Add
) -> None:
    add("event", name="over", first_on="2026-05-01", last_on="2026-05-03")
    add("event", name="far", first_on="2026-06-01")
    add("event", name="going on", first_on="2026-05-03", last_on="2026-05-05")
    add("event", name="without a day")
    add("event", name="ends today", last_on="2026-05-04")
    found = events_to_come(connection, date(2026, 5, 4))
    assert [(one.name, one.first_on, one.last_on) for one in found] == [
        ("going on", "2026-05-03", "2026-05-05"),
        ("ends today", "2026-05-04", "2026-05-04"),
        ("far", "2026-06-01", None),
    ]
    assert [one.name for one in events_to_come(connection, date(2026, 5, 4), most=1)] == ["going on"]
