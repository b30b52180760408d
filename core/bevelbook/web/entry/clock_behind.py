"""The laptop's clock, asked about where its day is before what is written down already, or long after it: the clock has
to be set right, or its day is meant."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final
from weakref import WeakKeyDictionary

from bevelbook.display.days import day_in_words
from bevelbook.entering.defaults import fills_day
from bevelbook.entering.question import Question, Way
from bevelbook.records import Kind
from bevelbook.store.ids import now_utc

AS_THE_CLOCK: Final = "clock"
FAR_AHEAD: Final = timedelta(days=60)
"""How long after the newest entry the clock is asked about, once: the next entry is the newest then."""
WRITTEN_OFTEN: Final = 20
"""Entries from which a book is one that is written to often; in another one such a pause says nothing."""
_CLOCK: Final = "clock"
_SETTLED: Final[WeakKeyDictionary[Any, set[tuple[str, str]]]] = WeakKeyDictionary()


def is_settled(datasette: Any, phone: str) -> bool:
    """Whether somebody has said today on this phone that the clock is right."""
    return (phone, _today()) in _SETTLED.get(datasette, set())


def settle(datasette: Any, phone: str) -> None:
    """Note that somebody said so."""
    _SETTLED.setdefault(datasette, set()).add((phone, _today()))


def ask_where_far_ahead(connection: sqlite3.Connection, answer: str | None) -> None:
    """Raise Question where the clock is far after the newest entry of a book that is written to often, and nobody has
    answered yet."""
    if answer == AS_THE_CLOCK:
        return
    count, newest = connection.execute("SELECT count(*), max(made_at) FROM entries").fetchone()
    now, then = _local(now_utc()), _local(str(newest))
    if count < WRITTEN_OFTEN or then is None or now is None or now - then <= FAR_AHEAD:
        return
    raise Question(
        f"the laptop's clock says {now:%Y-%m-%d %H:%M}, {(now - then).days} days after the newest entry, which is from "
        f"{then:%Y-%m-%d}. If it is wrong, set it right and store this again",
        code="clock_ahead",
        field=_CLOCK,
        found=f"{now:%Y-%m-%d %H:%M}",
        answers=(Way(AS_THE_CLOCK, "The clock is right: store it"),),
    )


def clock_answer(answers: Mapping[str, str]) -> str | None:
    """What a form answers about a clock that is far ahead."""
    return answers.get(_CLOCK)


def _today() -> str:
    now = _local(now_utc())
    return now.date().isoformat() if now else ""


def day_asked(
    connection: sqlite3.Connection,
    kind: Kind,
    texts: Mapping[str, str],
    answer: str | None,
    noted_on: str | None = None,
) -> str | None:
    """The day of a new record where the clock cannot be trusted with it, as it was answered; ``noted_on`` is the day
    on which it was noted, where that is not now.

    None where a day was typed, the kind gets none, or the newest entry is not of a later day. Raises Question where it
    is and nobody has answered yet.
    """
    day = kind.day
    if day is None or not fills_day(kind) or texts.get(day, "").strip():
        return None
    (newest,) = connection.execute("SELECT max(made_at) FROM entries").fetchone()
    if newest is None:
        return None
    now, then = _local(now_utc()), _local(str(newest))
    if then is None or now is None or then.date() <= now.date():
        return None
    today = noted_on or now.date().isoformat()
    if answer == AS_THE_CLOCK:
        return today
    raise Question(
        f"the laptop's clock says {now:%Y-%m-%d %H:%M}, but the newest entry is from {then:%Y-%m-%d %H:%M}. Set the "
        "clock right and store it again. If that entry was stored while the clock was wrong, correct its day on the "
        "page of its record, or take it back on the laptop",
        code="clock_behind",
        field=day,
        found=f"{now:%Y-%m-%d %H:%M}",
        answers=(Way(AS_THE_CLOCK, f"The clock is right: store it as of {day_in_words(today)}"),),
    )


def _local(instant: str) -> datetime | None:
    try:
        return datetime.fromisoformat(instant.replace("Z", "+00:00")).astimezone()
    except ValueError:
        return None
