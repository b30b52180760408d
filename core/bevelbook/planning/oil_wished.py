"""Which oil the forecast of an event wants in a diff, by what was kept in its place: for one car and one grip.

It is the oil that feels at each end of the forecast as one did that was kept: in the last kept run in such conditions,
else on that grip at all; or near an end on days enough to conclude from. Nothing is said beyond what was run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.formulas.conditions import TEMPERATURE_SCALE_C
from bevelbook.formulas.expected_temperature import DAYS_NEEDED, MeasuredPast
from bevelbook.formulas.oil_off import off_share, too_in_words
from bevelbook.formulas.oil_over_forecast import OilsWanted, oils_wanted, wanted_at, worst_off
from bevelbook.formulas.same_feel_to_come import (
    SAME_RISE_HALF_C,
    AirAndTrack,
    AtEnd,
    Basis,
    Needed,
    compared,
    needed,
    needed_at,
    temperature_needing,
)
from bevelbook.formulas.thick_oils import thick_oil_cautions
from bevelbook.physics.viscosity import LABEL_TOLERANCE_SHARE, cst_in_words, law_cautions
from bevelbook.planning.event_to_come import DayRange, EventToCome
from bevelbook.planning.oil_runs import MOSTLY, NearOil, OilOfRun, RunsThere, TemperatureOf, degrees, near_in_words
from bevelbook.reports.afternoon import OFF_C

_ENDS: Final = ("cold end", "hot end")
_NEARER: Final = "nearer to what felt right"
FORECAST_AGAIN: Final = "the evening before, write the forecast into the event and make the plan again"
"""What settles an oil that hangs on which weather comes."""


class ForecastEnds(NamedTuple):
    """Air and track at both ends of a forecast. ``one_figure`` says of what only one figure was given."""

    low: AirAndTrack
    high: AirAndTrack
    one_figure: str

    @property
    def names(self) -> tuple[str, str]:
        """What the ends are called; both the same where the forecast is one figure."""
        return ("forecast", "forecast") if self.low == self.high else _ENDS


class EndWanted(NamedTuple):
    """One end of the forecast: what is compared there with which kept run, and the viscosity it takes."""

    needed: Needed
    kept: OilOfRun
    basis: Basis
    then_c: float
    at: AtEnd
    why_not_expected: str


class OilWished(NamedTuple):
    """What the forecast wants: None with the reasons where nothing can be said.

    ``needed_low`` and ``needed_high`` are what feels right at both ends. ``whose`` says for whom it is, where the same
    diff is asked about for several.
    """

    wanted: OilsWanted | None
    reasons: tuple[str, ...]
    settle: tuple[str, ...] = ()
    needed_low: Needed | None = None
    needed_high: Needed | None = None
    whose: str = ""

    @property
    def middle_cst(self) -> float:
        """What the middle of the forecast takes. Raises AssertionError where nothing can be said."""
        assert self.needed_low is not None and self.needed_high is not None
        return sqrt(self.needed_low.cst * self.needed_high.cst)


class AskedFor(NamedTuple):
    """What a wish is about: the oil that is in (None where nothing is), its name, the oils at hand, car and grip."""

    is_in_cst: float | None
    name: str
    at_hand_cst: tuple[float, ...]
    car: str | None
    grip: str | None


def forecast_ends(event: EventToCome) -> ForecastEnds:
    """Air and track at both ends. A single figure may be off by 3 °C either way, as any that somebody expects."""
    ends = {name: _ends(one) for name, one in (("air", event.air), ("track", event.track))}
    single = [name for name, one in (("air", event.air), ("track", event.track)) if _is_single(one)]
    said = ""
    if single:
        said = (
            f"only one figure is given for the {' and the '.join(single)}: taken as {OFF_C:g} °C off either way (our "
            "own figure)"
        )
    low, high = (AirAndTrack(ends["air"][place], ends["track"][place]) for place in (0, 1))
    return ForecastEnds(low, high, said)


def _is_single(one: DayRange) -> bool:
    return (one.low_c is None) != (one.high_c is None)


def _ends(one: DayRange) -> tuple[float | None, float | None]:
    if not one.ends:
        return None, None
    off_c = OFF_C if _is_single(one) else 0.0
    return one.ends[0] - off_c, one.ends[-1] + off_c


def oil_wished(event: EventToCome, there: RunsThere, past: MeasuredPast, asked: AskedFor) -> OilWished:
    """Which oil the forecast wants in a place of a car."""
    if not there.has_kept:
        return _nothing(there, f"no oil was kept in the {there.position} on this surface yet")
    of = there.temperature_of(event, asked.grip)
    nearest = there.nearest_in_words(event, asked.grip)
    if of is None:
        on = f" on {asked.grip} grip" if asked.grip else ""
        if nearest:
            return _nothing(there, f"nothing was decided in the {there.position}{on}; nearest: {nearest}")
        expected = " or ".join(name for name, one in (("air", event.air), ("track", event.track)) if one.is_known)
        return _nothing(there, f"no run in the {there.position} that was kept or changed says the {expected}")
    ends, outside = _inside_what_was_run(forecast_ends(event), there, asked.grip, of)
    if ends is None:
        return _nothing(there, f"{outside}; nearest: {nearest}")
    kept = there.kept_for(_ends_of(ends, of), asked.grip, of, asked.car)
    if kept is None:
        on = f" on {asked.grip} grip" if asked.grip else ""
        return _nothing(there, f"no oil was kept in the {there.position}{on} yet; nearest: {nearest}")
    found = []
    for end, one in enumerate(kept):
        pair = compared(past, one.weather, ends.low, ends.high)
        if pair is None:
            what = "the event and the run in which it was kept say no temperature of the same thing"
            return _nothing(there, f"{what}: {one.words}")
        at = (pair.low, pair.high)[end]
        amount = needed(one.viscosity_cst, pair.then_c, at)
        found.append(EndWanted(amount, one, pair.basis, pair.then_c, at, pair.why_not_expected))
    low, high = found
    wanted = oils_wanted(asked.is_in_cst, asked.at_hand_cst, low.needed, high.needed)
    near = there.near(event, asked.grip, of)
    settle: list[str] = []
    reasons = [_verdict(asked, wanted, low, high, ends)]
    if outside:
        wanted = OilsWanted("unclear", wanted.oils_cst, is_blend=wanted.is_blend)
        span = " to ".join(degrees(one) for one in dict.fromkeys(_ends_of(ends, of)))
        reasons = [f"the forecast goes past what you ran; for {of} {span} °C alone: {reasons[0]}", outside]
        settle.append(FORECAST_AGAIN)
    elif wanted.what in ("keep", "change") and (doubt := _mostly_changed(near, wanted.oils_cst[0])):
        wanted = OilsWanted("unclear", wanted.oils_cst, is_blend=wanted.is_blend)
        reasons[0] += f", {doubt}"
        settle.append("run it and another oil there on one day")
    elif wanted.what == "two" and not _is_by_temperature(wanted, low, high):
        wanted = OilsWanted("unclear", wanted.oils_cst)
        reasons[0] += "; the forecast does not make that difference, the oils that were kept differ"
        settle.append("run both there on one day")
    elif wanted.what == "unclear":
        settle += _settled_by(asked, low, high)
    elif wanted.what == "keep" and (lacking := _nothing_near(asked, low, high)):
        if not any(one != asked.is_in_cst for one in asked.at_hand_cst):
            wanted = OilsWanted("unclear", wanted.oils_cst)
            lacking = f"write down the oils at hand, or {lacking}"
        settle.append(lacking)
    reasons += [*_of_ends(low, high, ends), *([f"run in such conditions: {near_in_words(near)}"] if near else [])]
    reasons += _remarks(low, high, ends)
    settle += _to_measure(low, high)
    return OilWished(wanted, tuple(reasons), tuple(settle), low.needed, high.needed)


def _inside_what_was_run(
    ends: ForecastEnds, there: RunsThere, grip: str | None, of: TemperatureOf
) -> tuple[ForecastEnds | None, str]:
    """The part of a forecast that is as near as counts to what was decided on that grip, None where no part is, and in
    words what is not."""
    low_c, high_c = _ends_of(ends, of)
    coldest_c, warmest_c = there.span_c(grip, of)
    from_c, to_c = coldest_c - TEMPERATURE_SCALE_C, warmest_c + TEMPERATURE_SCALE_C
    off = [degrees(one) for one in dict.fromkeys((low_c, high_c)) if not from_c <= one <= to_c]
    if not off:
        return ends, ""
    was = degrees(coldest_c) if coldest_c == warmest_c else f"{degrees(coldest_c)} to {degrees(warmest_c)}"
    on = f" on {grip} grip" if grip else ""
    words = f"{of} at {' and '.join(off)} °C is outside what was run{on}, {was} °C"
    if high_c < from_c or low_c > to_c:
        return None, words
    inside = (max(low_c, from_c), min(high_c, to_c))
    shares = [(one - low_c) / (high_c - low_c) for one in inside]
    low, high = (_between(ends.low, ends.high, share) for share in shares)
    return ForecastEnds(low, high, ends.one_figure), words


def _ends_of(ends: ForecastEnds, of: TemperatureOf) -> tuple[float, float]:
    """The track or the air at both ends, whichever is known, in °C."""
    low, high = (end.track_c if of == "track" else end.air_c for end in (ends.low, ends.high))
    assert low is not None and high is not None
    return low, high


def _between(low: AirAndTrack, high: AirAndTrack, share: float) -> AirAndTrack:
    air, track = (
        None if a is None or b is None else round(a + share * (b - a), 1)
        for a, b in ((low.air_c, high.air_c), (low.track_c, high.track_c))
    )
    return AirAndTrack(air, track)


def _nothing(there: RunsThere, why: str) -> OilWished:
    missing = there.what_is_missing
    settle = f"write down air, track, grip and what was decided after each run{f': {missing}' if missing else ''}"
    return OilWished(None, (why,), (settle,))


def _verdict(asked: AskedFor, wanted: OilsWanted, low: EndWanted, high: EndWanted, ends: ForecastEnds) -> str:
    """What the forecast wants, with how far off the oil that is in is."""
    is_point = ends.low == ends.high
    offs = _offs(asked.is_in_cst, low, high, ends) if asked.is_in_cst is not None else ""
    oils = [f"{cst_in_words(one, 4)} cSt" for one in wanted.oils_cst]
    if not oils:
        return "no oil at hand is near what feels right there"
    if wanted.what == "two":
        is_in = f"; {asked.name} that is in is {offs}" if offs else ""
        return f"the {_ENDS[0]} wants {oils[0]}, the {_ENDS[1]} {oils[1]}: no one oil at hand fits both{is_in}"
    worst = worst_off(wanted.oils_cst[0], low.needed.cst, high.needed.cst)
    does = f"fits {'it' if is_point else 'all of it'}" if worst <= LABEL_TOLERANCE_SHARE else f"is {_NEARER}"
    fits = f"{'a blend of ' if wanted.is_blend else ''}{oils[0]} {does}"
    if asked.is_in_cst is None:
        return f"{fits}: {_offs(wanted.oils_cst[0], low, high, ends)}"
    if wanted.what == "change":
        return f"{asked.name} that is in is {offs}; {fits}"
    if wanted.what == "keep" and worst <= LABEL_TOLERANCE_SHARE:
        return f"{asked.name} that is in fits {'it' if is_point else 'all of it'}: {offs}"
    stays = wanted.oils_cst == (asked.is_in_cst,)
    said = (
        f"{asked.name} that is in is {offs}, and no oil at hand is clearly {_NEARER}"
        if stays
        else f"{asked.name} that is in is {offs}; {' and '.join(oils)} would be {_NEARER}"
    )
    if wanted.what == "keep":
        return said
    return f"{said}{_if_off(asked, wanted)}"


def _if_off(asked: AskedFor, wanted: OilsWanted) -> str:
    """What else may be wanted, and which way the temperature of the diff then is off."""
    if not wanted.or_cst:
        return ""
    ways = {"warmer" if one > wanted.oils_cst[-1] else "colder" for one in wanted.or_cst}
    others = [
        f"{asked.name} stays" if one == asked.is_in_cst else f"{cst_in_words(one, 4)} cSt is nearer"
        for one in wanted.or_cst
    ]
    return f"; if the diff runs {' or '.join(sorted(ways))} than expected, {' or '.join(others)}"


def _offs(oil_cst: float, low: EndWanted, high: EndWanted, ends: ForecastEnds) -> str:
    """``4 % too thin at the cold end, 8 % too thick at the hot end``."""
    off = [_too(off_share(oil_cst, one.needed.cst)) for one in (low, high)]
    if ends.low == ends.high:
        return off[0]
    if off[0] == off[1]:
        return f"{off[0]} at both ends"
    return ", ".join(f"{one} at the {name}" for one, name in zip(off, _ENDS, strict=True))


def _too(share: float) -> str:
    return "right" if abs(share) < 0.005 else too_in_words(share)


def _of_ends(low: EndWanted, high: EndWanted, ends: ForecastEnds) -> Iterator[str]:
    """What feels right at each end, from .. to, and as which kept oil did."""
    is_point = ends.low == ends.high
    for one, weather, name in zip((low, high), (ends.low, ends.high), ends.names, strict=True):
        named = (("air", weather.air_c), ("track", weather.track_c))
        known = " and ".join(f"{what} {degrees(value)} °C" for what, value in named if value is not None)
        span = " to ".join(cst_in_words(cst, 2) for cst in (one.needed.low_cst, one.needed.high_cst))
        expected = one.at.expected
        diff = f"diff {expected.low_c:.0f} to {expected.high_c:.0f} °C, " if expected is not None else ""
        yield f"{name}, {known}: {diff}takes {span} cSt"
        if is_point:
            break
    felt = list(dict.fromkeys(one.kept.words for one in (low, high)))
    yield (
        f"to feel as {felt[0]}"
        if len(felt) == 1
        else f"to feel at the {_ENDS[0]} as {felt[0]}; at the {_ENDS[1]} as {felt[1]}"
    )


def _remarks(low: EndWanted, high: EndWanted, ends: ForecastEnds) -> Iterator[str]:
    """What makes it less certain."""
    expected = [one.at.expected for one in (low, high) if one.at.expected is not None]
    if expected:
        yield f"the diff is expected from {counted(min(one.days for one in expected), 'own day')}, 95 %"
    if ends.one_figure:
        yield ends.one_figure
    assumed = [one for one in (low, high) if one.basis != "diff"]
    if assumed:
        why = f": {assumed[0].why_not_expected}" if assumed[0].why_not_expected else ""
        half = max(one.at.half_c for one in assumed)
        yield (
            f"from the {' and the '.join(dict.fromkeys(one.basis for one in assumed))} alone: same rise assumed, "
            f"{half:.0f} °C off either way (our own figures){why}"
        )
    said = [
        *(remark for one in expected for remark in one.remarks),
        *(one.undated_in_words for one in expected),
        *law_cautions(low.needed.cst, low.at.temperature_c),
        *law_cautions(high.needed.cst, high.at.temperature_c),
        *thick_oil_cautions(low.needed.cst, high.needed.cst),
    ]
    yield from dict.fromkeys(filter(None, said))


def _mostly_changed(near: Sequence[NearOil], oil_cst: float) -> str:
    """That an oil was mostly changed in such conditions, on days enough to say so; empty where that is not so."""
    for one in near:
        record = one.record
        if one.viscosity_cst == oil_cst and record.enough and record.kept / record.days <= MOSTLY:
            return f"but {one.name} was {record.words} when it was like that"
    return ""


def _nothing_near(asked: AskedFor, low: EndWanted, high: EndWanted) -> str:
    """What oil to get where the one that stays is off by more than labels are exact, and none at hand is nearer."""
    middle = sqrt(low.needed.cst * high.needed.cst)
    if asked.is_in_cst is None:
        return ""
    off = abs(off_share(asked.is_in_cst, middle))
    if off <= LABEL_TOLERANCE_SHARE or any(abs(off_share(one, middle)) < off for one in asked.at_hand_cst):
        return ""
    return f"get an oil near {cst_in_words(middle, 2)} cSt"


def _is_by_temperature(wanted: OilsWanted, low: EndWanted, high: EndWanted) -> bool:
    """Whether the forecast itself wants two oils: its ends take, of one oil that was kept, viscosities that differ by
    more than labels are exact, and the warmer one the thicker."""
    if low.basis != high.basis:
        return wanted.oils_cst[0] < wanted.oils_cst[-1]
    ratio = needed_at(1.0, low.at.temperature_c, high.at.temperature_c)
    is_warmer_thicker = (ratio > 1.0) == (wanted.oils_cst[0] < wanted.oils_cst[-1])
    return is_warmer_thicker and max(ratio, 1.0 / ratio) - 1.0 > LABEL_TOLERANCE_SHARE


def _settled_by(asked: AskedFor, low: EndWanted, high: EndWanted) -> Iterator[str]:
    """The temperature of the diff at which the oil that is in gives way to another, where it can be measured."""
    for one in (low, high):
        wanted = [
            wanted_at(asked.is_in_cst, asked.at_hand_cst, cst)
            for cst in (one.needed.low_cst, one.needed.cst, one.needed.high_cst)
        ]
        for place in (0, 1):
            is_turning = (wanted[place] == asked.is_in_cst) != (wanted[place + 1] == asked.is_in_cst)
            if is_turning and one.basis == "diff":
                yield from _turns_at(asked, one, place)
                return
    yield FORECAST_AGAIN


def _turns_at(asked: AskedFor, one: EndWanted, place: int) -> Iterator[str]:
    cst = (one.needed.low_cst, one.needed.cst, one.needed.high_cst)
    thin, thick = cst[place], cst[place + 1]
    stays_below = wanted_at(asked.is_in_cst, asked.at_hand_cst, thin) == asked.is_in_cst
    for _ in range(40):
        middle = sqrt(thin * thick)
        is_below = (wanted_at(asked.is_in_cst, asked.at_hand_cst, middle) == asked.is_in_cst) == stays_below
        thin, thick = (middle, thick) if is_below else (thin, middle)
    at_c = temperature_needing(
        sqrt(thin * thick),
        one.kept.viscosity_cst,
        one.then_c,
        one.at.temperature_c - one.at.half_c,
        one.at.temperature_c + one.at.half_c,
    )
    other = wanted_at(asked.is_in_cst, asked.at_hand_cst, thick if stays_below else thin)
    name = f"{cst_in_words(other, 4)} cSt" if other is not None else "another oil"
    way = "from" if stays_below else "up to"
    yield f"measure the diff in the first run: {way} {at_c:.0f} °C {name} is nearer than {asked.name}"


def _to_measure(low: EndWanted, high: EndWanted) -> Iterator[str]:
    if any(one.basis != "diff" for one in (low, high)):
        yield (
            f"measure the diff after runs, with air and track, on {DAYS_NEEDED} days: then its temperature is expected "
            f"from your own days, not taken as {SAME_RISE_HALF_C:g} °C off"
        )
