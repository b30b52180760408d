"""What a scale can tell: uncertainty of a reading, of a difference, and the smallest difference it can show.

A scale whose repeatability is not known (``None``) was never checked: one step of it is assumed as its standard
deviation, here and nowhere else. Likewise one step from one day to another, if it was never checked on a second day.
A repeatability or a term from day to day of 0 has to be said.
"""

from __future__ import annotations

from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.sources import Source

GUM: Final = Source(
    "standard",
    "Evaluation of measurement data: Guide to the expression of uncertainty in measurement, JCGM 100:2008",
    "Joint Committee for Guides in Metrology",
    "2008",
    "F.2.2.1, resolution of a digital indication",
    "not opened; clause number from memory; the factor 1/sqrt(12) is exact for a rectangular width",
)
COVERAGE_K: Final = 2.0
SEEN_AT_95: Final = 1.96
WASHING_LEAVES_G: Final = 0.01
"""Old oil that washing leaves in a diff, more or less of it each time; our own figure."""
NEVER_ON_A_SECOND_DAY: Final = "never checked on a second day"
USUAL_STEP_G: Final = 0.01
"""Step taken where no scale is noted (common practice, no source)."""
ASSUMED_STEPS: Final = 1.0
"""Steps assumed as the repeatability of a scale that was never checked; our own figure."""
ASSUMED_BETWEEN_DAYS: Final = "one step assumed from day to day"
ASSUMED_STEPS_FROM_DAY_TO_DAY: Final = 1.0
"""Steps assumed as its standard deviation from one day to another, if it was never checked on a second day; our own
figure."""


def assumed_repeatability_g(scale_step_g: float, repeatability_g: float | None) -> float:
    """The repeatability to count with, in g: one step of the scale where it is not known.

    >>> assumed_repeatability_g(0.01, None), assumed_repeatability_g(0.01, 0.0), assumed_repeatability_g(0.01, 0.005)
    (0.01, 0.0, 0.005)
    """
    return ASSUMED_STEPS * scale_step_g if repeatability_g is None else repeatability_g


def assumed_in_words(scale_step_g: float, repeatability_g: float | None) -> str | None:
    """What is assumed of a scale that was never checked; None for one that was.

    >>> assumed_in_words(0.01, None)
    'the scale was never checked: one step, 0.01 g, is assumed as its repeatability'
    """
    if repeatability_g is not None:
        return None
    return f"the scale was never checked: one step, {scale_step_g:g} g, is assumed as its repeatability"


def reading_uncertainty_g(scale_step_g: float, repeatability_g: float | None) -> float:
    """Standard uncertainty (k = 1) of one reading, in g.

    u^2 = step^2 / 12 + s^2: a rectangular width of one step and the scale's repeatability (one standard deviation),
    one step where that is not known.

    Source: JCGM 100:2008, F.2.2.1.

    >>> round(reading_uncertainty_g(0.01, 0.005), 6), round(reading_uncertainty_g(0.01, None), 6)
    (0.005774, 0.010408)
    """
    return sqrt(scale_step_g**2 / 12.0 + assumed_repeatability_g(scale_step_g, repeatability_g) ** 2)


def difference_uncertainty_g(scale_step_g: float, repeatability_g: float | None, scale_error_g: float = 0.0) -> float:
    """Standard uncertainty (k = 1) of a mass found as the difference of two readings, in g.

    u^2 = step^2 / 6 + 2 s^2 + (a / sqrt 3)^2, with a the bound of the scale's error over the span between the readings.

    Source: JCGM 100:2008, F.2.2.1; combination by 5.1.2.

    >>> round(difference_uncertainty_g(0.01, 0.0), 7)
    0.0040825
    """
    return sqrt(2.0 * reading_uncertainty_g(scale_step_g, repeatability_g) ** 2 + scale_error_g**2 / 3.0)


def assumed_day_to_day_g(scale_step_g: float, day_to_day_g: float | None) -> float:
    """The standard deviation from one day to another to count with, in g: one step of the scale where it is not known.

    >>> assumed_day_to_day_g(0.01, None), assumed_day_to_day_g(0.01, 0.0), assumed_day_to_day_g(0.01, 0.004)
    (0.01, 0.0, 0.004)
    """
    return ASSUMED_STEPS_FROM_DAY_TO_DAY * scale_step_g if day_to_day_g is None else day_to_day_g


def assumed_from_day_to_day_in_words(scale_step_g: float, day_to_day_g: float | None) -> str | None:
    """What is assumed of a scale that was never checked on a second day; None for one that was.

    >>> assumed_from_day_to_day_in_words(0.01, None)
    'scale never checked on a second day: one step, 0.01 g, is assumed from day to day'
    """
    if day_to_day_g is not None:
        return None
    return (
        f"scale {NEVER_ON_A_SECOND_DAY}: one step, "
        f"{assumed_day_to_day_g(scale_step_g, None):g} g, is assumed from day to day"
    )


def smallest_difference_seen_g(scale_step_g: float, repeatability_g: float | None) -> float:
    """The smallest difference between two readings that is not noise at 95 %, in g: 1.96 sqrt(2) u(reading).

    >>> round(smallest_difference_seen_g(0.01, 0.005), 3)
    0.016
    """
    return SEEN_AT_95 * sqrt(2.0) * reading_uncertainty_g(scale_step_g, repeatability_g)


class ScaleNoise(NamedTuple):
    """How well a scale weighs: its step, its repeatability and its spread from day to day in g, None where not known,
    and the bound of its error between two readings in g."""

    step_g: float = USUAL_STEP_G
    repeatability_g: float | None = None
    day_to_day_g: float | None = None
    error_bound_g: float = 0.0

    @property
    def variance_g2(self) -> float:
        """Variance of one reading, in g²."""
        return self.step_g**2 / 12.0 + assumed_repeatability_g(self.step_g, self.repeatability_g) ** 2

    @property
    def day_variance_g2(self) -> float:
        """Variance of what the readings of one day are off by, in g²; two readings of different days have it twice,
        those of one day share it.

        >>> round(ScaleNoise(0.01, 0.005, 0.004).day_variance_g2, 6), round(ScaleNoise(0.01, 0.005).day_variance_g2, 6)
        (1.6e-05, 0.0001)
        """
        return assumed_day_to_day_g(self.step_g, self.day_to_day_g) ** 2

    @property
    def known_day_variance_g2(self) -> float:
        """The same where nothing may be assumed, as the days of the readings are not said: 0 if it is not known."""
        return (self.day_to_day_g or 0.0) ** 2


def scale_noise(
    step_g: float | None = None,
    repeatability_g: float | None = None,
    day_to_day_g: float | None = None,
    error_bound_g: float | None = None,
) -> ScaleNoise:
    """A scale as it is noted; one without a step counts as having the usual one.

    >>> scale_noise().step_g, scale_noise(0.1).repeatability_g
    (0.01, None)
    """
    return ScaleNoise(step_g or USUAL_STEP_G, repeatability_g, day_to_day_g, error_bound_g or 0.0)


def dry_mass_change_seen_g(before: ScaleNoise, now: ScaleNoise, *, is_other_scale: bool = False) -> float:
    """The smallest change between two dry masses of a diff, washed before each and weighed on two days, that is neither
    noise nor what washing leaves, in g.

    1.96 sqrt(u1^2 + u2^2 + d1^2 + d2^2), and what washing leaves on top; two scales add their own errors (a^2 / 3
    each). A step that is only assumed, as repeatability or from day to day, takes what washing leaves in: the larger of
    the two.

    >>> [round(dry_mass_change_seen_g(one, one), 3) for one in (ScaleNoise(0.01, 0.005, 0.0), ScaleNoise(0.01, 0.005))]
    [0.026, 0.032]
    """
    known = assumed = 0.0
    for one in (before, now):
        of_scale = one.error_bound_g**2 / 3.0 if is_other_scale else 0.0
        known += one._replace(repeatability_g=one.repeatability_g or 0.0).variance_g2
        known += one.known_day_variance_g2 + of_scale
        assumed += one.variance_g2 + one.day_variance_g2 + of_scale
    return max(SEEN_AT_95 * sqrt(known) + WASHING_LEAVES_G, SEEN_AT_95 * sqrt(assumed))
