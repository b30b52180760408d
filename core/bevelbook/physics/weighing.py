"""What a scale can tell: uncertainty of a reading, of a difference, and the smallest difference it can show.

A scale whose repeatability is not known (``None``) was never checked: one step of it is assumed as its standard
deviation, here and nowhere else. A repeatability of 0 has to be said.
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
"""Old oil that washing leaves in a diff, more or less of it each time; this project's proposal."""
USUAL_STEP_G: Final = 0.01
"""Step taken where no scale is noted (common practice, no source)."""
ASSUMED_STEPS: Final = 1.0
"""Steps assumed as the repeatability of a scale that was never checked; this project's proposal."""


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


def day_variance_g2(day_to_day_g: float | None) -> float:
    """What two readings on different days differ by beyond their own uncertainties, as a variance in g²: 2 d², with d
    the standard deviation of the scale from one day to another. Nothing where it is not known, and none on one day.

    >>> round(day_variance_g2(0.01), 6), day_variance_g2(None)
    (0.0002, 0.0)
    """
    return 2.0 * (day_to_day_g or 0.0) ** 2


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
    each). A step that is only assumed of a scale never checked takes what washing leaves in: the larger of the two.

    >>> checked, unchecked = ScaleNoise(0.01, 0.005), ScaleNoise(0.01)
    >>> round(dry_mass_change_seen_g(checked, checked), 3), round(dry_mass_change_seen_g(unchecked, unchecked), 4)
    (0.026, 0.0289)
    """
    known = assumed = 0.0
    for one in (before, now):
        of_days = day_variance_g2(one.day_to_day_g) / 2.0 + (one.error_bound_g**2 / 3.0 if is_other_scale else 0.0)
        known += one._replace(repeatability_g=one.repeatability_g or 0.0).variance_g2 + of_days
        assumed += one.variance_g2 + of_days
    return max(SEEN_AT_95 * sqrt(known) + WASHING_LEAVES_G, SEEN_AT_95 * sqrt(assumed))
