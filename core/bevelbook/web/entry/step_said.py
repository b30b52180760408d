"""What the screen of a step has to say of what it stored, on the screen or the list that comes next."""

from __future__ import annotations

import sqlite3
from logging import getLogger

from bevelbook.declare.errors import BevelbookError
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.entry.bench_order import PlacedStep

_LOG = getLogger(__name__)


def said_of_step(connection: sqlite3.Connection, job: JobOnBench, placed: PlacedStep | None) -> tuple[str, ...]:
    """The sentences of a screen; none without a step.

    A fault of the program in one screen is logged, and leaves the other screens and the list as they are.
    """
    if placed is None:
        return ()
    try:
        return tuple(placed.screen.said(connection, job, placed.step))
    except (sqlite3.Error, BevelbookError):
        raise
    except Exception:
        _LOG.exception("what the step %s has to say cannot be worked out", placed.key)
        return (
            f"{placed.step.title} is stored. What there is to say of it cannot be worked out: a fault of the program, "
            "which the laptop shows.",
        )
