"""Who, where, in what car and on which scale."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import choice, date, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import SURFACES, YES_NO

WHO_WRITES: Final = "who writes"
"""What is kept as typed of a person whom nobody named: whoever wrote the record."""


@record
class Person:
    name: str = text("Name or initials, as the team uses them")
    note: str | None = text("Anything else", default=None)


@record
class Car:
    name: str = text("What the team calls the car")
    drive: str | None = choice(("2WD", "4WD"), "Driven wheels", default=None)
    note: str | None = text("Anything else", default=None)


@record
class Venue:
    name: str = text("Name of the track or hall")
    surface: str | None = choice(SURFACES, "What the track is made of", default=None)
    indoor: str | None = choice(YES_NO, "Under a roof", default=None)
    altitude_m: float | None = quantity(
        "m", "Height above sea level", default=None, minimum=-450, maximum=6000, plausible=(-50, 3000)
    )
    note: str | None = text("Anything else", default=None)


@record
class Scale:
    name: str = text("What the team calls the scale")
    step_g: float = quantity("g", "Smallest step of the display", above=0, plausible=(0.001, 1))
    repeatability_g: float | None = quantity(
        "g", "Standard deviation of one reading, from putting one mass on ten times", default=None, minimum=0
    )
    day_to_day_g: float | None = quantity(
        "g",
        "Standard deviation from one day to another, from the same thing weighed on several days; not known: one step "
        "of it is assumed",
        default=None,
        minimum=0,
    )
    error_bound_g: float | None = quantity("g", "Bound of the error between two readings", default=None, minimum=0)
    checked_on: str | None = date("Day of the last check with a known mass", default=None)
    note: str | None = text("Anything else", default=None)


@record
class ScaleReading:
    scale: str = reference("scale", "The scale", followed=False)
    read_on: str = date("Day")
    thing: str = text("What was on the scale: the same thing each time, untouched in between")
    place: int = whole("Place among the readings of that day, from 1", minimum=1)
    mass_g: float = quantity("g", "Reading", minimum=0, plausible=(0, 500))
    note: str | None = text("Anything else", default=None)
