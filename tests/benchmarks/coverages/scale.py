"""A scale checked by ``scale-check``, then used: whether losses, dry masses and the words of the check are true."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import NEAR_95, Case
from benchmarks.coverages.one_scale import readings
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.scale_check import (
    CheckReading,
    ScaleCheckFound,
    ScaleCheckGiven,
    counted_noise,
    doubt_about,
    judge_scale_check,
    scale_check,
    seen_between_days_g,
    seen_on_one_day_g,
)
from bevelbook.physics.weighing import COVERAGE_K, ScaleNoise, dry_mass_change_seen_g, smallest_difference_seen_g

STEP_G = 0.01
SCATTERS_G = (0.001, 0.002, 0.005, 0.01)
"""Standard deviations before rounding, of which nobody knows the true one."""
FALSE_ALARMS = (0.0, 0.07)
ABOVE_95 = (0.95, 1.0)
"""Where rounding hides the scatter, it is counted so that one digit of flicker is not a loss, and the text says so."""
NEAR_95_OR_FEW = (0.93, 0.98)
"""From five readings on, near half a step the floor of the scatter counts too."""


def cases() -> Iterator[Case]:
    for count in (10, 5, 20):
        for scatter_g in SCATTERS_G:
            yield Case(
                f"loss of one day, s {scatter_g} g found from {count} readings",
                "k = 2" if scatter_g > 0.2 * STEP_G else "more than 95 of 100 (said)",
                partial(loss_holds, scatter_g=scatter_g, readings_a_day=count, days=1, day_g=None),
                (NEAR_95 if count >= 10 else NEAR_95_OR_FEW) if scatter_g > 0.2 * STEP_G else ABOVE_95,
            )
    for scatter_g in SCATTERS_G:
        name = f"s {scatter_g} g"
        yield Case(
            f"loss seen where none is, {name} found from 10 readings",
            "5 %",
            partial(is_seen_for_nothing, scatter_g=scatter_g),
            FALSE_ALARMS,
        )
        yield Case(
            f"drift said of a steady scale, s {scatter_g} g", "5 %", partial(drifts, scatter_g=scatter_g), FALSE_ALARMS
        )
        yield Case(
            f"odd reading asked about, s {scatter_g} g", "1 %", partial(is_odd, scatter_g=scatter_g), (0.0, 0.015)
        )
    for days, readings_a_day in ((5, 3), (4, 10), (8, 2)):
        for day_g in (0.0, 0.02):
            yield Case(
                f"reading or day asked about, {days} days with {readings_a_day} each, days off by {day_g} g",
                "2 %",
                partial(is_odd_over_days, scatter_g=0.005, days=days, readings_a_day=readings_a_day, day_g=day_g),
                (0.0, 0.025),
            )
    for scatter_g in (0.005, 0.01):
        printed, allowed = ("95 %", NEAR_95) if scatter_g >= STEP_G else ("about 9 in 10 (said)", (0.88, 0.97))
        simulate = partial(deviation_holds, scatter_g=scatter_g)
        yield Case(f"interval of the repeatability, s {scatter_g} g", printed, simulate, allowed)
    for days, allowed in ((4, (0.93, 0.97)), (6, (0.93, 0.97)), (3, (0.85, 0.97)), (2, (0.80, 0.97))):
        for day_g in (0.0, 0.01, 0.02):
            yield Case(
                f"loss between days, each off by {day_g} g, found from {days} days",
                "k = 2" if days >= 4 else "less than 95 % (said)",
                partial(loss_holds, scatter_g=0.005, readings_a_day=10, days=days, day_g=day_g),
                allowed,
            )
    for day_g in (0.0, 0.005, 0.01):
        yield Case(
            f"loss between days, each off by {day_g} g, found from one day",
            "k = 2, one step assumed (said)",
            partial(loss_holds, scatter_g=0.005, readings_a_day=10, days=1, day_g=day_g),
            NEAR_95 if day_g == STEP_G else ABOVE_95,
        )
    for day_g in (0.0, 0.01):
        yield Case(
            f"dry mass said to have changed, days off by {day_g} g, scale checked on one day",
            "5 %",
            partial(dry_mass_changes, noise=ScaleNoise(STEP_G, 0.005), day_g=day_g),
            FALSE_ALARMS,
        )
        yield Case(
            f"dry mass said to have changed, scale known, days off by {day_g} g",
            "5 %",
            partial(dry_mass_changes, noise=ScaleNoise(STEP_G, 0.005, day_g), day_g=day_g),
            FALSE_ALARMS,
        )


def _check(
    rng: Generator, scatter_g: float, readings_a_day: int, days: int, day_g: float
) -> tuple[ScaleCheckGiven, ScaleCheckFound]:
    mass_g = rng.uniform(20.0, 21.0)
    shifts = rng.normal(0.0, day_g, days) if days > 1 else np.zeros(1)
    shown = readings(rng, np.tile(mass_g + shifts, (readings_a_day, 1)), STEP_G, scatter_g)
    given = ScaleCheckGiven(
        readings=tuple(
            CheckReading(mass_g=round(float(mass), 2), day=str(day)) for day in range(days) for mass in shown[:, day]
        ),
        scale_step_g=STEP_G,
    )
    return given, scale_check(given)


def loss_holds(
    rng: Generator, count: int, scatter_g: float, readings_a_day: int, days: int, day_g: float | None
) -> NDArray[np.bool_]:
    """Whether loss ± 2 u holds the truth, each time with a scale that was checked just before; without ``day_g`` the
    two masses are of one day."""
    held = np.empty(count, dtype=bool)
    for turn in range(count):
        given, found = _check(rng, scatter_g, readings_a_day, days, day_g or 0.0)
        noise = counted_noise(given, found)
        before, loss = rng.uniform(21.0, 22.0), rng.uniform(0.0, 0.3)
        true = np.array([before, before - loss]) + rng.normal(0.0, day_g or 0.0, 2)
        first, last = readings(rng, true, STEP_G, scatter_g)
        seen_g = seen_on_one_day_g(noise) if day_g is None else seen_between_days_g(noise)
        wide = COVERAGE_K * seen_g / 1.96
        held[turn] = abs(first - last - loss) <= wide + 1e-9
    return held


def is_seen_for_nothing(rng: Generator, count: int, scatter_g: float) -> NDArray[np.bool_]:
    seen = np.empty(count, dtype=bool)
    for turn in range(count):
        given, found = _check(rng, scatter_g, 10, 1, 0.0)
        noise = counted_noise(given, found)
        first, last = readings(rng, np.full(2, rng.uniform(21.0, 22.0)), STEP_G, scatter_g)
        seen[turn] = abs(first - last) > smallest_difference_seen_g(noise.step_g, noise.repeatability_g) + 1e-9
    return seen


def drifts(rng: Generator, count: int, scatter_g: float) -> list[bool]:
    checks = (_check(rng, scatter_g, 10, 1, 0.0) for _ in range(count))
    return [any("creeps" in one for one in judge_scale_check(*check).reasons) for check in checks]


def is_odd(rng: Generator, count: int, scatter_g: float) -> list[bool]:
    return [doubt_about(*_check(rng, scatter_g, 10, 1, 0.0)) is not None for _ in range(count)]


def is_odd_over_days(
    rng: Generator, count: int, scatter_g: float, days: int, readings_a_day: int, day_g: float
) -> list[bool]:
    checks = (_check(rng, scatter_g, readings_a_day, days, day_g) for _ in range(count))
    return [doubt_about(*check) is not None for check in checks]


def deviation_holds(rng: Generator, count: int, scatter_g: float) -> list[bool]:
    """Whether the interval holds the standard deviation of a reading as shown, its rounding included."""
    true = (scatter_g**2 + STEP_G**2 / 12.0) ** 0.5
    checks = (_check(rng, scatter_g, 10, 1, 0.0)[1] for _ in range(count))
    return [one.repeatability_low_g <= true <= one.repeatability_high_g for one in checks]


def dry_mass_changes(rng: Generator, count: int, noise: ScaleNoise, day_g: float) -> NDArray[np.bool_]:
    """Two dry masses of two days with nothing changed but 0 to 0.01 g of old oil left each time."""
    mass_g = rng.uniform(12.0, 13.0, count)
    assert noise.repeatability_g is not None
    shown = [
        readings(
            rng,
            mass_g + rng.uniform(0.0, 0.01, count) + rng.normal(0.0, day_g, count),
            noise.step_g,
            noise.repeatability_g,
        )
        for _ in range(2)
    ]
    return np.abs(shown[1] - shown[0]) > dry_mass_change_seen_g(noise, noise) + 1e-9
