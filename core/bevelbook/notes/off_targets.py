"""Rows with a fill whose oil is too far from what was meant to go in."""

from __future__ import annotations

import sqlite3
from functools import cached_property
from typing import Any, NamedTuple

from bevelbook.declare.vocabulary import TOP_UP
from bevelbook.facts.limits import TeamLimits
from bevelbook.facts.scales import noise_of
from bevelbook.formulas.off_target import off_target
from bevelbook.physics.weighing import ScaleNoise


class FillOfRow(NamedTuple):
    """The ids of its diff and scale, what was done, and its target and oil in g; None where not said."""

    diff: Any
    scale: Any
    kind: str | None
    target_g: float
    oil_g: float | None


class OffTargets:
    """Which fills are off their target, by the limits and scales of a database."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._noises: dict[Any, ScaleNoise] = {}

    def holds(self, fill: FillOfRow) -> bool:
        """Whether a fill is one of them; a top-up is not, as the oil in it is that of the fill before."""
        if fill.oil_g is None or fill.kind == TOP_UP:
            return False
        if fill.scale not in self._noises:
            self._noises[fill.scale] = noise_of(self._connection, fill.scale)
        window = self._limits.of(fill.diff).fill_window_g
        return off_target(fill.oil_g, fill.target_g, window, self._noises[fill.scale]) is not None

    @cached_property
    def _limits(self) -> TeamLimits:
        return TeamLimits(self._connection)
