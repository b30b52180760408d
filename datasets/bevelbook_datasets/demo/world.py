"""The world of the invented team: the true values, and what scale, thermometer and watch show.

Every quantity is drawn from its own stream, named after its purpose, so that one more run changes no other number. Only
``random()`` is used, whose sequence Python keeps the same from version to version.
"""

from __future__ import annotations

from functools import cache
from math import exp, log2
from random import Random
from statistics import NormalDist
from typing import Final, NamedTuple

from bevelbook_datasets.demo.plan import (
    BASE_LAP_S,
    BEST_CST,
    CURED_G_PER_RUN,
    DRIVER_S,
    DRY_G,
    HEAVIER_LID_G,
    LABEL_CST,
    LID_G,
    LITERAL_G,
    OLD_OIL_G,
    PLANNED_BUILDS,
    RAN_OUT_G,
    SLOW_WEEP_G_PER_RUN,
    STRIPPED_AFTER_RUNS,
    STRIPPED_G_PER_RUN,
    TARED,
    TARGET_G,
    VENUE_OF,
    PlannedBuild,
)

SEED: Final = 710256
"""Chosen, not drawn: the first whole number whose history has everything the demo has to show (see DEMO.txt)."""
SCALE_STEP_G: Final = {"bench": 0.01, "pocket": 0.01, "kitchen": 0.1}
READING_SD_G: Final = 0.004
LAP_SD_S: Final = 0.045
_STANDARD: Final = NormalDist()
BUILDS: Final = {one.label: one for one in PLANNED_BUILDS}


def uniform(low: float, high: float, *purpose: object) -> float:
    """One draw, always the same for the same purpose."""
    text = ":".join(map(str, (SEED, *purpose)))
    return low + (high - low) * Random(text).random()


def normal(mean: float, spread: float, *purpose: object) -> float:
    share = uniform(1e-12, 1.0 - 1e-12, *purpose)
    return mean + spread * _STANDARD.inv_cdf(share)


def chance(share: float, *purpose: object) -> bool:
    return uniform(0.0, 1.0, *purpose) < share


def one_of(words: tuple[str, ...], *purpose: object) -> str:
    return words[int(uniform(0.0, len(words), *purpose))]


def viscosity_ratio(temperature_c: float) -> float:
    """Viscosity against the one at 25 °C: exp[B (1/T - 1/298.15)] with B = 1757.1 K."""
    return exp(1757.1 * (1.0 / (temperature_c + 273.15) - 1.0 / 298.15))


class Masses(NamedTuple):
    """The true masses of a build."""

    dry_g: float
    poured_g: float
    closed_g: float


@cache
def masses(build: PlannedBuild) -> Masses:
    label = build.label
    dry = DRY_G[build.diff] + normal(0.0, 0.006, "dry", label) - build.light_g + OLD_OIL_G.get(label, 0.0)
    poured = build.poured_g or TARGET_G + normal(0.004, 0.012, "poured", label)
    lid = LID_G[build.diff] + HEAVIER_LID_G.get(label, 0.0)
    closed = dry + poured + lid - (RAN_OUT_G.get(label) or uniform(0.0, 0.02, "squeezed out", label))
    if label in LITERAL_G:
        closed = LITERAL_G[label][0]
    return Masses(dry, poured, closed)


def lost_g(build: PlannedBuild, runs: float) -> float:
    """Oil lost after this many runs."""
    label = build.label
    if runs <= 0:
        return 0.0
    if label in SLOW_WEEP_G_PER_RUN:
        return SLOW_WEEP_G_PER_RUN[label] * runs
    per_run = CURED_G_PER_RUN.get(label) or uniform(0.0003, 0.0012, "weep", label)
    lost = 0.010 * min(runs, 1.0) + per_run * max(runs - 1.0, 0.0)
    if label == "rear-d/4":
        lost += STRIPPED_G_PER_RUN * max(runs - STRIPPED_AFTER_RUNS, 0.0)
    return lost


def reading_g(true_g: float, scale: str, *purpose: object) -> float:
    """What a scale shows."""
    step = SCALE_STEP_G[scale]
    return round(round(normal(true_g, READING_SD_G, "reading", *purpose) / step) * step, 2)


def closed_reading_g(build: PlannedBuild, runs: int) -> float:
    """The closed diff on the scale after this many runs."""
    literal = LITERAL_G.get(build.label, {})
    if runs in literal:
        return literal[runs]
    return reading_g(masses(build).closed_g - lost_g(build, runs), build.scale, "closed", build.label, runs)


class Filled(NamedTuple):
    """What the builder read off the scale, open half; the oil alone where the dry diff was tared off."""

    dry_g: float | None
    oil_g: float
    filled_g: float | None


@cache
def filled_readings_g(build: PlannedBuild) -> Filled:
    scale = "pocket" if build.scale == "kitchen" else build.scale
    true = masses(build)
    if build.label in TARED:
        return Filled(None, reading_g(true.poured_g, scale, "oil", build.label), None)
    dry = reading_g(true.dry_g, scale, "dry", build.label)
    filled = reading_g(true.dry_g + true.poured_g, scale, "filled", build.label)
    return Filled(dry, round(filled - dry, 2), filled)


class Weather(NamedTuple):
    """One stretch of a day."""

    air_c: float
    track_c: float
    grip: str
    trend: str


@cache
def weather(day: str, block: str) -> Weather:
    venue = VENUE_OF[day]
    if venue == "Tannery Hall":
        air = normal(19.0, 2.0, "air", day)
        track = air + 1.0
    else:
        air = normal(24.0, 5.0, "air", day)
        track = min(air + 14.0 * uniform(0.0, 1.0, "sun", day, block), 48.0)
    usual, other, share = {
        "Tannery Hall": ("high", "medium", 0.7),
        "North Quay": ("medium", one_of(("low", "high"), "other grip", day), 0.8),
        "Brickfield": ("low", "medium", 0.7),
    }[venue]
    grip = usual if chance(share, "grip", day) else other
    trend = "rising" if chance(0.6, "trend", day) else one_of(("steady", "falling"), "other trend", day)
    return Weather(air, track, grip, trend)


def diff_temperature_c(here: Weather, *purpose: object) -> float:
    return here.air_c + 9.0 + 0.25 * (here.track_c - here.air_c) + normal(0.0, 2.0, "diff temperature", *purpose)


def is_measured(day: str, *purpose: object) -> bool:
    """Whether anybody held the thermometer to the diff."""
    return chance(0.45 if day >= "2026" else 0.10, "measured", day, *purpose)


def working_cst(build: PlannedBuild, temperature_c: float, runs: float) -> float:
    """What the diff feels like: the oil when warm, less where oil was lost."""
    share = lost_g(build, runs) / masses(build).poured_g
    return LABEL_CST[build.oil] * viscosity_ratio(temperature_c) * (1.0 - 1.5 * share)


def miss(viscosity_cst: float, grip: str) -> float:
    """How far off the best: 1 is twice as thick."""
    return log2(viscosity_cst / BEST_CST[grip])


def lap_s(
    venue: str, driver: str, order: int, tyre_runs: float, missed: float, here: Weather, *purpose: object
) -> float:
    """Mean of the best five laps."""
    drift = -0.021 * order if here.trend == "rising" else 0.0
    base = BASE_LAP_S[venue] + DRIVER_S[driver] + drift + 0.003 * tyre_runs + 0.06 * missed**2
    return base + normal(0.0, LAP_SD_S, "lap", *purpose)


def call_after(missed: float, *purpose: object) -> str:
    if chance(0.15, "undecided", *purpose):
        return "undecided"
    return "keep" if chance(0.8 if abs(missed) < 0.45 else 0.25, "call", *purpose) else "change"


_NOTES: Final = {
    "thin": (
        "rear steps out on power",
        "loose off the corner",
        "wanders on the straight",
        "no drive out of the hairpin",
    ),
    "right": ("easy to drive", "planted", "would take it again", "good", "quiet over the joints"),
    "thick": ("pushes in the middle", "stiff, hops over the joints", "does not turn", "inside wheel scrubs"),
}


def note_on(missed: float, *purpose: object) -> str:
    return one_of(_NOTES["thin" if missed < -0.45 else "thick" if missed > 0.45 else "right"], "note", *purpose)


def lap_lengths_s(best_five_s: float, *purpose: object) -> list[float]:
    """Twelve laps whose best five have that mean."""
    fast = [best_five_s + 0.01 * step for step in (-6, -3, 0, 3, 6)]
    slow = [best_five_s + uniform(0.08, 0.60, "slow lap", number, *purpose) for number in range(7)]
    mixed = sorted(enumerate(fast + slow), key=lambda one: uniform(0.0, 1.0, "lap place", one[0], *purpose))
    return [round(lap, 2) for _, lap in mixed]
