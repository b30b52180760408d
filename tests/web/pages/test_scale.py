"""What the page of a scale asks of the database. All data are constructed."""

from __future__ import annotations

import sqlite3

from constructed import Add

from bevelbook.web.pages.scale import by_day, scale_page_of


def test_the_page_of_a_scale_has_its_readings_by_day_and_what_they_say(
    add: Add, connection: sqlite3.Connection
) -> None:
    scale = add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.01)
    for day in ("2026-05-01", "2026-05-08"):
        for place in range(1, 6):
            add("scale_reading", scale=scale, read_on=day, thing="closed rear-b", place=place, mass_g=22.3)
    found = scale_page_of(connection, scale)
    assert found.known.sees == "0.016 g on one day, 0.032 g from one day to another"
    assert found.says.verdict == "ok"
    newest, _ = by_day(found.known, found.readings)
    assert (newest.day, newest.thing, newest.readings) == ("8 May 2026", "closed rear-b", "5 readings")
    assert newest.shown == "22.30, 22.30, 22.30, 22.30, 22.30"


def test_a_scale_without_readings_says_what_to_do(add: Add, connection: sqlite3.Connection) -> None:
    found = scale_page_of(connection, add("scale", name="kitchen", step_g=0.1))
    assert (found.readings, found.known.is_checked) == ((), False)
    assert found.says.reasons == ("no readings yet: put one thing on it ten times",)


def test_a_reading_that_is_asked_about_is_named(add: Add, connection: sqlite3.Connection) -> None:
    scale = add("scale", name="pocket", step_g=0.01)
    for place, mass in enumerate((20.0, 20.01, 20.0, 20.0, 20.01, 20.9), start=1):
        row_id = add("scale_reading", scale=scale, read_on="2026-05-01", thing="cube", place=place, mass_g=mass)
    found = scale_page_of(connection, scale)
    assert "20.90 g does not belong" in found.says.reasons[0]
    assert found.doubtful == ((row_id, "pocket cube on 2026-05-01 reading 6"),)
