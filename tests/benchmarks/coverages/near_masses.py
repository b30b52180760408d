"""Readings without a basis, and two diffs that are off alike, where nothing is wrong: how often a person is asked."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from benchmarks.coverages import Case
from benchmarks.coverages.one_scale import readings
from numpy.random import Generator

from bevelbook.formulas.near_masses import KnownMass, Offset, are_off_alike, fitting, is_equal, offset_of
from bevelbook.physics.weighing import reading_uncertainty_g

SCALES = ((0.01, 0.005), (0.001, 0.002), (0.1, 0.05))
OIL_G = 1.86
SELDOM = (0.0, 0.01)


def cases() -> Iterator[Case]:
    for step_g, repeatability_g in SCALES:
        scale = {"step_g": step_g, "repeatability_g": repeatability_g}
        name = f"step {step_g} g, repeatability {repeatability_g} g"
        yield Case(f"closed diff not taken as closed, {name}", "3 u", partial(is_not_known, **scale), SELDOM)
        yield Case(f"same mass taken as changed, {name}", "3 u", partial(is_changed, **scale), SELDOM)
        yield Case(f"two diffs off alike, {name}", "none is due", partial(are_alike, **scale), SELDOM)


def _weighed(
    rng: Generator, count: int, step_g: float, repeatability_g: float
) -> tuple[list[KnownMass], list[float], float]:
    """Closed diffs at the build and again later, as one scale shows them, with the variance of a reading."""
    true = rng.uniform(21.0, 23.0, count)
    variance = reading_uncertainty_g(step_g, repeatability_g) ** 2
    first = readings(rng, true, step_g, repeatability_g)
    known = [KnownMass("closed", float(mass), variance, "at the build") for mass in first]
    return known, [float(mass) for mass in readings(rng, true, step_g, repeatability_g)], variance


def is_not_known(rng: Generator, count: int, step_g: float, repeatability_g: float) -> list[bool]:
    known, again, variance = _weighed(rng, count, step_g, repeatability_g)
    return [not fitting(mass, variance, [one], OIL_G) for one, mass in zip(known, again, strict=True)]


def is_changed(rng: Generator, count: int, step_g: float, repeatability_g: float) -> list[bool]:
    known, again, variance = _weighed(rng, count, step_g, repeatability_g)
    return [not is_equal(mass, variance, one) for one, mass in zip(known, again, strict=True)]


def are_alike(rng: Generator, count: int, step_g: float, repeatability_g: float) -> list[bool]:
    off: list[list[Offset]] = []
    for _ in range(2):
        known, again, variance = _weighed(rng, count, step_g, repeatability_g)
        found = [offset_of(mass, variance, [one]) for one, mass in zip(known, again, strict=True)]
        off.append([one for one in found if one is not None])
    return [are_off_alike(one, other) for one, other in zip(*off, strict=True)]
