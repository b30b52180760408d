"""Answers about single rows, kept for two seconds: a page asks for the same name or scale in many of its cells."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from time import monotonic
from typing import Any, Final, NamedTuple
from weakref import WeakKeyDictionary

from bevelbook.web.host.readonly import TeamDatabase

_KEPT_SECONDS: Final = 2.0
_KEPT_MOST: Final = 5_000


class CachedAnswer(NamedTuple):
    """An answer and until when it may be used."""

    until: float
    answer: Any


_ANSWERS: Final[WeakKeyDictionary[TeamDatabase, dict[tuple[str, str], CachedAnswer]]] = WeakKeyDictionary()


async def cached_answer(
    database: TeamDatabase, sort: str, row_id: str, question: Callable[[sqlite3.Connection, str, str], Any]
) -> Any:
    """The answer to ``question(connection, sort, row_id)``, asked again after two seconds.

    ``sort`` says what is asked: one sort always comes with the same question.
    """
    answers = _ANSWERS.setdefault(database, {})
    now = monotonic()
    kept = answers.get((sort, row_id))
    if kept is None or kept.until < now:
        if len(answers) > _KEPT_MOST:
            answers.clear()
        kept = CachedAnswer(now + _KEPT_SECONDS, await database.ask(question, sort, row_id))
        answers[sort, row_id] = kept
    return kept.answer
