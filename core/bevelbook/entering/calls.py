"""Write down what was decided after runs that had no call."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from typing import NamedTuple

from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer


class CallsWritten(NamedTuple):
    """The runs (ids) whose call was written, and those that have one from somebody else by now."""

    written: tuple[str, ...]
    decided_meanwhile: tuple[str, ...]


def write_calls(
    connection: sqlite3.Connection,
    calls: Mapping[str, str],
    by: str | None,
    clock: Callable[[], str],
    *,
    over_others: bool = False,
) -> CallsWritten:
    """Write calls by the id of their run, inside the caller's transaction.

    A run that got another call in the meantime keeps it, unless ``over_others``.
    """
    writer, kind = Writer(connection, by, clock), BY_NAME["run"]
    written, meanwhile = [], []
    for run, call in calls.items():
        there = connection.execute("SELECT call FROM runs WHERE id = ?", (run,)).fetchone()
        if there is None or (there[0] not in (None, call) and not over_others):
            meanwhile.append(run)
        elif writer.update(kind, run, {"call": call}, entered={"call": call}):
            written.append(run)
    return CallsWritten(tuple(written), tuple(meanwhile))
