"""The names of the rows that ids point to, and the steps of scales."""

from __future__ import annotations

import sqlite3
from time import monotonic
from typing import Any, Final, NamedTuple
from weakref import WeakKeyDictionary

from bevelbook.records import BY_TABLE
from bevelbook.reports.questions import name_of
from bevelbook.web.host.readonly import TeamDatabase

_KEPT_SECONDS: Final = 2.0
_KEPT_MOST: Final = 5_000


class CachedName(NamedTuple):
    """An answer and until when it may be used."""

    until: float
    answer: Any


_ANSWERS: Final[WeakKeyDictionary[TeamDatabase, dict[tuple[str, str], CachedName]]] = WeakKeyDictionary()


async def name(database: TeamDatabase, table: str, row_id: str) -> str | None:
    """The name of a row, read again after two seconds; None where the row does not exist."""
    found: str | None = await _kept(database, table, row_id, _name)
    return found


async def scale_step_g(database: TeamDatabase, scale_id: str) -> float | None:
    """The smallest step of a scale."""
    found: float | None = await _kept(database, "step of scale", scale_id, _step)
    return found


async def _kept(database: TeamDatabase, sort: str, row_id: str, question: Any) -> Any:
    answers = _ANSWERS.setdefault(database, {})
    now = monotonic()
    kept = answers.get((sort, row_id))
    if kept is None or kept.until < now:
        if len(answers) > _KEPT_MOST:
            answers.clear()
        kept = CachedName(now + _KEPT_SECONDS, await database.ask(question, sort, row_id))
        answers[sort, row_id] = kept
    return kept.answer


def _name(connection: sqlite3.Connection, table: str, row_id: str) -> str | None:
    return name_of(connection, BY_TABLE[table], row_id)


def _step(connection: sqlite3.Connection, _: str, scale_id: str) -> float | None:
    row = connection.execute("SELECT step_g FROM scales WHERE id = ?", (scale_id,)).fetchone()
    return float(row[0]) if row else None
