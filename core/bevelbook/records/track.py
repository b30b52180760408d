"""Runs on track, how the car felt, and what to try next."""

from __future__ import annotations

from bevelbook.declare import fields
from bevelbook.declare.fields import LAP_S, choice, date, quantity, record, reference, text, time, whole
from bevelbook.declare.vocabulary import CALLS, GRIPS, LIMIT_KINDS, POSITIONS


@record
class Run:
    label: str = text("For people, such as 2026-05-03/2")
    run_on: str = date("Day", on_run_sheet="day")
    started_at: str | None = time(
        "Time of day, 14:05", default=None, on_run_sheet="before", sheet_after="runs.day_order"
    )
    day_order: int | None = whole("Place in the day, from 1", default=None, minimum=1, on_run_sheet="before")
    event: str | None = reference("event", "Race or test", default=None, followed=False, on_run_sheet="day")
    venue: str | None = reference("venue", "Where", default=None, facet=True, on_run_sheet="day")
    car: str | None = reference("car", "The car", default=None, on_run_sheet="day")
    driver: str | None = reference("person", "Who drove", default=None, followed=False, on_run_sheet="day")
    noted_by: str | None = reference("person", "Who wrote it down", default=None, followed=False, on_run_sheet="day")
    surface_state: str | None = choice(
        ("dry", "dusty", "damp", "wet"), "State of the surface", default=None, on_run_sheet="before"
    )
    grip: str | None = choice(GRIPS, "Grip", default=None, facet=True, on_run_sheet="before")
    grip_trend: str | None = choice(
        ("rising", "steady", "falling"), "Where grip is going", default=None, on_run_sheet="before"
    )
    air_temp_c: float | None = quantity(
        "°C", "Air", default=None, minimum=-60, maximum=70, plausible=(-30, 50), on_run_sheet="before"
    )
    track_temp_c: float | None = quantity(
        "°C", "Track", default=None, minimum=-60, maximum=100, plausible=(-20, 65), on_run_sheet="before"
    )
    runs: float | None = quantity(
        "runs", "How many runs are in this row", default=None, minimum=0, plausible=(0, 10_000), on_run_sheet="laps"
    )
    laps: int | None = whole("Laps", default=None, minimum=0, on_run_sheet="laps")
    lap_times: str | None = text(
        "Lap times in seconds, one after the other", default=None, of_laps=True, on_run_sheet="laps"
    )
    best_lap_s: float | None = quantity("s", "Best lap", default=None, above=0, plausible=LAP_S, on_run_sheet="laps")
    best_five_s: float | None = quantity(
        "s", "Mean of the best five laps", default=None, above=0, plausible=LAP_S, on_run_sheet="laps"
    )
    tyres: str | None = text("Tyres", default=None, on_run_sheet="before")
    tyre_runs: float | None = quantity(
        "runs", "Runs on the tyres before this one", default=None, minimum=0, on_run_sheet="before"
    )
    changed: str | None = text("What else was changed since the run before", default=None, on_run_sheet="before")
    balance_entry: int | None = whole(
        "Corner entry: -2 strong understeer to +2 strong oversteer",
        default=None,
        minimum=-2,
        maximum=2,
        on_run_sheet="driving",
    )
    balance_middle: int | None = whole(
        "Mid-corner, same scale", default=None, minimum=-2, maximum=2, on_run_sheet="driving"
    )
    balance_exit: int | None = whole(
        "Corner exit, same scale", default=None, minimum=-2, maximum=2, on_run_sheet="driving"
    )
    forward_drive: str | None = choice(("low", "ok", "high"), "Forward drive", default=None, on_run_sheet="driving")
    side_bite: str | None = choice(("low", "ok", "high"), "Side bite", default=None, on_run_sheet="driving")
    happened: str | None = text("What happened", default=None, on_run_sheet="driving")
    call: str | None = choice(CALLS, "What was decided after it", default=None, facet=True, on_run_sheet="after")
    note: str | None = text("How the car felt, and anything else", default=None, on_run_sheet="after")


@record
class RunDiff:
    run: str = reference("run", "The run")
    build: str = reference(
        "build", "The build that was in the car", on_run_sheet="before", sheet_after="runs.track_temp_c"
    )
    position: str | None = choice(POSITIONS, "Where in the car", default=None, facet=True)
    diff_temp_c: float | None = quantity(
        "°C",
        "Temperature of the diff",
        default=None,
        minimum=-60,
        maximum=200,
        plausible=(-20, 120),
        on_run_sheet="coming in",
    )
    temp_taken: str | None = text("When that was taken, in words", default=None)
    after_run_s: float | None = quantity(
        "s",
        "Time after the run",
        default=None,
        minimum=0,
        plausible=(0, 3600),
        on_run_sheet="coming in",
    )
    second_diff_temp_c: float | None = quantity(
        "°C",
        "Second temperature of the diff",
        default=None,
        minimum=-60,
        maximum=200,
        plausible=(-20, 120),
        on_run_sheet="coming in",
    )
    second_after_run_s: float | None = quantity(
        "s",
        "Second time after the run",
        default=None,
        minimum=0,
        plausible=(0, 3600),
        on_run_sheet="coming in",
    )
    temp_place: str | None = choice(
        POSITIONS, "The place that the note row names for the first temperature; empty: its own column", default=None
    )


@record
class Idea:
    text: str = fields.text("What to try")
    venue: str | None = reference("venue", "Where to try it", default=None, facet=True)
    run: str | None = reference("run", "The run it came from", default=None)
    person: str | None = reference("person", "Who had it", default=None, followed=False)
    noted_on: str | None = date("Day", default=None)
    dropped: str | None = fields.text("Why it was given up, if it was", default=None)


@record
class Limit:
    kind: str = choice(LIMIT_KINDS, "What is limited")
    value: float = quantity(
        "1",
        "The limit, in runs, grams, uses or as a share of the oil put in (5 % or 0.05), by its kind; 0 removes it: "
        "for one diff the limit for all then applies again",
        minimum=0,
        may_be_share=True,
    )
    diff: str | None = reference("diff", "Only for this diff", default=None)
    note: str | None = text("Why", default=None)
