"""The laptop's clock, asked about where its day is before what is written down already: a later day than today is not
taken, so the clock has to be set right, or its day is meant."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import datetime
from typing import Final

from bevelbook.display.days import day_in_words
from bevelbook.entering.defaults import fills_day
from bevelbook.entering.question import Question, Way
from bevelbook.records import Kind
from bevelbook.store.writing import now_utc

AS_THE_CLOCK: Final = "clock"


def day_asked(connection: sqlite3.Connection, kind: Kind, texts: Mapping[str, str], answer: str | None) -> str | None:
    """The day of a new record where the clock cannot be trusted with it, as it was answered.

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
    today = now.date().isoformat()
    if answer == AS_THE_CLOCK:
        return today
    raise Question(
        f"the laptop's clock says {now:%Y-%m-%d %H:%M}, but the newest entry is from {then:%Y-%m-%d %H:%M}. Set the "
        "clock right and store it again",
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
