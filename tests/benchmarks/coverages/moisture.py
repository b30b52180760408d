"""The term for water in a plastic housing: whether its k = 2 holds the water that diffusion really moves.

Truth: a wall of nylon, 1.5 mm thick, wet from outside alone, with one constant coefficient of diffusion and the water
at rest in proportion to the humidity (finite differences). It was kept in a room for months, at any humidity from 30
to 60 %; then the air has one humidity from 20 to 80 % all the time, or another one each day. The term is meant as a
bound in any such weather, so it may hold more often than 95 %.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from benchmarks.coverages.one_scale import readings
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.housing_moisture import (
    NYLON,
    ROOM_PERCENT,
    TRACK_PERCENT,
    Housing,
    moisture_g,
    water_at_50_percent,
)
from bevelbook.formulas.leak import LeakGiven, LeakWeighing, leak
from bevelbook.physics.weighing import COVERAGE_K

AT_LEAST_95 = (0.93, 1.0)
IN_STEPS = (0.93, 0.985)
"""Four readings in steps of 0.01 g: the loss is a whole number of steps."""
WALL_MM = 1.5
LAYERS = 30
DIFFUSION_MM2_PER_DAY = 4e-13 * 1e6 * 86_400.0
HOUSING = Housing("nylon", 5.0)
SCALE = (0.01, 0.005)


def cases() -> Iterator[Case]:
    for days in (1, 7, 30, 90):
        for stays, weather in ((days, "one humidity"), (1, "another humidity each day")):
            if days == 1 and stays == days and weather != "one humidity":
                continue
            simulate = partial(term_holds_water, days=days, stays=stays)
            yield Case(f"water of {days} days, {weather}", "k = 2", simulate, AT_LEAST_95)
    for days in (1, 7, 30):
        yield Case(f"loss after {days} days, nylon", "k = 2", partial(loss_holds, days=days), AT_LEAST_95)
        sister = partial(loss_holds, days=days, has_sister=True)
        yield Case(f"loss after {days} days, nylon, a sister housing alongside", "k = 2", sister, IN_STEPS)


def term_holds_water(rng: Generator, count: int, days: int, stays: int) -> NDArray[np.bool_]:
    return np.abs(_water_moved_g(rng, count, days, stays)) <= COVERAGE_K * moisture_g(HOUSING, days)


def loss_holds(rng: Generator, count: int, days: int, has_sister: bool = False) -> NDArray[np.bool_]:
    """The loss that leak-trend prints, of 0.1 g of oil; one humidity from the build on."""
    water = _water_moved_g(rng, count, days, days)
    closed, empty = rng.uniform(22.0, 23.0, count), rng.uniform(4.9, 5.1, count)
    masses = [readings(rng, mass, *SCALE) for mass in (closed, closed - 0.1 + water)]
    sisters = [readings(rng, mass, *SCALE) for mass in (empty, empty + water)]
    held = np.empty(count, dtype=bool)
    for turn in range(count):
        weighings = tuple(
            LeakWeighing(
                runs=6.0 * place,
                mass_g=float(masses[place][turn]),
                day=str(days * place),
                sister_mass_g=float(sisters[place][turn]) if has_sister else None,
            )
            for place in range(2)
        )
        found = leak(
            LeakGiven(
                weighings=weighings,
                scale_step_g=SCALE[0],
                repeatability_g=SCALE[1],
                day_to_day_g=0.0,
                housing_material=HOUSING.material,
                housing_mass_g=HOUSING.mass_g,
            )
        )
        held[turn] = found.loss_low_g - 1e-9 <= 0.1 <= found.loss_high_g + 1e-9
    return held


def _water_moved_g(rng: Generator, count: int, days: int, stays: int) -> NDArray[np.float64]:
    """Water in the wall by explicit steps, in units of the water at 50 %; the last layer has no flow behind it."""
    step_mm = WALL_MM / LAYERS
    steps = int(np.ceil(DIFFUSION_MM2_PER_DAY / (0.4 * step_mm**2)))
    factor = DIFFUSION_MM2_PER_DAY / steps / step_mm**2
    water = np.tile(rng.uniform(*ROOM_PERCENT, count) / 50.0, (LAYERS + 2, 1))
    before = water[1:-1].mean(axis=0)
    for day in range(days):
        if day % stays == 0:
            water[0] = rng.uniform(*TRACK_PERCENT, count) / 50.0
        for _ in range(steps):
            water[-1] = water[-2]
            water[1:-1] += factor * (water[2:] - 2.0 * water[1:-1] + water[:-2])
    return 5.0 * water_at_50_percent(NYLON) * (water[1:-1].mean(axis=0) - before)
