"""The events of the invented team, the one to come among them, and what sits in which car."""

from __future__ import annotations

from typing import Final

from bevelbook_datasets.demo.plan import LAST_RACE, RACE_DAYS
from bevelbook_datasets.demo.stock import Rows

RED: Final = "red 2026"
BLUE: Final = "blue 2026"
TO_COME: Final = "quay race"
"""The event that the demo prints the plan for."""


def events() -> Rows:
    """Most runs name no more than what kind of day it was; two events have their days. The forecast is invented."""
    return [
        {"name": "club race"},
        {"name": "test"},
        {
            "name": LAST_RACE,
            "venue": "Tannery Hall",
            "first_on": "2026-09-06",
            "air_low_c": 18,
            "air_high_c": 22,
            "track_low_c": 19,
            "track_high_c": 23,
            "grip": "high",
            "runs_per_car": 4,
            "note": "invented",
        },
        {
            "name": TO_COME,
            "venue": "North Quay",
            "first_on": "2026-09-20",
            "air_low_c": 16,
            "air_high_c": 24,
            "track_low_c": 24,
            "track_high_c": 34,
            "grip": "medium",
            "runs_per_car": 6,
            "note": "invented",
        },
    ]


def event_cars() -> Rows:
    return [{"event": event, "car": car} for event in (LAST_RACE, TO_COME) for car in (RED, BLUE)]


def car_diffs() -> Rows:
    """Each row holds until the next at that place, or until its diff is put anywhere else."""
    moved = (
        (RED, "front", "front-a", "2026-04-11", None),
        (RED, "rear", "rear-a", "2026-04-11", None),
        (BLUE, "front", "front-b", "2026-04-11", None),
        (BLUE, "rear", "rear-b", "2026-04-11", None),
        (BLUE, "rear", "rear-d", "2026-05-03", "2026-05-03/6"),
        (BLUE, "front", "spool", "2026-05-24", None),
        (BLUE, "rear", "rear-b", "2026-05-24", None),
        (BLUE, "rear", "rear-d", "2026-05-24", "2026-05-24/5"),
        (BLUE, "front", "front-b", "2026-06-14", None),
        (BLUE, "rear", "rear-b", "2026-06-14", None),
        (BLUE, "rear", "rear-d", "2026-07-05", None),
        (RED, "rear", "rear-b", "2026-09-06", "2026-09-06/2"),
    )
    return [
        {
            "car": car,
            "position": position,
            "diff": None if there == "spool" else there,
            "instead": "spool" if there == "spool" else None,
            "from_on": day,
            "from_at": "09:00" if day in RACE_DAYS and after is None else None,
            "after_run": after,
        }
        for car, position, there, day, after in moved
    ]


def car_values() -> Rows:
    holds = (
        (RED, "motor", "13.5 turns", "2026-04-11"),
        (BLUE, "motor", "13.5 turns", "2026-04-11"),
        (RED, "gearing", "5.1 : 1", "2026-04-11"),
        (BLUE, "gearing", "5.3 : 1", "2026-04-11"),
        (RED, "gearing", "4.8 : 1", "2026-05-03"),
    )
    return [{"car": car, "what": what, "value": value, "from_on": day} for car, what, value, day in holds]
