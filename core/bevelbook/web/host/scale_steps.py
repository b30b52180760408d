"""The steps of scales, which say how many digits of a mass are shown."""

from __future__ import annotations

import sqlite3

from bevelbook.web.host.cached_answers import cached_answer
from bevelbook.web.host.readonly import TeamDatabase


async def scale_step_g(database: TeamDatabase, scale_id: str) -> float | None:
    """The smallest step of a scale, read again after two seconds; None where the scale does not exist."""
    found: float | None = await cached_answer(database, "step of scale", scale_id, _step)
    return found


def _step(connection: sqlite3.Connection, _: str, scale_id: str) -> float | None:
    row = connection.execute("SELECT step_g FROM scales WHERE id = ?", (scale_id,)).fetchone()
    return float(row[0]) if row else None
