"""Damping and friction of bench-drag from three falls or more, timed by hand."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import cycle, islice

from benchmarks.coverages import Case
from numpy.random import Generator

from bevelbook.physics.constants import STANDARD_GRAVITY_M_S2
from bevelbook_plugins.bench_drag import DragFound, DragGiven, DropTime, drag

DRUM_MM, FALL_MM = 10.0, 400.0
DAMPING, FRICTION = 5.1e-3, 1.3e-3
WEIGHTS_G = (60.0, 100.0, 150.0)


def cases() -> Iterator[Case]:
    for falls in (3, 6, 9):
        for hand_s in (0.2, 0.5):
            name = f"{falls} falls, hand {hand_s} s"
            yield Case(f"damping, {name}", "95 %", partial(damping_holds, falls=falls, hand_s=hand_s))
            yield Case(f"friction, {name}", "95 %", partial(friction_holds, falls=falls, hand_s=hand_s))


def _found(rng: Generator, falls: int, hand_s: float) -> DragFound:
    """Three weights in turn; the true time is h / (r omega) with omega = (m g r - friction) / damping."""
    times = []
    for mass_g in islice(cycle(WEIGHTS_G), falls):
        torque = mass_g * 1e-3 * STANDARD_GRAVITY_M_S2 * DRUM_MM * 1e-3
        time_s = FALL_MM / DRUM_MM / ((torque - FRICTION) / DAMPING)
        times.append(DropTime(mass_g=mass_g, time_s=float(time_s + rng.normal(0.0, hand_s))))
    return drag(DragGiven(falls=tuple(times), drum_radius_mm=DRUM_MM, fall_mm=FALL_MM))


def damping_holds(rng: Generator, count: int, falls: int, hand_s: float) -> list[bool]:
    held = []
    for _ in range(count):
        found = _found(rng, falls, hand_s)
        if found.damping_low_nm_s is not None:
            high = found.damping_high_nm_s
            held.append(found.damping_low_nm_s <= DAMPING and (high is None or high >= DAMPING))
    return held


def friction_holds(rng: Generator, count: int, falls: int, hand_s: float) -> list[bool]:
    held = []
    for _ in range(count):
        found = _found(rng, falls, hand_s)
        if found.friction_low_nm is not None and found.friction_high_nm is not None:
            held.append(found.friction_low_nm <= FRICTION <= found.friction_high_nm)
    return held
