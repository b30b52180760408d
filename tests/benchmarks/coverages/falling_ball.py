"""The uncertainty of a falling-ball test, with every input off as far as the calculator says it may be."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.hand_timing import HAND_S
from bevelbook.physics.density import density_g_cm3
from bevelbook.physics.viscosity import viscosity_ratio
from bevelbook_plugins.falling_ball import BallFall, BallGiven, haberman_sayre, measure, stokes_pa_s

BALL_MM, TUBE_MM, FALL_MM, BALL_G_CM3, OIL_G_CM3, AT_C = 2.0, 16.0, 40.0, 7.81, 0.975, 22.0


def cases() -> Iterator[Case]:
    for true_cst in (3_000.0, 7_000.0, 60_000.0):
        for falls, hand_s in ((1, HAND_S), (3, HAND_S), (3, 0.1)):
            name = f"{true_cst:,.0f} cSt, falls timed: {falls}, a hand of {hand_s:g} s"
            simulate = partial(ball_holds, true_cst=true_cst, falls=falls, hand_s=hand_s)
            yield Case(name, "k = 2", simulate, allowed=(0.93, 0.98))


def ball_holds(rng: Generator, count: int, true_cst: float, falls: int, hand_s: float) -> NDArray[np.bool_]:
    """The true time follows from the true ball, tube, length, density and temperature; the given ones are nominal."""
    held = np.empty(count, dtype=bool)
    for turn in range(count):
        ball, tube = BALL_MM + rng.uniform(-0.01, 0.01), TUBE_MM + rng.uniform(-0.1, 0.1)
        length, at_c = FALL_MM + rng.normal(0.0, 0.3), AT_C + rng.normal(0.0, 0.5)
        density = density_g_cm3(OIL_G_CM3, at_c)
        heavier = BALL_G_CM3 - density + rng.normal(0.0, 0.03)
        kinematic = true_cst * viscosity_ratio(at_c, 25.0)
        dynamic_pa_s = kinematic * density * 1e-3
        speed = stokes_pa_s(ball, heavier, 1.0) / (dynamic_pa_s * haberman_sayre(ball / tube))
        times = length / speed + rng.normal(0.0, hand_s, falls)
        found = measure(
            BallGiven(
                ball_diameter_mm=BALL_MM,
                ball_density_g_cm3=BALL_G_CM3,
                tube_diameter_mm=TUBE_MM,
                fall_mm=FALL_MM,
                oil_density_g_cm3=OIL_G_CM3,
                temperature_c=AT_C,
                times=tuple(BallFall(time_s=float(time)) for time in times),
            )
        )
        held[turn] = abs(found.viscosity_cst - true_cst) <= found.uncertainty_cst
    return held
