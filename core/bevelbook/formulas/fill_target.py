"""The scale reading at which to stop pouring, and whether that fill leaves enough room."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import quantity, record
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.fill_window import (
    DROP_G,
    USUAL_SHARE,
    FillWindow,
    fill_window,
    grams_in_words,
    half_width_g,
    reading_in_words,
)
from bevelbook.formulas.inputs import (
    density_at_25,
    expansion_of_oil,
    hottest,
    housing_material,
    in_use,
    in_use_high,
    repeatability,
    room_for_oil,
    scale_error,
    scale_step,
    viscosity_for_density,
)
from bevelbook.formulas.percent import percent
from bevelbook.formulas.room_for_heat import (
    GAUGE_LIMIT_KPA,
    heat_limits,
    material_per_k,
    may_be_liquid_full,
    safe_at_c,
)
from bevelbook.physics.density import EXPANSION_PER_K, density_g_cm3
from bevelbook.physics.weighing import (
    COVERAGE_K,
    WASHING_LEAVES_G,
    ScaleNoise,
    assumed_in_words,
    assumed_repeatability_g,
    difference_uncertainty_g,
    dry_mass_change_seen_g,
)
from bevelbook.plugin.calculator import Formula, OneOf, refuse
from bevelbook.plugin.returned_values import Judgement, Verdict
from bevelbook.reference import density_25_g_cm3

STOP_FILL_FRACTION: Final = 0.95
"""No more is poured on purpose: a rigid housing has 1.5 % of its room left for air at 60 °C then, about the drop or two
by which a fill is off."""
COARSE_SHARE: Final = 0.03
"""From this share of the oil the scale's uncertainty is a caution; our own figure."""
FEW_DROPS: Final = 2
MOST_OVERFILL: Final = 1.5
"""A scale zeroed on the diff shows the oil alone: no more than this many times the oil to put in."""


@record
class FillGiven:
    dry_mass_g: float = quantity(
        "g", "Mass on the scale before oil", above=0, plausible=(5, 100), same_as="builds.dry_mass_g"
    )
    oil_mass_g: float | None = quantity(
        "g",
        "Oil to put in, if decided by mass",
        default=None,
        above=0,
        plausible=(0, 10),
        same_as="builds.target_oil_mass_g",
    )
    free_volume_cm3: float | None = room_for_oil()
    fill_fraction: float = quantity(
        "1", "Share of the room to fill, if the oil is not given by mass", default=0.85, above=0, below=1
    )
    viscosity_cst: float | None = viscosity_for_density("builds.viscosity_cst")
    density_g_cm3: float | None = density_at_25()
    oil_temperature_c: float = quantity(
        "°C", "Temperature of the oil while filling", default=20, minimum=-50, maximum=250
    )
    scale_step_g: float = scale_step()
    repeatability_g: float | None = repeatability()
    scale_error_g: float = scale_error()
    reading_g: float | None = quantity(
        "g",
        "What the scale shows now; with the scale zeroed on the dry diff, the oil alone",
        default=None,
        minimum=0,
    )
    fill_window_g: float | None = quantity(
        "g",
        "How far the oil may be off either way; 1 % of the oil, not under 0.02 g, if not given",
        default=None,
        above=0,
        same_as="diff_facts.limit_fill_window_g",
    )
    last_dry_mass_g: float | None = quantity(
        "g",
        "Dry mass of the diff's last build, with nothing changed since",
        default=None,
        above=0,
        same_as="diffs.usual_dry_mass_g",
    )
    weighed_oil_g: float | None = quantity(
        "g",
        "Oil that was weighed in already; without it the room is judged by the oil to put in",
        default=None,
        above=0,
    )
    hot_temperature_c: float = hottest()
    expansion_per_k: float = expansion_of_oil()
    housing_material: str = housing_material()
    expected_temperature_c: float | None = in_use()
    expected_high_c: float | None = in_use_high()


@record
class FillFound:
    stop_mass_g: float = quantity("g", "Stop pouring when the scale shows this")
    oil_mass_g: float = quantity("g", "Oil in the diff then")
    oil_volume_cm3: float | None = quantity("cm3", "Volume of that oil at the temperature of filling")
    fill_fraction: float | None = quantity("1", "Share of the room that the oil takes")
    uncertainty_g: float = quantity(
        "g",
        "Uncertainty of the oil's mass by difference (k = 2), from the scale alone",
        exact=True,
        own_part_of=("stop_mass_g", "oil_mass_g", "remaining_g", "zeroed_stop_g"),
        heading="uncertainty by the scale (k = 2)",
    )
    stop_low_g: float = quantity("g", "Lowest reading that is fine", exact=True)
    stop_high_g: float = quantity("g", "Highest reading that is fine", exact=True)
    remaining_g: float | None = quantity("g", "Still to pour; negative is too much")
    zeroed_stop_g: float | None = quantity("g", "Stop pouring when the zeroed scale shows this", default=None)
    zeroed_low_g: float | None = quantity(
        "g", "Lowest reading of the zeroed scale that is fine", default=None, exact=True
    )
    zeroed_high_g: float | None = quantity(
        "g", "Highest reading of the zeroed scale that is fine", default=None, exact=True
    )


def density_at_c(given: Any, temperature_c: float, expansion_per_k: float = EXPANSION_PER_K) -> float | None:
    """Density of the oil at a temperature, in g/cm3, from its own density at 25 °C or from its viscosity grade."""
    at_25 = given.density_g_cm3
    if at_25 is None and given.viscosity_cst is not None:
        at_25 = density_25_g_cm3(given.viscosity_cst)
    return None if at_25 is None else density_g_cm3(at_25, temperature_c, expansion_per_k)


def fill(given: FillGiven) -> FillFound:
    """Stop mass and what it means.

    stop = dry + oil; oil = free volume x fill x density(t) if it is not given by mass;
    U = 2 sqrt(step^2 / 6 + 2 s^2 + a^2 / 3); the window is the tolerance of the fill (see ``fill_window``).
    """
    density = density_at_c(given, given.oil_temperature_c, given.expansion_per_k)
    oil_mass_g = given.oil_mass_g
    if oil_mass_g is None:
        if density is None or given.free_volume_cm3 is None:
            raise refuse(
                given,
                "density_g_cm3",
                "a fill by volume needs the oil's density",
                remedy=Sentence(
                    "Give ",
                    Named("viscosity_cst"),
                    " (at 25 °C) or ",
                    Named("density_g_cm3"),
                    " (at 25 °C), or ",
                    Named("oil_mass_g"),
                    ".",
                ),
                code="missing_input",
            )
        oil_mass_g = given.free_volume_cm3 * given.fill_fraction * density
    volume = None if density is None else oil_mass_g / density
    stop = given.dry_mass_g + oil_mass_g
    window = _window(given, stop, oil_mass_g)
    zeroed = _window(given, oil_mass_g, oil_mass_g) if is_tared(given, oil_mass_g) else None
    return FillFound(
        stop_mass_g=stop,
        oil_mass_g=oil_mass_g,
        oil_volume_cm3=volume,
        fill_fraction=None if volume is None or given.free_volume_cm3 is None else volume / given.free_volume_cm3,
        uncertainty_g=COVERAGE_K
        * difference_uncertainty_g(given.scale_step_g, given.repeatability_g, given.scale_error_g),
        stop_low_g=window.low_g,
        stop_high_g=window.high_g,
        remaining_g=None if given.reading_g is None else (zeroed or window).still_to_pour_g(given.reading_g),
        zeroed_stop_g=None if zeroed is None else oil_mass_g,
        zeroed_low_g=None if zeroed is None else zeroed.low_g,
        zeroed_high_g=None if zeroed is None else zeroed.high_g,
    )


def is_tared(given: FillGiven, oil_mass_g: float) -> bool:
    """Whether the reading is of the oil alone, the scale zeroed on the dry diff.

    With the diff on the scale no reading is under the dry mass by more than the scale's noise, so one that is, and
    that is no more than half as much again as the oil to put in, was taken with the scale zeroed.
    """
    if given.reading_g is None:
        return False
    noise = _dry_change_seen_g(given)
    return is_zeroed_on_diff(given.reading_g, given.dry_mass_g, oil_mass_g, noise)


def is_zeroed_on_diff(reading_g: float, dry_mass_g: float, oil_mass_g: float, noise_g: float) -> bool:
    """The same for any reading; ``noise_g`` is the smallest change that the scale can show.

    >>> is_zeroed_on_diff(1.84, 12.40, 1.86, 0.02), is_zeroed_on_diff(14.24, 12.40, 1.86, 0.02)
    (True, False)
    """
    return reading_g < dry_mass_g - noise_g and reading_g <= MOST_OVERFILL * oil_mass_g


def _dry_change_seen_g(given: FillGiven) -> float:
    """The two dry masses have no days, so nothing is assumed between them."""
    noise = ScaleNoise(given.scale_step_g, given.repeatability_g, day_to_day_g=0.0)
    return dry_mass_change_seen_g(noise, noise)


class Room(NamedTuple):
    """Whether the oil leaves enough room, and why not; no reason where it does, or where that is not known."""

    verdict: Verdict
    reason: str | None = None


def judge_room(given: FillGiven, found: FillFound) -> Room:
    """Whether the oil leaves room enough for heat, by the share of the diff's room that it takes.

    The limit to look at it is that of ``headspace``, with the same inputs. A limit inside the interval is unclear; but
    oil that is over the limit to look at it for certain, and over the one to stop more likely than not, is a stop.
    """
    if found.fill_fraction is None:
        return Room("ok")
    oil_g = given.weighed_oil_g or found.oil_mass_g
    fill_fraction = found.fill_fraction * oil_g / found.oil_mass_g
    if fill_fraction >= 1:
        return Room("stop", f"{oil_g:.2f} g is more than the diff holds ({percent(fill_fraction)} of its room)")
    spread = fill_fraction * found.uncertainty_g / oil_g
    hot = safe_at_c(given.hot_temperature_c, given.expected_temperature_c, given.expected_high_c)
    if hot < given.oil_temperature_c:
        hot = given.oil_temperature_c
    housing = material_per_k(given.housing_material)
    look = heat_limits(given.oil_temperature_c, hot, housing, given.expansion_per_k)
    full, low, high = (
        f"the oil takes {percent(fill_fraction, 1)} of the room",
        fill_fraction - spread,
        fill_fraction + spread,
    )
    over_stop = (
        f"over {percent(STOP_FILL_FRACTION)} hardly any air is left at {hot:g} °C, too near liquid-full to pour to "
        "(our own figure; the pressure itself depends on the housing)"
    )
    over_look = (
        f"over {percent(look.most, 1)} the pressure at {hot:g} °C passes {GAUGE_LIMIT_KPA:.0f} kPa (our own figure)"
    )
    unsure = f"{full} ± {percent(spread, 1)} (k = 2), too close to the limit to decide"
    if low > STOP_FILL_FRACTION or (fill_fraction > STOP_FILL_FRACTION and low > look.surely_over):
        return Room("stop", f"{full}: {over_stop}")
    if low > look.surely_over:
        if may_be_liquid_full(high, given.oil_temperature_c, hot, housing, given.expansion_per_k):
            return Room("stop", f"{full}: it may be liquid-full at {hot:g} °C; {over_look}")
        if high > STOP_FILL_FRACTION:
            return Room("unclear", f"{unsure}: {over_stop}")
        return Room("caution", f"{full}: {over_look}")
    if high > look.surely_under:
        return Room("unclear", f"{unsure}: {over_look}")
    return Room("ok")


def judge_fill(given: FillGiven, found: FillFound) -> Judgement:
    """The room for heat first, then the scale. While pouring the words are for the person at the scale, without a
    verdict in front: it is stop only where too much is in, or the diff cannot hold it."""
    findings = tuple(_fill_findings(given))
    room, oil = judge_room(given, found), found.oil_mass_g
    window = _window(given, found.stop_mass_g, oil)
    of_room = (room.reason,) if room.reason else ()
    limits = tuple(_limits_of_scale(given, found, window))
    verdict: Verdict = room.verdict if room.reason else "caution" if limits else "ok"
    assumed = assumed_in_words(given.scale_step_g, given.repeatability_g)
    of_scale = (*limits, *_uncertainty_in_words(given, found), *((assumed,) if assumed else ()))
    if given.reading_g is None:
        return Judgement(verdict, (*of_room, _goal_in_words(given, window), *of_scale), findings)
    if is_tared(given, oil):
        window = _window(given, oil, oil)
    pouring = tuple(_pouring_words(given, found, window))
    if room.verdict == "stop":
        return Judgement("stop", (*of_room, *pouring, *of_scale), findings)
    if window.too_much(given.reading_g):
        verdict = "stop"
    elif verdict == "ok" and _is_under_dry(given, oil):
        verdict = "caution"
    return Judgement(verdict, (*pouring, *of_room, *of_scale), findings, in_words_only=True)


def _fill_findings(given: FillGiven) -> Iterator[str]:
    if given.last_dry_mass_g is None:
        return
    seen = _dry_change_seen_g(given)
    change = given.dry_mass_g - given.last_dry_mass_g
    if abs(change) > seen + 1e-9:
        yield (
            f"the dry mass is {abs(change):.2f} g {'heavier' if change > 0 else 'lighter'} than the last one (this "
            f"scale can show {seen:.3f} g, with the {WASHING_LEAVES_G:g} g that washing leaves): count shims, "
            "gaskets and pins before the oil goes in"
        )


def half_width_of_fill_g(given: FillGiven, oil_mass_g: float) -> float:
    """How far the oil may be off either way, in g: the team's own, else the usual share of the oil."""
    return half_width_g(given.fill_window_g, oil_mass_g)


def _window(given: FillGiven, target_g: float, oil_mass_g: float) -> FillWindow:
    return fill_window(target_g, half_width_of_fill_g(given, oil_mass_g), given.scale_step_g)


def _goal_in_words(given: FillGiven, window: FillWindow) -> str:
    shown = [reading_in_words(one, given.scale_step_g) for one in (window.nearest_g, window.low_g, window.high_g)]
    if not window.can_hit:
        return f"stop at {shown[0]} g, the nearest that this scale shows to {_grams(window.target_g, given)} g"
    if window.low_g == window.high_g:
        return f"stop at {shown[0]} g, the only reading that is at most {window.half_width_g:g} g off"
    return f"stop at {shown[0]} g; anything from {shown[1]} to {shown[2]} g is fine"


def _is_under_dry(given: FillGiven, oil_mass_g: float) -> bool:
    """Whether the reading cannot be: under the dry mass, and not of the oil alone."""
    if given.reading_g is None or is_tared(given, oil_mass_g):
        return False
    return given.reading_g < given.dry_mass_g - _dry_change_seen_g(given)


def _pouring_words(given: FillGiven, found: FillFound, window: FillWindow) -> Iterator[str]:
    """What the reading says, whether the scale was zeroed, and the goal; ``window`` is on the reading's own zero."""
    reading, remaining, oil = given.reading_g, found.remaining_g, found.oil_mass_g
    assert reading is not None
    assert remaining is not None
    if _is_under_dry(given, oil):
        yield (
            f"{_grams(reading, given)} g is less than the diff weighed dry, {_grams(given.dry_mass_g, given)} g: check "
            "that the same parts are on the scale"
        )
    elif window.too_much(reading):
        yield f"{_grams(-remaining, given)} g too much: draw out"
    elif not window.too_little(reading):
        yield "full" if window.can_hit else "full, as near as this scale can show"
    elif window.low_g - reading <= FEW_DROPS * DROP_G + 1e-9:
        yield f"a drop or two: {_grams(remaining, given)} g to go"
    else:
        yield f"pour on: {_grams(remaining, given)} g to go"
    if is_tared(given, oil):
        shown = reading_in_words(reading, given.scale_step_g)
        yield f"scale zeroed on the diff: {shown} of {_grams(oil, given)} g"
    yield _goal_in_words(given, window)


def _limits_of_scale(given: FillGiven, found: FillFound, window: FillWindow) -> Iterator[str]:
    """What this scale cannot do, and what to do about it."""
    share = found.uncertainty_g / found.oil_mass_g
    if not window.can_hit:
        low, high = window.target_g - window.half_width_g, window.target_g + window.half_width_g
        yield (
            f"its steps of {given.scale_step_g:g} g show nothing from {_grams(low, given)} to {_grams(high, given)} g: "
            "this scale cannot hit the window"
        )
    if share > COARSE_SHARE:
        yield (
            f"{_good_to(found)}, {percent(share, 1)} of it: {_check_it(given)}take a scale with steps of 0.01 g, or "
            "weigh on one what is left in the bottle or syringe, or fill more than one diff and weigh them together "
            f"(over {percent(COARSE_SHARE)} is a caution, our own figure)"
        )


def _uncertainty_in_words(given: FillGiven, found: FillFound) -> Iterator[str]:
    """What this scale can tell, where it is not a caution already."""
    if found.uncertainty_g > COARSE_SHARE * found.oil_mass_g:
        return
    half_width = half_width_of_fill_g(given, found.oil_mass_g)
    if found.uncertainty_g > half_width:
        yield f"{_good_to(found)}, the window is {half_width:.2g} g either way: it cannot tell inside from just outside"
    else:
        yield _good_to(found)


def _good_to(found: FillFound) -> str:
    return f"this scale is good to ± {found.uncertainty_g:.2g} g of oil (k = 2)"


def _check_it(given: FillGiven) -> str:
    return "put one thing on it ten times, or " if given.repeatability_g is None else ""


def _grams(mass_g: float, given: FillGiven) -> str:
    return grams_in_words(mass_g, given.scale_step_g)


def fill_working(given: FillGiven, found: FillFound) -> tuple[str, ...]:
    lines = []
    if given.oil_mass_g is None and given.free_volume_cm3 is not None and found.oil_volume_cm3:
        density = found.oil_mass_g / found.oil_volume_cm3
        lines.append(
            f"oil = room × fill × density = {given.free_volume_cm3:g} cm³ × {given.fill_fraction:g} "
            f"× {density:.4f} g/cm³ = {found.oil_mass_g:.3f} g"
        )
    lines.append(f"stop = dry + oil = {given.dry_mass_g:g} g + {found.oil_mass_g:.3f} g = {found.stop_mass_g:.3f} g")
    assumed = assumed_in_words(given.scale_step_g, given.repeatability_g)
    if assumed:
        lines.append(assumed)
    scatter_g = assumed_repeatability_g(given.scale_step_g, given.repeatability_g)
    lines.append(
        f"U = 2 √(step²/6 + 2 s² + a²/3) = 2 √({given.scale_step_g:g}²/6 + 2 × {scatter_g:g}² + "
        f"{given.scale_error_g:g}²/3) g = {found.uncertainty_g:.4f} g"
    )
    window = _window(given, found.stop_mass_g, found.oil_mass_g)
    whose = "yours" if given.fill_window_g else f"{percent(USUAL_SHARE)} of the oil, not under {DROP_G:g} g"
    wide = f"window = {window.half_width_g:.4g} g either way of the stop ({whose})"
    lines.append(
        f"{wide}, inwards to steps of {given.scale_step_g:g} g: {window.low_g:g} to {window.high_g:g} g"
        if window.can_hit
        else f"{wide}: no step of {given.scale_step_g:g} g lies in it; the nearest is {window.nearest_g:g} g"
    )
    return tuple(lines)


FILL: Final = Formula(
    title="Fill target",
    given=FillGiven,
    found=FillFound,
    compute=fill,
    judge=judge_fill,
    working=fill_working,
    one_of=(OneOf((("oil_mass_g",), ("free_volume_cm3",))),),
    read_now=("reading_g",),
)
