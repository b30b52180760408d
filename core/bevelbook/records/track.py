"""Runs on track, how the car felt, and what to try next."""

from __future__ import annotations

from bevelbook.declare import fields
from bevelbook.declare.fields import choice, date, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import CALLS, GRIPS, LIMIT_KINDS, POSITIONS


@record
class Run:
    label: str = text("For people, such as 2026-05-03/2")
    run_on: str = date("Day")
    started_at: str | None = text("Time of day, 14:05", default=None)
    day_order: int | None = whole("Place in the day, from 1", default=None, minimum=1)
    event: str | None = text("Race or test", default=None)
    venue: str | None = reference("venue", "Where", default=None)
    car: str | None = reference("car", "The car", default=None)
    driver: str | None = reference("person", "Who drove", default=None)
    noted_by: str | None = reference("person", "Who wrote it down", default=None)
    surface_state: str | None = choice(("dry", "dusty", "damp", "wet"), "State of the surface", default=None)
    grip: str | None = choice(GRIPS, "Grip", default=None)
    grip_trend: str | None = choice(("rising", "steady", "falling"), "Where grip is going", default=None)
    air_temp_c: float | None = quantity("°C", "Air", default=None, minimum=-60, maximum=70, plausible=(-30, 50))
    track_temp_c: float | None = quantity("°C", "Track", default=None, minimum=-60, maximum=100, plausible=(-20, 65))
    runs: float | None = quantity(
        "runs", "How many runs this row stands for", default=None, minimum=0, plausible=(0, 10_000)
    )
    laps: int | None = whole("Laps", default=None, minimum=0)
    lap_times: str | None = text("Lap times in seconds, one after the other", default=None)
    best_lap_s: float | None = quantity("s", "Best lap", default=None, above=0, plausible=(3, 300))
    best_five_s: float | None = quantity("s", "Mean of the best five laps", default=None, above=0, plausible=(3, 300))
    tyres: str | None = text("Tyres", default=None)
    tyre_runs: float | None = quantity("runs", "Runs on the tyres before this one", default=None, minimum=0)
    changed: str | None = text("What else was changed since the run before", default=None)
    balance_entry: int | None = whole(
        "Corner entry: -2 strong understeer to +2 strong oversteer", default=None, minimum=-2, maximum=2
    )
    balance_middle: int | None = whole("Middle of the corner, likewise", default=None, minimum=-2, maximum=2)
    balance_exit: int | None = whole("Corner exit, likewise", default=None, minimum=-2, maximum=2)
    forward_drive: str | None = choice(("low", "ok", "high"), "Forward drive", default=None)
    side_bite: str | None = choice(("low", "ok", "high"), "Side bite", default=None)
    happened: str | None = text("What happened", default=None)
    call: str | None = choice(CALLS, "What was decided after it", default=None)
    note: str | None = text("How the car felt, and anything else", default=None)


@record
class RunDiff:
    run: str = reference("run", "The run")
    build: str = reference("build", "The build that was in the car")
    position: str | None = choice(POSITIONS, "Where in the car", default=None)
    diff_temp_c: float | None = quantity(
        "°C", "Temperature of the diff", default=None, minimum=-60, maximum=200, plausible=(-20, 120)
    )
    temp_taken: str | None = text("When that was taken", default=None)


@record
class Idea:
    text: str = fields.text("What to try")
    venue: str | None = reference("venue", "Where to try it", default=None)
    run: str | None = reference("run", "The run it came from", default=None)
    person: str | None = reference("person", "Whose idea", default=None)
    noted_on: str | None = date("Day", default=None)
    dropped: str | None = fields.text("Why it was given up, if it was", default=None)


@record
class Limit:
    kind: str = choice(LIMIT_KINDS, "What is limited")
    value: float = quantity(
        "1",
        "The limit, in the unit of its kind; 0 takes it back: for one diff the limit for all holds again",
        minimum=0,
    )
    diff: str | None = reference("diff", "Only for this diff", default=None)
    note: str | None = text("Why", default=None)
