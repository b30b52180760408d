"""Readings of a scale in a series of weighings: how far each may be off, and how far two of them are off together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import chain, combinations
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.formulas.housing_moisture import ALL_THROUGH_DAYS, Housing, moisture_covariance_g2
from bevelbook.physics.weighing import ScaleNoise

_REMEMBERED: Final = 4_096


class Reading(NamedTuple):
    """Runs since the build, the mass in g, and the variance of that reading alone in g².

    Readings of one scale on one day are off by the same amount, whose variance is ``day_variance_g2``; ``day`` names
    the day and the scale. Those without a day share it with readings after the same runs. ``housing`` takes up water
    with the days; None if it takes up none. ``on`` is the day of its water as a number, ``date`` the day as written.
    """

    runs: float
    mass_g: float
    variance_g2: float
    day: str = ""
    day_variance_g2: float = 0.0
    housing: Housing | None = None
    on: int = 0
    date: str = ""

    @property
    def shares(self) -> bool:
        """Whether part of its error is shared with other readings."""
        return self.day_variance_g2 > 0.0 or self.housing is not None


def reading_of(runs: float, mass_g: float, scale: ScaleNoise, day: str | None = None) -> Reading:
    """A reading of a scale. Two scales do not share a shift; they are known by what is noted of them.

    A term from day to day that is not known does not count: :func:`readings_of` has what is assumed of it.

    >>> one = reading_of(6.0, 22.34, ScaleNoise(0.01, 0.005, 0.01), "2026-05-01")
    >>> round(one.variance_g2, 8), round(one.day_variance_g2, 6)
    (3.333e-05, 0.0001)
    """
    known_as, variance_g2, known_day_g2, _ = _of_day(scale, day)
    return Reading(runs, mass_g, variance_g2, known_as, known_day_g2, date=day or "")


@lru_cache(_REMEMBERED)
def _of_day(scale: ScaleNoise, day: str | None) -> tuple[str, float, float, float]:
    """What the readings of one day and scale have in common: their name, the variance of one, and that of the day, as
    known and as assumed."""
    known_as = f"{day} {scale.step_g:g} {scale.repeatability_g} {scale.day_to_day_g}" if day else ""
    return known_as, scale.variance_g2, scale.known_day_variance_g2, scale.day_variance_g2


def readings_of(series: Sequence[tuple[float, float, ScaleNoise, str | None]]) -> list[Reading]:
    """The readings of one series, from runs, mass in g, scale and day of each.

    With two known days among them, a term from day to day that is not known counts as what is assumed of it, for each
    reading that has a day.

    >>> scale, two_days = ScaleNoise(0.01, 0.005), ("2026-05-01", "2026-05-08")
    >>> [round(one.day_variance_g2, 6) for one in readings_of([(0.0, 22.35, scale, day) for day in two_days])]
    [0.0001, 0.0001]
    >>> [one.day_variance_g2 for one in readings_of([(0.0, 22.35, scale, day) for day in ("2026-05-01", None)])]
    [0.0, 0.0]
    """
    if len({day for *_, day in series if day}) < 2:
        return [reading_of(*one) for one in series]
    found = []
    for runs, mass_g, scale, day in series:
        known_as, variance_g2, known_day_g2, day_g2 = _of_day(scale, day)
        found.append(Reading(runs, mass_g, variance_g2, known_as, day_g2 if day else known_day_g2, None, 0, day or ""))
    return found


def shared_g2(one: Reading, other: Reading) -> float:
    """The part of the errors of two readings that both have, as a covariance in g²; of a reading with itself its
    variance beyond ``variance_g2``.

    This is the one place for what moves several masses together.

    >>> monday, tuesday = (Reading(0.0, 22.0, 1e-5, day, 4e-4) for day in ("monday", "tuesday"))
    >>> shared_g2(monday, monday), shared_g2(monday, tuesday)
    (0.0004, 0.0)
    """
    is_one_day = one.day == other.day and (one.day != "" or one.runs == other.runs)
    shift_g2 = one.day_variance_g2 if is_one_day else 0.0
    return shift_g2 if one.housing is None else shift_g2 + moisture_covariance_g2(one.housing, one.on - other.on)


def uncertainty_between_g(one: Reading, other: Reading) -> float:
    """Standard uncertainty (k = 1) of the difference between two readings; what both have cancels."""
    variance = one.variance_g2 + other.variance_g2
    if one.shares or other.shares:
        variance += shared_g2(one, one) + shared_g2(other, other) - 2.0 * shared_g2(one, other)
    return sqrt(max(0.0, variance))


class Point(NamedTuple):
    """What the scale showed after so many runs, with the standard uncertainty (k = 1) of that in g.

    ``readings`` are those whose mean it is, if part of their errors is shared with others; else empty.
    """

    runs: float
    mass_g: float
    uncertainty_g: float
    readings: tuple[Reading, ...] = ()


def point_of(runs: float, mass_g: float, counting: tuple[Reading, ...]) -> Point:
    """The point that several readings make: their mean, with the variance of the mean.

    >>> one, other = (Reading(6.0, mass_g, 3e-5) for mass_g in (22.34, 22.36))
    >>> round(point_of(6.0, 22.35, (one, other)).uncertainty_g ** 2, 9)
    1.5e-05
    """
    if len(counting) == 1:  # as below, for the usual case
        (one,) = counting
        if one.shares:
            return Point(runs, mass_g, sqrt(one.variance_g2 + shared_g2(one, one)), counting)
        return Point(runs, mass_g, sqrt(one.variance_g2))
    own = sum(one.variance_g2 for one in counting) / len(counting) ** 2
    if not any(one.shares for one in counting):
        return Point(runs, mass_g, sqrt(own))
    return Point(runs, mass_g, sqrt(own + _mean_shared_g2(counting, counting)), counting)


def _mean_shared_g2(some: tuple[Reading, ...], others: tuple[Reading, ...]) -> float:
    if len(some) == len(others) == 1:  # as below, for the usual case
        return shared_g2(some[0], others[0])
    return sum(shared_g2(one, other) for one in some for other in others) / (len(some) * len(others))


def covariance_g2(one: Point, other: Point) -> float:
    """Covariance of two points, in g²; of a point with itself its variance."""
    if one is other:
        return one.uncertainty_g**2
    return _mean_shared_g2(one.readings, other.readings) if one.readings and other.readings else 0.0


def own_uncertainty_g(point: Point) -> float:
    """Standard uncertainty (k = 1) of a point by its own readings alone, without what it shares with others."""
    if not point.readings:
        return point.uncertainty_g
    return sqrt(sum(one.variance_g2 for one in point.readings)) / len(point.readings)


def covariances_g2(points: Sequence[Point]) -> list[list[float]]:
    """Covariance of each two of some points, in g²: what :func:`covariance_g2` gives, faster where there are many.

    >>> one, other = (point_of(runs, 22.0, (Reading(runs, 22.0, 1e-5, "monday", 4e-4),)) for runs in (0.0, 6.0))
    >>> [[round(each, 6) for each in row] for row in covariances_g2([one, other])]
    [[0.00041, 0.0004], [0.0004, 0.00041]]
    """
    count = len(points)
    found = [[0.0] * count for _ in range(count)]
    together: dict[tuple[str, float], list[int]] = {}
    for place, point in enumerate(points):
        found[place][place] = point.uncertainty_g**2
        for key in {(one.day, 0.0 if one.day else one.runs) for one in point.readings}:
            together.setdefault(key, []).append(place)
    pairs = chain.from_iterable(combinations(places, 2) for places in together.values())
    for place, other in chain(pairs, _sharing_water(points)):
        found[place][other] = found[other][place] = covariance_g2(points[place], points[other])
    return found


def _sharing_water(points: Sequence[Point]) -> Iterator[tuple[int, int]]:
    """The places of each two points whose housings may hold some of the same water: less than all of it went since."""
    days = [
        (min(one.on for one in point.readings), max(one.on for one in point.readings), place)
        for place, point in enumerate(points)
        if any(one.housing for one in point.readings)
    ]
    for at, (first, last, place) in enumerate(days):
        for other_first, other_last, other in days[:at]:
            if first - other_last < ALL_THROUGH_DAYS and other_first - last < ALL_THROUGH_DAYS:
                yield place, other


def difference_uncertainty_g(first: Point, last: Point) -> float:
    """Standard uncertainty (k = 1) of the difference between two points, in g.

    u² = u1² + u2² - 2 cov (JCGM 100:2008, 5.2.2; number from memory).
    """
    variance = first.uncertainty_g**2 + last.uncertainty_g**2
    if first.readings and last.readings:
        variance = max(0.0, variance - 2.0 * covariance_g2(first, last))
    return sqrt(variance)
