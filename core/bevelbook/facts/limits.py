"""The team's own limits: one for a diff overrides the general one; of several the last written down; 0 is none."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import LIMIT_KINDS

RUNS, LOSS_G, LOSS_SHARE, SEAL_USES, FILL_WINDOW = LIMIT_KINDS


class OwnLimits(NamedTuple):
    """The team's limits that apply to a diff; None where there is none."""

    runs: float | None = None
    loss_g: float | None = None
    loss_share: float | None = None
    seal_uses: float | None = None
    fill_window_g: float | None = None


NONE: Final = OwnLimits()


class TeamLimits:
    """All limits of the team, looked up by diff."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        rows = connection.execute("SELECT kind, diff, value FROM limits ORDER BY created_at, id")
        self._last: dict[tuple[str, str | None], float] = {(row[0], row[1]): row[2] for row in rows}

    def of(self, diff: str) -> OwnLimits:
        """The limits that apply to a diff, by its id."""
        if not self._last:
            return NONE
        return OwnLimits(*(self._value(kind, diff) for kind in LIMIT_KINDS))

    def _value(self, kind: str, diff: str) -> float | None:
        return self._last.get((kind, diff)) or self._last.get((kind, None)) or None
