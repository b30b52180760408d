"""The temperature of a diff at the end of a run, from readings a few minutes after it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.declare.fields import listing, quantity, record
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.display.spans import span_in_words
from bevelbook.formulas.expected_temperature import WIDE_C
from bevelbook.physics.cooling import READING_ERROR_C, Cooling, cooling_curve, half_life_s
from bevelbook.plugin.calculator import Formula, refuse
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.bounded import half_width_of_bounded

HOTTEST_C: Final = 200.0
"""What a reading may be at most; no diff ends a run hotter than that."""
EARLY_S: Final = 60.0
"""Sooner than this after the run the oil inside is still hotter than the case; our own figure."""


@record
class CoolingReading:
    after_s: float = quantity(
        "s", "Time from the end of the run to the reading", minimum=0, plausible=(0, 3600), example="120"
    )
    temperature_c: float = quantity(
        "°C", "What the diff read", minimum=-60, maximum=200, plausible=(-20, 120), example="38"
    )


@record
class EndGiven:
    readings: tuple[CoolingReading, ...] = listing(
        CoolingReading,
        "Readings of one spot of the diff after the run, two or more",
        singular="reading",
        same_as="listings.readings",
    )
    ambient_c: float = quantity(
        "°C",
        "Air around the diff while it cooled",
        minimum=-60,
        maximum=70,
        plausible=(-30, 50),
        same_as="runs.air_temp_c",
    )
    reading_error_k: float = quantity(
        "K",
        "How far off a single reading may be, of the air too (the default is our own figure)",
        default=READING_ERROR_C,
        above=0,
        maximum=20,
    )


@record
class EndFound:
    end_temperature_c: float = quantity("°C", "Temperature of the diff's case at the end of the run")
    low_c: float = quantity("°C", "Lower end of that, 95 %", exact=True, low_of="end_temperature_c", heading="from")
    high_c: float = quantity("°C", "Upper end of that", exact=True, high_of="end_temperature_c", heading="to")
    half_life_s: float = quantity(
        "s", "Time in which half of what it is above the air is gone", digits=0, heading="half gone in"
    )


def _sorted(given: EndGiven) -> list[CoolingReading]:
    return sorted(given.readings, key=lambda one: one.after_s)


def _curve(given: EndGiven) -> Cooling:
    """The cooling curve. Raises InputError for readings that have none."""
    readings = _sorted(given)
    if len(readings) < 2:
        raise refuse(
            given,
            "readings",
            "one reading does not say how fast the diff cooled" if readings else "there is no reading",
            remedy="Read the same spot twice, such as 2 and 5 minutes after the run.",
            code="missing_input",
        )
    if readings[0].after_s == readings[-1].after_s:
        raise refuse(
            given,
            "readings",
            f"all readings are from one time, {span_in_words(readings[0].after_s)} after the run",
            remedy="Read the same spot again a few minutes later.",
        )
    coldest = min(readings, key=lambda one: one.temperature_c)
    if coldest.temperature_c - given.ambient_c <= 2.0 * given.reading_error_k:
        raise refuse(
            given,
            "readings",
            f"{coldest.temperature_c:g} °C after {span_in_words(coldest.after_s)} is "
            f"{_against_air(coldest.temperature_c - given.ambient_c)} the air at {given.ambient_c:g} °C, and each of "
            f"the two may be off by {given.reading_error_k:g} °C",
            remedy=Sentence("Read sooner after the run, or correct ", Named("ambient_c"), "."),
        )
    curve = cooling_curve([one.after_s for one in readings], [one.temperature_c for one in readings], given.ambient_c)
    if curve is None:
        raise refuse(
            given,
            "readings",
            f"the readings do not fall: {_in_words(readings)}",
            remedy="The case was still warming from the oil inside, or another spot was read: read one spot from a "
            "minute after the run on.",
        )
    if curve.end_c > HOTTEST_C:
        raise refuse(
            given,
            "readings",
            f"{_in_words(readings)} is a fall so fast that the run would have ended above {HOTTEST_C:g} °C",
            remedy="Check times and temperatures; read one spot, the second time a few minutes after the first.",
        )
    return curve


def _against_air(above_c: float) -> str:
    return "not above" if above_c <= 0 else f"only {above_c:.1f} °C above"


def _in_words(readings: list[CoolingReading]) -> str:
    return ", ".join(f"{one.temperature_c:g} °C after {span_in_words(one.after_s)}" for one in readings)


def end_temperature(given: EndGiven) -> EndFound:
    """Newton's cooling curve through the readings, taken back to the end of the run, with what its errors make of it.

    Each reading, and the air, is off by anything up to ``reading_error_k`` either way, independently; the interval
    holds 95 % of what these errors make of the answer together (first order). Where the readings are farther from one
    curve than that explains, it is widened by as much. It was never colder than a reading less its error, since it only
    cooled, and never hotter than ``HOTTEST_C``: the interval is cut there.
    """
    curve = _curve(given)
    bound, half = _bound_c(given, curve), _half_width_c(given, curve)
    hottest_read = max(one.temperature_c for one in given.readings)
    return EndFound(
        end_temperature_c=curve.end_c,
        low_c=max(curve.end_c - half, hottest_read - bound),
        high_c=min(curve.end_c + half, HOTTEST_C),
        half_life_s=half_life_s(curve.time_constant_s),
    )


def _bound_c(given: EndGiven, curve: Cooling) -> float:
    """How far off each reading counts: its error, or what it lies off the curve if that is more."""
    return max(given.reading_error_k, _off_c(curve))


def _half_width_c(given: EndGiven, curve: Cooling) -> float:
    return _bound_c(given, curve) * half_width_of_bounded((*curve.by_reading, curve.by_ambient))


def is_too_wide(found: EndFound) -> bool:
    """Whether the interval is wider than any use of it: over ``WIDE_C`` either way."""
    return found.high_c - found.low_c > 2.0 * WIDE_C


def _off_c(curve: Cooling) -> float:
    return max(abs(one) for one in curve.off_c)


def judge_end(given: EndGiven, found: EndFound) -> Judgement:
    readings = _sorted(given)
    first, last = readings[0], readings[-1]
    if is_too_wide(found):
        return Judgement(
            "unclear",
            (
                f"anywhere from {found.low_c:.1f} to {found.high_c:.1f} °C at the end of the run (95 %): too wide to "
                f"use (over {WIDE_C:g} °C either way, our own figure)",
                _why_too_wide(given),
            ),
            tuple(_early(first)),
        )
    reasons = [
        f"{found.end_temperature_c:.1f} °C at the end of the run; from {found.low_c:.1f} to {found.high_c:.1f} °C fits "
        "(95 %)",
        f"half of what it is above the air is gone in {span_in_words(round(found.half_life_s, -1))}",
    ]
    cautions = []
    if first.after_s > last.after_s - first.after_s:
        cautions.append(
            f"taken back over {span_in_words(first.after_s)} from readings only "
            f"{span_in_words(last.after_s - first.after_s)} apart: read sooner, or the second one later"
        )
    off = _off_c(_curve(given))
    if off > given.reading_error_k:
        cautions.append(
            f"the readings lie up to {off:.1f} °C off one cooling curve, over the {given.reading_error_k:g} °C that a "
            "reading may be off: one spot, out of the wind, and the interval is widened by it"
        )
    return Judgement("caution" if cautions else "ok", (*reasons, *cautions), tuple(_early(first)))


def _why_too_wide(given: EndGiven) -> str:
    readings = _sorted(given)
    off = _off_c(_curve(given))
    if off > given.reading_error_k:
        return f"the readings lie up to {off:.1f} °C off one cooling curve: read one spot, out of the wind"
    span, fall = readings[-1].after_s - readings[0].after_s, readings[0].temperature_c - readings[-1].temperature_c
    return (
        f"the readings are too close: {span_in_words(span)} and {fall:.1f} °C apart, and each may be off by "
        f"{given.reading_error_k:g} °C; read the same spot again later"
    )


def _early(first: CoolingReading) -> Iterator[str]:
    if first.after_s < EARLY_S:
        yield (
            f"the first reading was {span_in_words(first.after_s)} after the run: in the first minute the oil inside "
            "is still hotter than the case (our own figure), so the true temperature may be higher"
        )


def end_working(given: EndGiven, found: EndFound) -> tuple[str, ...]:
    curve = _curve(given)
    excess = ", ".join(
        f"ln({one.temperature_c:g} − {given.ambient_c:g}) at {one.after_s:g} s" for one in _sorted(given)
    )
    way = "line through" if len(given.readings) == 2 else "least squares on"
    hottest_read = max(one.temperature_c for one in given.readings)
    moved = ", ".join(f"{one:+.2f}" for one in curve.by_reading)
    return (
        f"T(t) = Ta + (T0 − Ta) exp(−t/τ): {way} {excess}",
        f"τ = {curve.time_constant_s:.0f} s, half gone in τ ln 2 = {found.half_life_s:.0f} s, T0 = "
        f"{found.end_temperature_c:.2f} °C",
        f"1 °C more on a reading moves T0 by {moved} °C, in the order of time; 1 °C more of the air by "
        f"{curve.by_ambient:+.2f} °C",
        f"each off by up to {given.reading_error_k:g} °C, evenly spread: 95 % of their sum lies within "
        f"{_half_width_c(given, curve):.2f} °C; not under the hottest reading less its error, {hottest_read:g} − "
        f"{_bound_c(given, curve):.3g} °C",
    )


END_TEMPERATURE: Final = Formula(
    title="Temperature at the end of a run",
    given=EndGiven,
    found=EndFound,
    compute=end_temperature,
    judge=judge_end,
    working=end_working,
)
