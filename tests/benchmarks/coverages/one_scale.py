"""What is printed from two readings of one scale: oil put in (fill-target) and room for oil (free-volume)."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.formulas.fill_target import FillGiven, fill
from bevelbook_plugins.free_volume import Repeat, VolumeGiven, volume

SCALES = ((0.01, 0.005), (0.01, 0.01), (0.001, 0.002), (0.1, 0.0))
"""Step and repeatability in g."""


def cases() -> Iterator[Case]:
    for step_g, repeatability_g in SCALES:
        scale = {"step_g": step_g, "repeatability_g": repeatability_g}
        name = f"step {step_g} g, repeatability {repeatability_g} g"
        rounding_alone = (0.93, 1.0) if repeatability_g == 0.0 else (0.93, 0.97)
        yield Case(f"oil put in, {name}", "k = 2", partial(oil_holds, **scale), allowed=rounding_alone)
        for fillings in (1, 3):
            simulate = partial(room_holds, fillings=fillings, **scale)
            yield Case(f"room, {fillings} filling(s), {name}", "k = 2", simulate, allowed=rounding_alone)


def readings(rng: Generator, true_g: NDArray[np.float64], step_g: float, repeatability_g: float) -> NDArray[np.float64]:
    """What a scale shows: the true mass and its scatter, rounded to a step."""
    return np.round((true_g + rng.normal(0.0, repeatability_g, true_g.shape)) / step_g) * step_g


def oil_holds(rng: Generator, count: int, step_g: float, repeatability_g: float) -> NDArray[np.bool_]:
    dry, oil = rng.uniform(12.0, 13.0, count), rng.uniform(1.5, 2.0, count)
    shown = readings(rng, dry + oil, step_g, repeatability_g) - readings(rng, dry, step_g, repeatability_g)
    wide = fill(
        FillGiven(dry_mass_g=12.4, oil_mass_g=1.86, scale_step_g=step_g, repeatability_g=repeatability_g)
    ).uncertainty_g
    return np.abs(shown - oil) <= wide + 1e-9


def room_holds(rng: Generator, count: int, fillings: int, step_g: float, repeatability_g: float) -> NDArray[np.bool_]:
    dry, oil = rng.uniform(20.0, 21.0, count), rng.uniform(2.0, 2.4, count)
    shown_dry = readings(rng, dry, step_g, repeatability_g)
    shown_full = readings(rng, np.tile(dry + oil, (fillings, 1)), step_g, repeatability_g)
    held = np.empty(count, dtype=bool)
    for turn in range(count):
        found = volume(
            VolumeGiven(
                dry_mass_g=float(shown_dry[turn]),
                full_mass_g=float(shown_full[0, turn]),
                density_g_cm3=1.0,
                temperature_c=25.0,
                scale_step_g=step_g,
                repeatability_g=repeatability_g,
                repeats=tuple(Repeat(full_mass_g=float(mass)) for mass in shown_full[1:, turn]),
            )
        )
        held[turn] = abs(found.free_volume_cm3 - oil[turn]) <= found.uncertainty_cm3 + 1e-9
    return held
