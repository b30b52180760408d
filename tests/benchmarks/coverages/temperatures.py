"""Temperatures: at the end of a run from readings after it, and expected of a forecast from the team's own days."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from benchmarks.coverages import Case
from numpy.random import Generator
from numpy.typing import NDArray

from bevelbook.declare.errors import InputError
from bevelbook.formulas.end_temperature import CoolingReading, EndGiven, end_temperature


def cases() -> Iterator[Case]:
    for after_s in ((120.0, 300.0), (60.0, 600.0), (120.0, 300.0, 480.0), (90.0, 180.0, 300.0, 480.0, 600.0)):
        minutes = ", ".join(f"{one / 60:g}" for one in after_s)
        for end_c, tau_s in ((40.0, 900.0), (55.0, 600.0)):
            yield Case(
                f"end of the run, read after {minutes} min, {end_c:g} °C, tau {tau_s:g} s",
                "95 %",
                partial(end_holds_truth, after_s=after_s, end_c=end_c, tau_s=tau_s),
            )


def end_holds_truth(
    rng: Generator, count: int, after_s: tuple[float, ...], end_c: float, tau_s: float, air_c: float = 22.0
) -> NDArray[np.bool_]:
    """Readings on Newton's curve, each and the air off by anything up to 1 °C; refused ones are left out."""
    times = np.array(after_s)
    read = air_c + (end_c - air_c) * np.exp(-times / tau_s) + rng.uniform(-1.0, 1.0, (count, len(times)))
    air = air_c + rng.uniform(-1.0, 1.0, count)
    held = []
    for row, ambient in zip(read, air, strict=True):
        readings = tuple(
            CoolingReading(after_s=float(t), temperature_c=float(c)) for t, c in zip(times, row, strict=True)
        )
        try:
            found = end_temperature(EndGiven(readings=readings, ambient_c=float(ambient)))
        except InputError:
            continue
        held.append(found.low_c <= end_c <= found.high_c)
    return np.array(held)
