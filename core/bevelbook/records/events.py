"""Race days to prepare for: when and where, what weather and grip is expected, which cars go, how many runs each."""

from __future__ import annotations

from bevelbook.declare.fields import choice, date, quantity, record, reference, text
from bevelbook.declare.vocabulary import GRIPS


@record
class Event:
    name: str = text("What the team calls it, such as spring race")
    venue: str | None = reference("venue", "Where", default=None, facet=True)
    first_on: str | None = date("First day", default=None, may_come=True)
    last_on: str | None = date("Last day; empty for an event of one day", default=None, may_come=True)
    air_low_c: float | None = quantity(
        "°C", "Air expected, at least", default=None, minimum=-60, maximum=70, plausible=(-30, 50)
    )
    air_high_c: float | None = quantity(
        "°C", "Air expected, at most", default=None, minimum=-60, maximum=70, plausible=(-30, 50)
    )
    track_low_c: float | None = quantity(
        "°C", "Track expected, at least", default=None, minimum=-60, maximum=100, plausible=(-20, 65)
    )
    track_high_c: float | None = quantity(
        "°C", "Track expected, at most", default=None, minimum=-60, maximum=100, plausible=(-20, 65)
    )
    grip: str | None = choice(GRIPS, "Grip expected", default=None)
    runs_per_car: float | None = quantity(
        "runs", "Runs planned for each car, on all days together", default=None, above=0, plausible=(0, 100)
    )
    note: str | None = text("Anything else", default=None)


@record
class EventCar:
    event: str = reference("event", "The event")
    car: str = reference("car", "A car that goes there")
    runs: float | None = quantity(
        "runs",
        "Runs planned for this car, where they differ from the others'",
        default=None,
        above=0,
        plausible=(0, 100),
    )
    note: str | None = text("Anything else", default=None)
