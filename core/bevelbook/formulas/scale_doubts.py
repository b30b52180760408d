"""What looks odd among the readings of a scale, before it counts: a slip, another thing, or a scatter no scale has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.formulas.fill_window import reading_in_words
from bevelbook.stats.least_squares import least_squares
from bevelbook.stats.odd_one_out import odd_one_out, odd_residual
from bevelbook.stats.spread import mean, median

FOR_AN_ODD_ONE: Final = 5
MOST_STEPS: Final = 5.0
"""A reading that scatters by more steps than this is asked about (our own figure)."""
MOST_STEPS_OF_DAYS: Final = 10.0
"""The same for the term from day to day (our own figure)."""
_LEAST_ASKED_G: Final = 0.01
"""On a fine scale a scatter of less is not asked about, nor twice that from day to day (our own figure)."""


class ShownReading(NamedTuple):
    """What a scale showed, in g; of which thing, and on which day."""

    thing: str
    day: str
    mass_g: float


class Doubt(NamedTuple):
    """Readings that are asked about before they count, by their places from 0, and why in words."""

    places: tuple[int, ...]
    words: str


_Days = Mapping[tuple[str, str], Sequence[int]]
"""The places of the readings of each thing and day."""


def doubt_of(
    readings: Sequence[ShownReading], step_g: float, repeatability_g: float, day_to_day_g: float | None
) -> Doubt | None:
    """What is asked about first; None if nothing is.

    One reading off those of its thing and day, with all days looked at together; one day off the other days of its
    thing; then a scatter or a term from day to day that is too large for a scale with such steps.
    """
    days: dict[tuple[str, str], list[int]] = {}
    for place, one in enumerate(readings):
        days.setdefault((one.thing, one.day), []).append(place)
    odd = _odd_reading(readings, days, step_g)
    if odd is not None:
        return Doubt(
            (odd,),
            f"{reading_in_words(readings[odd].mass_g, step_g)} g does not belong with the other readings: if something "
            "else touched the scale then, leave that reading out; if not, weigh all of them again",
        )
    if repeatability_g > max(MOST_STEPS * step_g, _LEAST_ASKED_G):
        far = _furthest(readings, days)
        return Doubt(
            (far,),
            f"one reading scatters by {repeatability_g:.2g} g, which is a lot for steps of {step_g:g} g: was one "
            f"misread, or was something else on the scale? {reading_in_words(readings[far].mass_g, step_g)} g is the "
            "furthest off",
        )
    day = _odd_day(readings, days, step_g)
    if day is None and (day_to_day_g or 0.0) > max(MOST_STEPS_OF_DAYS * step_g, 2.0 * _LEAST_ASKED_G):
        day = _furthest_day(readings, days)
    if day is None:
        return None
    off_g, places = day
    on = f" of {readings[places[0]].day}" if readings[places[0]].day else ""
    return Doubt(
        tuple(places),
        f"the readings{on} are {reading_in_words(off_g, step_g)} g off those of other days: was it the same thing, "
        "untouched in between? If not, leave that day out; if so, weigh again",
    )


def _odd_reading(readings: Sequence[ShownReading], days: _Days, step_g: float) -> int | None:
    """Grubbs' test at 1 % in each day that has five; then all days at once, against the scatter that they share."""
    for places in days.values():
        if len(places) >= FOR_AN_ODD_ONE:
            found = odd_one_out([readings[place].mass_g for place in places], step_g)
            if found is not None:
                return places[found]
    if len(days) == 1 and len(readings) >= FOR_AN_ODD_ONE:
        return None
    groups = {key: number for number, key in enumerate(days)}
    columns = [[float((one.thing, one.day) == key) for one in readings] for key in groups]
    of_thing = {thing: median([one.mass_g for one in readings if one.thing == thing]) for thing, _ in groups}
    values = [one.mass_g - of_thing[one.thing] for one in readings]
    return odd_residual(least_squares(columns, values), values, step_g)


def _odd_day(readings: Sequence[ShownReading], days: _Days, step_g: float) -> tuple[float, Sequence[int]] | None:
    """A day whose mean does not belong with those of the other days of its thing, and how far off it is, in g."""
    for of_thing in _things(days).values():
        values = [mean(readings[place].mass_g for place in places) for places in of_thing]
        fit = least_squares([[1.0] * len(values)], values)
        found = odd_residual(fit, values, step_g)
        if found is not None:
            others = [value for place, value in enumerate(values) if place != found]
            return abs(values[found] - mean(others)), of_thing[found]
    return None


def _furthest(readings: Sequence[ShownReading], days: _Days) -> int:
    """The place of the reading furthest off its thing and day; of two readings that of the thing's other readings."""
    off: list[tuple[float, float, int]] = []
    for (thing, _), places in days.items():
        middle = median([readings[place].mass_g for place in places])
        of_thing = median([one.mass_g for one in readings if one.thing == thing])
        off += [
            (round(abs(readings[place].mass_g - middle), 9), abs(readings[place].mass_g - of_thing), place)
            for place in places
        ]
    return max(off)[2]


def _furthest_day(readings: Sequence[ShownReading], days: _Days) -> tuple[float, Sequence[int]]:
    """The day furthest off the others of its thing, and by how much, in g; of two days the later."""
    found: list[tuple[float, int, Sequence[int]]] = []
    for of_thing in _things(days).values():
        values = [mean(readings[place].mass_g for place in places) for places in of_thing]
        for number, places in enumerate(of_thing):
            others = [value for other, value in enumerate(values) if other != number]
            if others:
                found.append((round(abs(values[number] - median(others)), 9), places[0], places))
    off_g, _, places = max(found)
    return off_g, places


def _things(days: _Days) -> dict[str, list[Sequence[int]]]:
    found: dict[str, list[Sequence[int]]] = {}
    for (thing, _), places in days.items():
        found.setdefault(thing, []).append(places)
    return found
