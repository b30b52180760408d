"""What sits in a car from when on: its diffs, and other pieces by what and value."""

from __future__ import annotations

from bevelbook.declare.fields import choice, date, record, reference, text, time
from bevelbook.declare.vocabulary import INSTEAD_OF_A_DIFF, POSITIONS


@record
class CarDiff:
    car: str = reference("car", "The car")
    position: str = choice(POSITIONS, "Where in the car", facet=True)
    diff: str | None = reference("diff", "The diff that sits there", default=None)
    instead: str | None = choice(INSTEAD_OF_A_DIFF, "What sits there if no gear diff does", default=None)
    from_on: str = date("Day from which it sits there")
    from_at: str | None = time("Time of that day, 14:05", default=None)
    after_run: str | None = reference("run", "The last run before it was put there", default=None, followed=False)
    note: str | None = text("Anything else", default=None)


@record
class CarValue:
    car: str = reference("car", "The car")
    what: str = text("What it is: motor, gearing, tyres, springs", facet=True)
    value: str | None = text("Which one, or how it is set; empty once it is out", default=None)
    from_on: str = date("Day from which that holds")
    from_at: str | None = time("Time of that day, 14:05", default=None)
    after_run: str | None = reference("run", "The last run before that", default=None, followed=False)
    note: str | None = text("Anything else", default=None)
