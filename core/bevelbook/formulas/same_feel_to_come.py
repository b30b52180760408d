"""The oil that feels in weather to come as one did in a run: how thick it has to be, with its interval.

What is compared is, as where a person asks for one temperature: the diff then and to come, measured or expected of the
team's own measured days; else air with air; else track with track, the diff then taken to warm up by as much.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import hypot
from typing import Final, Literal, NamedTuple

from bevelbook.formulas.expected_temperature import LEAST_SD_C, WIDE_C, Expected, MeasuredPast
from bevelbook.physics.viscosity import TABLE_HIGH_C, TABLE_LOW_C, viscosity_ratio

READ_HALF_C: Final = 1.96 * LEAST_SD_C
"""Half an interval of 95 % for a reading of the diff that may be off by 1 °C either way (our own figure)."""
SAME_RISE_HALF_C: Final = WIDE_C
"""Half an interval where the diff is only taken to warm up by as much as then: never less than what is too wide to
choose an oil by (our own figure)."""

Basis = Literal["diff", "air", "track"]


class AirAndTrack(NamedTuple):
    """Air and track in °C, as far as they are known."""

    air_c: float | None = None
    track_c: float | None = None


class WeatherThen(NamedTuple):
    """Air, track and what the diff read in a run, in °C, as far as they are known."""

    air_c: float | None = None
    track_c: float | None = None
    diff_c: float | None = None

    @property
    def weather(self) -> AirAndTrack:
        """Air and track alone."""
        return AirAndTrack(self.air_c, self.track_c)


class AtEnd(NamedTuple):
    """The temperature that is compared at one end of a forecast, in °C, and half of its interval of 95 %, that of the
    temperature then included. ``expected`` is what the team's own measured days let expect there."""

    temperature_c: float
    half_c: float
    expected: Expected | None = None


class WeathersCompared(NamedTuple):
    """What is compared: the temperature then in °C, and that at each end of the forecast.

    ``why_not_expected`` says why the diff's own temperature is not what is compared; empty where it is.
    """

    basis: Basis
    then_c: float
    is_then_expected: bool
    low: AtEnd
    high: AtEnd
    why_not_expected: str = ""


class Needed(NamedTuple):
    """A viscosity needed, in cSt at 25 °C, and its interval: what the temperatures leave open."""

    cst: float
    low_cst: float
    high_cst: float


def compared(past: MeasuredPast, then: WeatherThen, low: AirAndTrack, high: AirAndTrack) -> WeathersCompared | None:
    """What is compared between a run and both ends of a forecast; None where no temperature is known of one thing for
    both, or no viscosity is published at it."""
    ends = [_expected(past, one) for one in (low, high)]
    why = next((one.why_none for one in ends if one.value_c is None), "")
    wide = max((_half_c(one) for one in ends), default=0.0)
    expected_then = _expected(past, then.weather) if then.diff_c is None else Expected(then.diff_c)
    if not why and wide > WIDE_C:
        why = f"what they let expect is {wide:.0f} °C off either way, too wide to choose an oil by"
    if not why and (expected_then.value_c is None or _half_c(expected_then) > WIDE_C):
        why = expected_then.why_none or "what they let expect of the run then is too wide to choose an oil by"
    found: WeathersCompared | None = None
    if not why and expected_then.value_c is not None:
        half_then_c = READ_HALF_C if then.diff_c is not None else _half_c(expected_then)
        at = [AtEnd(one.value_c or 0.0, hypot(_half_c(one), half_then_c), one) for one in ends]
        found = WeathersCompared("diff", expected_then.value_c, then.diff_c is None, at[0], at[1])
    else:
        half = max(SAME_RISE_HALF_C, wide)
        pairs: tuple[tuple[Basis, float | None, float | None, float | None], ...] = (
            ("air", then.air_c, low.air_c, high.air_c),
            ("track", then.track_c, low.track_c, high.track_c),
        )
        for basis, then_c, low_c, high_c in pairs:
            if then_c is not None and low_c is not None and high_c is not None:
                found = WeathersCompared(basis, then_c, False, AtEnd(low_c, half), AtEnd(high_c, half), why)
                break
    return found if found is not None and _is_published(found) else None


def _expected(past: MeasuredPast, weather: AirAndTrack) -> Expected:
    if weather.air_c is None and weather.track_c is None:
        return Expected(why_none="neither air nor track is known")
    return past.expected(*weather)


def _half_c(one: Expected) -> float:
    return 0.0 if one.high_c is None or one.value_c is None else one.high_c - one.value_c


def _is_published(found: WeathersCompared) -> bool:
    spans: Iterable[float] = (
        found.then_c,
        *(end.temperature_c + way * end.half_c for end in (found.low, found.high) for way in (-1.0, 1.0)),
    )
    return all(TABLE_LOW_C <= one <= TABLE_HIGH_C for one in spans)


def needed_at(viscosity_cst: float, then_c: float, now_c: float) -> float:
    """The oil with the viscosity now that one had then, in cSt at 25 °C: nu25 exp[B (1/T_then - 1/T_now)].

    >>> round(needed_at(7000.0, 30.0, 38.0))
    8125
    """
    return viscosity_cst * viscosity_ratio(then_c, now_c)


def needed(viscosity_cst: float, then_c: float, end: AtEnd) -> Needed:
    """The same with its interval.

    >>> [round(one) for one in needed(7000.0, 30.0, AtEnd(38.0, 4.0))]
    [8125, 7549, 8729]
    """
    return Needed(*(needed_at(viscosity_cst, then_c, end.temperature_c + way * end.half_c) for way in (0.0, -1.0, 1.0)))


def temperature_needing(needed_cst: float, viscosity_cst: float, then_c: float, low_c: float, high_c: float) -> float:
    """The temperature in °C between two others at which an oil of ``needed_cst`` feels as the other did then.

    >>> round(temperature_needing(8125.0, 7000.0, 30.0, 20.0, 60.0), 1)
    38.0
    """
    for _ in range(60):
        middle = (low_c + high_c) / 2.0
        if needed_at(viscosity_cst, then_c, middle) < needed_cst:
            low_c = middle
        else:
            high_c = middle
    return (low_c + high_c) / 2.0
