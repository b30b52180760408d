"""Readings of a diff with the water in its housing: what a sister housing takes off, and who shares water with whom.

The water of a sister housing is its mass less that at the first reading that has one. It is taken off the readings of
other days that have one too; they then hold as much water as that first reading did. A mass of the sister that cannot
be right (``sister_housing.py``) is as none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import sqrt

from bevelbook.formulas.day_number import day_number
from bevelbook.formulas.housing_moisture import (
    Housing,
    SisterState,
    is_worth_saying,
    less_water_g,
    moisture_g,
    moisture_in_words,
    sister_in_words,
    takes_up_water,
)
from bevelbook.formulas.readings import Point, Reading, difference_uncertainty_g
from bevelbook.formulas.sister_housing import DoubtfulSister, doubtful_sisters


def with_water(
    readings: Sequence[Reading], days: Sequence[str | None], sisters_g: Sequence[float | None], housing: Housing
) -> list[Reading]:
    """The readings of one build, less the water of the sister housing where there is one, else with the water that days
    may move.

    ``days`` and ``sisters_g`` go with ``readings``. A reading without a day counts as of the day of the first one.

    >>> one, other = Reading(0.0, 22.35, 1e-5), Reading(6.0, 22.38, 1e-5)
    >>> found = with_water([one, other], ["2026-05-01", "2026-05-08"], [4.98, 5.01], Housing("nylon"))
    >>> round(found[1].mass_g, 3), round(found[1].variance_g2, 6), found[1].on - found[0].on
    (22.35, 2e-05, 0)
    """
    on = _numbers(readings, days)
    found, reference = list(readings), None
    if sisters_g.count(None) < len(sisters_g):
        sisters_g = believable_sisters_g(readings, days, sisters_g, housing)
        reference = _first_with_sister(readings, sisters_g)
    first_sister_g = None if reference is None else sisters_g[reference]
    if reference is not None and first_sister_g is not None:
        for place, sister_g in enumerate(sisters_g):
            is_that_day = on[place] == on[reference] and days[place] is not None
            if place == reference or sister_g is None or is_that_day:
                continue
            found[place] = _less_water(readings[place], sister_g, first_sister_g)
            found[reference] = _with_sister(readings[reference])
            on[place] = on[reference]
    if len(set(on)) > 1 and takes_up_water(housing):
        found = [
            Reading(one.runs, one.mass_g, one.variance_g2, one.day, one.day_variance_g2, housing, number, one.date)
            for one, number in zip(found, on, strict=True)
        ]
    return found


def sisters_of_the_day_g(readings: Sequence[Reading], sisters_g: Sequence[float | None]) -> list[float | None]:
    """The masses of the sister, where that of a day holds for all readings of that day and scale that have none.

    One mass alone is compared with nothing, and is not lent.

    >>> some = [Reading(runs, 22.2, 1e-5, day) for runs, day in ((0.0, "1 May"), (6.0, "8 May"), (6.0, "8 May"))]
    >>> sisters_of_the_day_g(some, [4.98, 5.00, None]), sisters_of_the_day_g(some, [None, 5.00, None])
    ([4.98, 5.0, 5.0], [None, 5.0, None])
    """
    if len(sisters_g) - sisters_g.count(None) < 2:
        return list(sisters_g)
    having = {
        one.day: sister_g for one, sister_g in zip(readings, sisters_g, strict=True) if one.day and sister_g is not None
    }
    return [
        having.get(one.day) if sister_g is None else sister_g for one, sister_g in zip(readings, sisters_g, strict=True)
    ]


def believable_sisters_g(
    readings: Sequence[Reading], days: Sequence[str | None], sisters_g: Sequence[float | None], housing: Housing
) -> list[float | None]:
    """The masses of the sister without those that cannot be right; ``readings`` are as read.

    >>> one, other = Reading(0.0, 22.35, 1e-5), Reading(6.0, 22.05, 1e-5)
    >>> believable_sisters_g([one, other], ["2026-05-01", "2026-05-06"], [4.98, 4.68], Housing("nylon"))
    [None, None]
    """
    doubtful = _doubtful(readings, days, sisters_g, housing)
    if not doubtful:
        return list(sisters_g)
    out = {one.place for one in doubtful}
    left = [None if place in out else sister_g for place, sister_g in enumerate(sisters_g)]
    return left if sum(sister_g is not None for sister_g in left) > 1 else [None] * len(left)


def _doubtful(
    readings: Sequence[Reading], days: Sequence[str | None], sisters_g: Sequence[float | None], housing: Housing
) -> list[DoubtfulSister]:
    if all(sister_g is None for sister_g in sisters_g):
        return []
    return doubtful_sisters(readings, [day_number(day) for day in days], sisters_g, housing)


def sister_doubts(
    readings: Sequence[Reading], days: Sequence[str | None], sisters_g: Sequence[float | None], housing: Housing
) -> Iterator[tuple[DoubtfulSister, str]]:
    """The masses of the sister that cannot be right, each with what is asked; ``readings`` are as read."""
    doubtful = _doubtful(readings, days, sisters_g, housing)
    if doubtful:
        named = [f"on {day}" if day else f"at run {one.runs:g}" for one, day in zip(readings, days, strict=True)]
        yield from ((one, one.words(named)) for one in doubtful)


def sister_state(
    readings: Sequence[Reading], days: Sequence[str | None], sisters_g: Sequence[float | None], housing: Housing
) -> SisterState:
    """What keeps a sister from taking off the water up to the last reading; ``readings`` are as read."""
    if _doubtful(readings, days, sisters_g, housing):
        return "doubtful"
    last = max(range(len(readings)), key=lambda place: (readings[place].runs, sisters_g[place] is not None))
    return "none" if sisters_g[last] is None else "late"


def sister_since(
    readings: Sequence[Reading], days: Sequence[str | None], sisters_g: Sequence[float | None], housing: Housing
) -> Iterator[str]:
    """From when on a sister counts, where the first reading has none; ``readings`` are as read."""
    having = [(readings[place].runs, place) for place, sister_g in enumerate(sisters_g) if sister_g is not None]
    if not having or not takes_up_water(housing):
        return
    on = _numbers(readings, days)
    first = min(range(len(readings)), key=lambda place: (readings[place].runs, sisters_g[place] is None))
    runs, place = min(having)
    if sisters_g[first] is None and on[place] != on[first]:
        yield (
            f"the sister housing has no mass at run {readings[first].runs:g}: it counts from run {runs:g} on, "
            "and water until then stays in the uncertainty"
        )


def _numbers(readings: Sequence[Reading], days: Sequence[str | None]) -> list[int]:
    numbers = [day_number(day) for day in days]
    known = [(one.runs, place) for place, one in enumerate(readings) if numbers[place] is not None]
    first = numbers[min(known)[1]] if known else 0
    return [first or 0 if number is None else number for number in numbers]


def _first_with_sister(readings: Sequence[Reading], sisters_g: Sequence[float | None]) -> int | None:
    """The place of the first reading that has a sister, if there are two."""
    having = [(one.runs, place) for place, one in enumerate(readings) if sisters_g[place] is not None]
    return min(having)[1] if len(having) > 1 else None


def _less_water(reading: Reading, sister_g: float, first_sister_g: float) -> Reading:
    less = round(less_water_g(reading.mass_g, sister_g, first_sister_g), 6)
    return _with_sister(reading)._replace(mass_g=less)


def _with_sister(reading: Reading) -> Reading:
    """The sister was weighed on the same scale, so it is off as much as the diff."""
    return reading._replace(variance_g2=2.0 * reading.variance_g2)


def water_said(
    first: Point,
    last: Point,
    readings: Sequence[Reading],
    masses_g: Sequence[float],
    sisters_g: Sequence[float | None],
    sister: SisterState = "none",
) -> Iterator[str]:
    """What the sister housing took off between the first and the last point that count, and what water may still move.

    ``masses_g`` are the masses as read, ``readings`` what :func:`with_water` made of them, ``sisters_g`` those that
    can be right.
    """
    taken_off = [
        mass_g - one.mass_g
        for one, mass_g, sister_g in zip(readings, masses_g, sisters_g, strict=True)
        if sister_g is not None and one.runs == last.runs
    ]
    if taken_off and first.runs != last.runs and sum(sister_g is not None for sister_g in sisters_g) > 1:
        yield sister_in_words(taken_off[-1])
    water = water_that_matters(first, last)
    if water is not None:
        yield moisture_in_words(*water, sister)


def water_that_matters(first: Point, last: Point) -> tuple[Housing, float] | None:
    """The housing and the days between two points, where the water in it may move their difference enough to be named;
    None where it does not.
    """
    if not first.readings or not last.readings:
        return None
    housing, days = first.readings[0].housing, last.readings[-1].on - first.readings[0].on
    if housing is None:
        return None
    without = sqrt(max(0.0, difference_uncertainty_g(first, last) ** 2 - moisture_g(housing, days) ** 2))
    return (housing, days) if is_worth_saying(housing, days, without) else None
