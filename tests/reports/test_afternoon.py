"""The weather to come for a diff, from what a person typed and its last run."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add, Team

from bevelbook.plugin.where_shown import ForForecast
from bevelbook.reports.afternoon import DiffToRun, ToCome, to_run, weather_to_come, with_last_run

TAKES_ALL = ForForecast("track_c", "air_c", "hotter_by_c", "grip", "position")


def ran(add: Add, build: str, label: str, **run: object) -> None:
    made = add("run", label=label, run_on=label[:10], **run)
    add("run_diff", run=made, build=build, position="rear", diff_temp_c=38.0)


def the_diff(connection: sqlite3.Connection) -> DiffToRun:
    (found,) = to_run(connection).diffs
    return with_last_run(connection, found)


@pytest.mark.parametrize(
    ("to_come", "inputs", "track_c"),
    [
        (ToCome("track", 36.0), {"track_c": "36"}, 36.0),
        (ToCome("hotter", 12.0), {"hotter_by_c": "12"}, 37.0),
        (ToCome("hotter", -5.0), {"hotter_by_c": "-5"}, 20.0),
        (ToCome("air", 30.0), {"air_c": "30"}, 33.0),
    ],
    ids=lambda value: f"{value.of} {value.degrees_c:g}" if isinstance(value, ToCome) else "",
)
def test_the_track_rises_by_as_much_as_the_air_since_the_last_run(
    connection: sqlite3.Connection,
    add: Add,
    team: Team,
    to_come: ToCome,
    inputs: dict[str, str],
    track_c: float,
) -> None:
    """By hand: the last run had 25 °C on the track and 22 °C in the air (our own figures)."""
    build = team.build()
    ran(add, build, "2026-03-01/1", track_temp_c=40.0, air_temp_c=35.0, grip="high")
    ran(add, build, "2026-03-02/1", track_temp_c=25.0, air_temp_c=22.0, grip="low")
    weather = weather_to_come(the_diff(connection), to_come)
    assert weather.track_c == pytest.approx(track_c)
    assert weather.inputs(TAKES_ALL) == {**inputs, "grip": "low", "position": "rear"}
    assert (weather.follows is None) == (to_come.of == "track")


def test_without_a_run_only_what_was_typed_is_known(connection: sqlite3.Connection, team: Team) -> None:
    team.build()
    for of, known in (("track", 36.0), ("air", None), ("hotter", None)):
        assert weather_to_come(the_diff(connection), ToCome(of, 36.0)).track_c == known  # type: ignore[arg-type]


def test_a_car_has_the_diffs_that_sit_in_it_and_one_apart_is_not_offered(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    front, other = Team(add, "front-a"), Team(add, "rear-b")
    for one in (team, front):
        one.build()
    other.open(other.build())
    car = add("car", name="blue")
    for position, one in (("rear", team), ("front", front), ("centre", other)):
        add("car_diff", car=car, position=position, diff=one.diff, from_on="2026-03-01")
    found = to_run(connection)
    assert [(one.label, one.position) for one in found.cars[0].diffs] == [("front-a", "front"), ("rear-a", "rear")]
    assert [one.label for one in found.diffs] == ["front-a", "rear-a"]
