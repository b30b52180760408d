"""How well a scale repeats itself: from one thing put on it again and again, on one day or several."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import fsum, isclose, sqrt
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import listing, quantity, record, text, which_day, whole
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.inputs import scale_step
from bevelbook.formulas.scale_doubts import Doubt, ShownReading, doubt_of
from bevelbook.physics.weighing import (
    ASSUMED_BETWEEN_DAYS,
    NEVER_ON_A_SECOND_DAY,
    SEEN_AT_95,
    ScaleNoise,
    smallest_difference_seen_g,
)
from bevelbook.plugin.calculator import Formula, refuse
from bevelbook.plugin.returned_values import Judgement, Verdict
from bevelbook.stats.line import t_value
from bevelbook.stats.spread import mean
from bevelbook.stats.variance_parts import VarianceParts, deviation_interval, variance_parts, widening

READINGS_WANTED: Final = 10
READINGS_NEEDED: Final = 5
"""From this many readings a repeatability counts, from this many it is good (our own figures): simulated, a
loss within k = 2 is then held in 94 to 97 of 100."""
DAYS_WANTED: Final = 4
"""From this many days on the term from day to day holds k = 2 as well (our own figure, simulated)."""
_DECIMALS: Final = 6


@record
class CheckReading:
    mass_g: float = quantity("g", "What the scale showed", minimum=0)
    day: str | None = which_day("Day, a date or a number, if the readings are from more than one", default=None)
    thing: str | None = text("What was on the scale, if it was not the same thing each time", default=None)


@record
class ScaleCheckGiven:
    readings: tuple[CheckReading, ...] = listing(
        CheckReading,
        "Readings of one thing, taken off and put on again for each, in order",
        singular="reading",
        same_as="listings.scale_readings",
    )
    scale_step_g: float = scale_step()


@record
class ScaleCheckFound:
    repeatability_g: float = quantity(
        "g",
        "Standard deviation of one reading as shown, its rounding included; never under what rounding alone makes",
        exact=True,
    )
    repeatability_low_g: float = quantity(
        "g", "Lower end of that, 95 %; about 90 % where it is under one step", exact=True
    )
    repeatability_high_g: float = quantity("g", "Upper end of that, 95 %", exact=True)
    counted_repeatability_g: float = quantity(
        "g",
        "Repeatability to keep for the scale: without the rounding, which every mass counts by itself, widened where "
        "the readings are few, and never under what rounding alone makes",
        exact=True,
    )
    drift_g_per_reading: float | None = quantity("g/reading", "How it creeps from one reading to the next", exact=True)
    drift_low_g_per_reading: float | None = quantity("g/reading", "Lower end of that, 95 %", exact=True)
    drift_high_g_per_reading: float | None = quantity("g/reading", "Upper end of that, 95 %", exact=True)
    day_to_day_g: float | None = quantity(
        "g", "Standard deviation from one day to another, from two days on", exact=True
    )
    counted_day_to_day_g: float | None = quantity(
        "g", "The same to keep for the scale, widened where the days are few", exact=True
    )
    smallest_seen_g: float = quantity("g", "Smallest difference between two masses of one day that it sees", exact=True)
    smallest_seen_between_days_g: float = quantity(
        "g", "The same between two days; from readings of one day with one step assumed from day to day", exact=True
    )
    readings: int = whole("Readings")
    days: int = whole("Days")


class _Sorted(NamedTuple):
    """Readings in g by thing, then by day, in order."""

    things: tuple[tuple[tuple[float, ...], ...], ...]
    days: int

    @property
    def of_days(self) -> list[tuple[float, ...]]:
        return [day for days in self.things for day in days]


class _Drift(NamedTuple):
    slope: float
    half_width: float

    @property
    def is_decided(self) -> bool:
        return abs(self.slope) > self.half_width


def scale_check(given: ScaleCheckGiven) -> ScaleCheckFound:
    """Repeatability, drift and day-to-day term of a scale.

    v = variance of the readings within days (MSW, type A, JCGM 100:2008, 4.2); repeatability = sqrt(max(v, r)) with r =
    step^2 / 12, what rounding alone makes (F.2.2.1). Kept: s = sqrt(max(w^2 v - r, r)), as every mass counts u^2 = r +
    s^2; w = t / 1.96 at the degrees of freedom (G.3); not under r, so that one digit of flicker is not a loss. Day to
    day: d^2 = (MSB - MSW) / n0, not under 0; kept: the variance of a reading of any day, widened at its effective
    degrees of freedom (G.4), less r + s^2. Drift: least squares of the readings of each day on their place, one slope
    for all.

    Raises InputError without two readings of one thing on one day.
    """
    found = _sorted(given)
    parts = variance_parts(found.things)
    if not parts.within_freedom:
        raise refuse(
            given,
            "readings",
            "one reading says nothing about scatter"
            if len(given.readings) == 1
            else "no thing was read twice on one day, so scatter and day cannot be separated",
            remedy=Sentence(
                f"Put one thing on the scale {READINGS_WANTED} times on one day, taking it off each time, and give ",
                Named("readings"),
                ".",
            ),
            code="missing_input",
        )
    rounding = given.scale_step_g**2 / 12.0
    freedom = parts.within_freedom
    shown = sqrt(max(parts.within, rounding))
    low, high = deviation_interval(sqrt(parts.within), freedom)
    floor = sqrt(rounding)
    kept = sqrt(max(widening(freedom) ** 2 * parts.within - rounding, rounding))
    drift = _drift_of(found.of_days, given.scale_step_g)
    day, kept_day = _day_terms(parts, rounding + kept**2)
    noise = ScaleNoise(given.scale_step_g, kept, kept_day)
    return ScaleCheckFound(
        repeatability_g=shown,
        repeatability_low_g=max(low, floor),
        repeatability_high_g=max(high, floor),
        counted_repeatability_g=kept,
        drift_g_per_reading=None if drift is None else drift.slope,
        drift_low_g_per_reading=None if drift is None else drift.slope - drift.half_width,
        drift_high_g_per_reading=None if drift is None else drift.slope + drift.half_width,
        day_to_day_g=day,
        counted_day_to_day_g=kept_day,
        smallest_seen_g=seen_on_one_day_g(noise),
        smallest_seen_between_days_g=seen_between_days_g(noise),
        readings=len(given.readings),
        days=found.days,
    )


def counted_noise(given: ScaleCheckGiven, found: ScaleCheckFound, set_day_to_day_g: float | None = None) -> ScaleNoise:
    """The scale as its masses count with it after the check; ``set_day_to_day_g`` is what its record says of other
    days, in g, which counts where the readings say nothing of them."""
    of_days = set_day_to_day_g if found.counted_day_to_day_g is None else found.counted_day_to_day_g
    return ScaleNoise(given.scale_step_g, found.counted_repeatability_g, of_days)


def seen_on_one_day_g(noise: ScaleNoise) -> float:
    """The smallest difference between two masses of one day that a scale sees, in g.

    >>> round(seen_on_one_day_g(ScaleNoise(0.01, 0.005)), 3)
    0.016
    """
    return smallest_difference_seen_g(noise.step_g, noise.repeatability_g)


def seen_between_days_g(noise: ScaleNoise) -> float:
    """The same between masses of two days, with the scale's term from day to day: one step where it is not known.

    >>> [round(seen_between_days_g(ScaleNoise(0.01, 0.005, of_days)), 3) for of_days in (0.004, None)]
    [0.019, 0.032]
    """
    return SEEN_AT_95 * sqrt(2.0 * (noise.variance_g2 + noise.day_variance_g2))


def _by_thing(given: ScaleCheckGiven) -> dict[str, dict[str, list[float]]]:
    """The readings of each thing by day, in g."""
    by_thing: dict[str, dict[str, list[float]]] = {}
    for one in given.readings:
        days = by_thing.setdefault((one.thing or "").casefold(), {})
        days.setdefault(one.day or "", []).append(one.mass_g)
    return by_thing


def _sorted(given: ScaleCheckGiven) -> _Sorted:
    by_thing = _by_thing(given)
    things = tuple(tuple(tuple(day) for day in days.values()) for days in by_thing.values())
    return _Sorted(things, len({day for days in by_thing.values() for day in days}))


def _day_terms(parts: VarianceParts, counted_variance: float) -> tuple[float | None, float | None]:
    """The term from day to day as analysed, and as kept beside the counted variance of a reading (g²)."""
    if parts.group_variance is None or parts.reading_variance is None:
        return None, None
    of_any_day = widening(parts.reading_freedom) ** 2 * parts.reading_variance
    return sqrt(parts.group_variance), sqrt(max(of_any_day - counted_variance, 0.0))


def _drift_of(days: Sequence[Sequence[float]], step_g: float) -> _Drift | None:
    """The common slope over the places of each day, with the half width of its 95 % interval; None where two readings
    of a day are all there is. Readings on a line to the last digit still scatter by their rounding."""
    s_xx = s_xy = s_yy = 0.0
    freedom = -1
    for day in days:
        middle, centre = (len(day) - 1) / 2.0, mean(day)
        s_xx += fsum((place - middle) ** 2 for place in range(len(day)))
        s_xy += fsum((place - middle) * (mass - centre) for place, mass in enumerate(day))
        s_yy += fsum((mass - centre) ** 2 for mass in day)
        freedom += len(day) - 1
    if freedom < 1 or not s_xx:
        return None
    slope = s_xy / s_xx
    residual = max((s_yy - slope * s_xy) / freedom, step_g**2 / 12.0)
    return _Drift(slope, t_value(freedom) * sqrt(residual / s_xx))


class ScaleFigures(NamedTuple):
    """What a scale counts with, in g; ``day_to_day_g`` is None where it was read on one day only and nobody set it."""

    repeatability_g: float
    day_to_day_g: float | None

    @property
    def words(self) -> str:
        """Both in words.

        >>> ScaleFigures(0.00524, None).words, ScaleFigures(0.00524, 0.011).words
        ('0.0052 g', '0.0052 g, and 0.011 g from day to day')
        """
        days = "" if self.day_to_day_g is None else f", and {two_digits(self.day_to_day_g)} g from day to day"
        return f"{two_digits(self.repeatability_g)} g{days}"


def doubt_about(given: ScaleCheckGiven, found: ScaleCheckFound) -> Doubt | None:
    """What is asked about before the readings count; None if nothing looks odd."""
    return doubt_of(
        [ShownReading((one.thing or "").casefold(), one.day or "", one.mass_g) for one in given.readings],
        given.scale_step_g,
        found.repeatability_g,
        found.day_to_day_g,
    )


def figures_to_keep(
    given: ScaleCheckGiven,
    found: ScaleCheckFound,
    *,
    is_confirmed: bool = False,
    set_day_to_day_g: float | None = None,
) -> ScaleFigures | None:
    """What the scale counts with after these readings; None where they are too few, or one is asked about first.

    ``is_confirmed``: a person says that what looks odd is right. ``set_day_to_day_g`` is the term from day to day that
    the record of the scale has, in g: it stays where no thing was read on two days, as such readings say nothing of it.
    """
    if found.readings < READINGS_NEEDED or (not is_confirmed and doubt_about(given, found) is not None):
        return None
    of_days = counted_noise(given, found, set_day_to_day_g).day_to_day_g
    return ScaleFigures(
        round(found.counted_repeatability_g, _DECIMALS), None if of_days is None else round(of_days, _DECIMALS)
    )


def judge_scale_check(
    given: ScaleCheckGiven, found: ScaleCheckFound, set_day_to_day_g: float | None = None
) -> Judgement:
    """What the scale sees first, then how well that is known, and what would make it better; ``set_day_to_day_g`` is
    what its record says of other days, in g, where it is known."""
    doubt = doubt_about(given, found)
    findings = tuple(_check_findings(given))
    noise = counted_noise(given, found, set_day_to_day_g)
    if doubt is not None:
        return Judgement("unclear", (doubt.words, f"as the readings are, {sees_in_words(noise)}"), findings)
    drifts = _is_drifting(found)
    verdict: Verdict = "ok"
    if found.readings < READINGS_NEEDED:
        verdict = "unclear"
    elif found.readings < READINGS_WANTED or drifts:
        verdict = "caution"
    return Judgement(verdict, tuple(_check_reasons(given, found, noise, drifts)), findings)


def _is_drifting(found: ScaleCheckFound) -> bool:
    low, high = found.drift_low_g_per_reading, found.drift_high_g_per_reading
    return low is not None and high is not None and (low > 0.0 or high < 0.0)


def _check_reasons(given: ScaleCheckGiven, found: ScaleCheckFound, noise: ScaleNoise, drifts: bool) -> Iterator[str]:
    if found.readings < READINGS_NEEDED:
        yield (
            f"{counted(found.readings, 'reading')} say too little: put it on "
            f"{_more_times(READINGS_WANTED - found.readings)}"
        )
    yield sees_in_words(noise)
    if drifts:
        yield (
            f"it creeps by {found.drift_g_per_reading:+.2g} g from one reading to the next "
            f"({found.drift_low_g_per_reading:+.2g} to {found.drift_high_g_per_reading:+.2g} g, 95 %): let it warm up, "
            "set it to zero before each reading, and do it again"
        )
    yield scatter_in_words(given, found)
    if READINGS_NEEDED <= found.readings < READINGS_WANTED:
        yield f"put it on {_more_times(READINGS_WANTED - found.readings)} to know it better"
    yield from _day_words(found, noise, days_compared(given))


def days_compared(given: ScaleCheckGiven) -> int:
    """How many days the term from day to day rests on: only days that share a thing with another day say anything.

    Two things on two days each are two comparisons, as much as three days of one thing have; never more than there are
    such days.
    """
    compared = [days for days in _by_thing(given).values() if len(days) > 1]
    apart = sum(len(days) - 1 for days in compared)
    return min(apart + 1, len({day for days in compared for day in days})) if apart else 0


def _day_words(found: ScaleCheckFound, noise: ScaleNoise, compared: int) -> Iterator[str]:
    if found.day_to_day_g is None and noise.day_to_day_g is not None:
        yield (
            f"from one day to another: the {two_digits(noise.day_to_day_g)} g that was set by hand stays, as no thing "
            "was read on two days; put the same thing on again on other days to check it"
        )
        return
    if found.day_to_day_g is None:
        yield (
            f"from one day to another: {NEVER_ON_A_SECOND_DAY}, so one step is assumed; put the same thing on again on "
            "other days"
        )
        return
    few = (
        f"; {counted(compared, 'day')}{'' if compared == found.days else ' with one thing on them'} say little about "
        f"it, and intervals between days hold less than 95 % until there are {DAYS_WANTED}"
        if compared < DAYS_WANTED
        else ""
    )
    yield (
        f"from one day to another it is off by {two_digits(found.day_to_day_g)} g (standard deviation), counted as "
        f"{two_digits(found.counted_day_to_day_g or 0.0)} g{few}"
    )


def scatter_in_words(given: ScaleCheckGiven, found: ScaleCheckFound) -> str:
    """How far one reading scatters, how well that is known, and what counts."""
    shown, kept = two_digits(found.repeatability_g), two_digits(found.counted_repeatability_g)
    if isclose(found.counted_repeatability_g, given.scale_step_g / sqrt(12.0)):
        return (
            f"one reading scatters by {shown} g (standard deviation, rounding included): steps of "
            f"{given.scale_step_g:g} g hide the rest, so {kept} g is counted, as much as rounding alone makes; what is "
            "said of a loss then holds in more than 95 of 100"
        )
    sure = "95 %" if found.repeatability_g >= given.scale_step_g else "about 9 in 10, as steps are coarse"
    spread = f"{two_digits(found.repeatability_low_g)} to {two_digits(found.repeatability_high_g)} g fits, {sure}"
    return (
        f"one reading scatters by {shown} g (standard deviation, rounding included; {spread}) from "
        f"{counted(found.readings, 'reading')}; the repeatability to count with is {kept} g"
    )


def sees_in_words(noise: ScaleNoise) -> str:
    """The answer: what a scale sees.

    >>> sees_in_words(ScaleNoise(0.01, 0.005, 0.01))
    'it sees 0.016 g on one day, 0.032 g from one day to another'
    """
    return f"it sees {smallest_seen_of(noise)}"


def smallest_seen_of(noise: ScaleNoise) -> str:
    """The smallest loss that a scale sees, on one day and between days.

    >>> smallest_seen_of(ScaleNoise(0.01, 0.005))
    '0.016 g on one day, 0.032 g from one day to another (one step assumed from day to day)'
    """
    words = f"{two_digits(seen_on_one_day_g(noise))} g on one day"
    words = f"{words}, {two_digits(seen_between_days_g(noise))} g from one day to another"
    return f"{words} ({ASSUMED_BETWEEN_DAYS})" if noise.day_to_day_g is None else words


def two_digits(value_g: float) -> str:
    """Two digits, never finer than a tenth of a milligram.

    >>> two_digits(0.01633), two_digits(0.0028868), two_digits(0.0), two_digits(0.2884)
    ('0.016', '0.0029', '0', '0.29')
    """
    return f"{round(float(f'{value_g:.2g}'), 5):g}"


def _more_times(count: int) -> str:
    return "once more" if count == 1 else f"{count} more times"


def _check_findings(given: ScaleCheckGiven) -> Iterator[str]:
    off = [one.mass_g for one in given.readings if not _is_a_step(one.mass_g, given.scale_step_g)]
    if off:
        yield (
            f"{off[0]:g} g is not a reading of a scale with steps of {given.scale_step_g:g} g: check the step, or type "
            "what it shows"
        )


def _is_a_step(mass_g: float, step_g: float) -> bool:
    steps = mass_g / step_g
    return isclose(steps, round(steps), abs_tol=1e-3)


def scale_check_working(given: ScaleCheckGiven, found: ScaleCheckFound) -> tuple[str, ...]:
    parts = variance_parts(_sorted(given).things)
    step, freedom = given.scale_step_g, parts.within_freedom
    lines = [
        f"within days: v = {parts.within:.4g} g² from {freedom} degrees of freedom (readings less days and things)",
        f"rounding: r = step²/12 = {step:g}²/12 g² = {step**2 / 12:.4g} g²; a reading has u² = r + s², so r is taken "
        "out of v and never counted twice",
        f"repeatability as shown = √max(v, r) = {found.repeatability_g:.4f} g",
        f"to count with: s = √max(w² v − r, r) = {found.counted_repeatability_g:.4f} g, w = t/1.96 = "
        f"{widening(freedom):.3f} for {freedom} degrees of freedom",
        f"smallest difference seen on one day = 1.96 √(2 (r + s²)) = {found.smallest_seen_g:.4f} g",
    ]
    if found.day_to_day_g is not None and parts.between is not None and parts.reading_variance is not None:
        lines += [
            f"between days: MSB = {parts.between:.4g} g², n0 = {parts.readings_per_group:g}; d = √max((MSB − v)/n0, 0) "
            f"= {found.day_to_day_g:.4f} g",
            f"to count with: V = MSB/n0 + (1 − 1/n0) v = {parts.reading_variance:.4g} g² with "
            f"{parts.reading_freedom:.1f} effective degrees of freedom, w = {widening(parts.reading_freedom):.3f}; "
            f"d = √max(w² V − r − s², 0) = {found.counted_day_to_day_g or 0.0:.4f} g",
        ]
    return tuple(lines)


SCALE_CHECK: Final = Formula(
    title="Scale check",
    given=ScaleCheckGiven,
    found=ScaleCheckFound,
    compute=scale_check,
    judge=judge_scale_check,
    working=scale_check_working,
)
