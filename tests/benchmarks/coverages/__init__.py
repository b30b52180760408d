"""How often what the tool prints is true: intervals that should hold the truth, verdicts that should not cry wolf.

A module here is a subject (leak, scale, laps, ...), found by its name. It has one function, ``cases()``, that yields
its cases, the quickest first (a test runs that one with a few simulations so that no module rots)::

    def cases() -> Iterator[Case]:
        yield Case("loss, 6 weighings, s known", "95 %", partial(loss_holds_truth, weighings=6))
        yield Case("sudden on a tight diff", "0.2 %", sudden_on_tight, allowed=(0.0, 0.01))

    def loss_holds_truth(rng: Generator, count: int, weighings: int) -> NDArray[np.bool_]:
        ...

``simulate(rng, count)`` plays ``count`` cases with a truth that it knows and gives one yes or no for each of them:
whether the interval held the truth, or whether the false word was printed. Where nothing was printed the case may be
left out; the table shows how many counted. It draws from ``rng`` alone, which starts the same way for the same case,
whatever else runs. Simulations call the project's own functions, not a copy of their formulas.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from pkgutil import iter_modules
from typing import Final, NamedTuple
from zlib import crc32

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

NEAR_95: Final = (0.93, 0.97)
"""Share of intervals printed as 95 % that may hold the truth."""
SIMULATIONS: Final = 2000

Simulate = Callable[[Generator, int], NDArray[np.bool_] | Sequence[bool]]


@dataclass(frozen=True)
class Case:
    """One interval or verdict under one set of true values.

    ``nominal``: what the text prints, such as "95 %" or "k = 2". ``allowed``: the lowest and highest share that makes
    this text true. ``count``: simulations where the command line gives none.
    """

    name: str
    nominal: str
    simulate: Simulate
    allowed: tuple[float, float] = NEAR_95
    count: int = SIMULATIONS


class Seen(NamedTuple):
    """Share of yes among the simulations that counted; nan where none did."""

    share: float
    counted: int

    def is_within(self, allowed: tuple[float, float]) -> bool:
        return allowed[0] <= self.share <= allowed[1]


def subjects() -> list[str]:
    """The names of the modules here."""
    return sorted(module.name for module in iter_modules(__path__))


def cases_of(subject: str) -> Iterator[Case]:
    """The cases of one subject. Raises ModuleNotFoundError for an unknown one."""
    yield from import_module(f"{__name__}.{subject}").cases()


def seen(subject: str, case: Case, count: int | None = None) -> Seen:
    """Simulate one case from its own fixed start."""
    rng = np.random.default_rng(crc32(f"{subject}: {case.name}".encode()))
    answers = np.asarray(case.simulate(rng, count or case.count), dtype=bool)
    return Seen(float(answers.mean()) if answers.size else float("nan"), int(answers.size))
