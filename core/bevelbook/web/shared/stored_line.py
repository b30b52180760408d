"""The line that says what a phone stored last, with what it takes to take that back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.begun import begun
from bevelbook.display.clock import clock_in_words
from bevelbook.reports.opening_of_job import kept_in_words
from bevelbook.store.entry_contents import EntryBook, PastEntry, Touch
from bevelbook.taking_back.words import EMPTY, came_of

COOKIE: Final = "bevelbook_last"
"""Holds the id of the last entry of this browser, signed."""
_SIGNED_FOR: Final = "bevelbook-last-entry"
_STEP: Final = "bench_step"
_BESIDE: Final = ("bench_job", _STEP)
"""Kinds that only say how far the work is."""

LEFT_EMPTY: Final = "left empty"
"""The reason that is kept with a field that is to stay empty."""
LONGEST: Final = 120
"""Letters of the line at most."""
_FROM_NOTHING: Final = f", was {EMPTY}"
UNCHANGED: Final = "the same as before, nothing was changed"
STORED: Final = "Stored"
TAKEN_BACK: Final = "Taken back"
BROUGHT_BACK: Final = "Brought back"
TAKE_IT_BACK: Final = "Take it back"
BRING_IT_BACK: Final = "Bring it back"


class StoredLine(NamedTuple):
    """An entry that can be taken back, and what it stored, in words; ``done`` names what it did, and ``way_back`` the
    button that takes it back."""

    entry: str
    words: str
    done: str = STORED
    way_back: str = TAKE_IT_BACK


def stored_line_of(connection: sqlite3.Connection, entry_id: str) -> StoredLine | None:
    """The line of an entry; None where there is no such entry, or it was taken back."""
    entries = EntryBook(connection)
    entry = entries.alone(entry_id)
    if entry is None or entry.taken_back_by is not None:
        return None
    touches = entries.contents_of(entry)
    words = _left_empty(touches) or in_one_line(came_of(connection, _worth_naming(touches)), _at_the_bench(touches))
    words = words or UNCHANGED
    done, way_back = STORED, TAKE_IT_BACK
    if entry.took_back is not None:
        is_taking = is_taking_back(entries, entry)
        done, way_back = (TAKEN_BACK, BRING_IT_BACK) if is_taking else (BROUGHT_BACK, TAKE_IT_BACK)
    return StoredLine(entry.id, words, done, way_back)


def _left_empty(touches: list[Touch]) -> str:
    """What an entry left empty for good, counted; empty for any other entry."""
    is_leaving = all(
        one.kind.name == "put_by" and (one.after.content or {}).get("reason") == LEFT_EMPTY for one in touches
    )
    return f"left {counted(len(touches), 'field')} empty for good" if touches and is_leaving else ""


def in_one_line(lines: Iterable[str], begins: str = "") -> str:
    """What came of an entry, short enough to be read at a glance: what was empty before is not said, nor the end of a
    long list.

    >>> in_one_line(["changed opening of rear-a/2: oil grey, was empty; seals ok, was empty"])
    'changed opening of rear-a/2: oil grey; seals ok'
    """
    words = "; ".join(lines).replace(_FROM_NOTHING, "")
    words = ": ".join(filter(None, (begins, words)))
    return words if len(words) <= LONGEST else f"{words[:LONGEST].rpartition(' ')[0].rstrip(';,')} …"


def _worth_naming(touches: list[Touch]) -> list[Touch]:
    """Without what only says how far work at the bench is: a step is named by its title, a job where it is all."""
    named = [one for one in touches if one.kind.name not in _BESIDE]
    return named if named or any(one.kind.name == _STEP for one in touches) else touches


def _at_the_bench(touches: list[Touch]) -> str:
    """The step of the bench that an entry stored, with how far it is where that is all: ``Screws: done``."""
    steps = [one.after.content or {} for one in touches if one.kind.name == _STEP]
    if not steps:
        return ""
    if len(steps) > 1:
        return f"{counted(len(steps), 'step')} of the bench"
    (step,) = steps
    title = str(step.get("title") or "")
    if any(one.kind.name not in _BESIDE for one in touches) or not title:
        return title
    far = _how_far(step)
    return begun(far) if far.lower().startswith(f"{title.lower()}: ") else f"{title}: {far}"


def _how_far(step: Mapping[str, Any]) -> str:
    note = kept_in_words(step.get("note"), is_open=False)
    if step.get("left_out"):
        return f"left out, {step['left_out']}"
    if step.get("done_at") or not step.get("until_at"):
        return note or "done" if step.get("done_at") else "begun"
    return f"{note or 'begun'}, until {clock_in_words(step['until_at'])}"


def is_taking_back(entries: EntryBook, entry: PastEntry) -> bool:
    """Whether an entry took back what another stored; one that took back such a taking back brought it back."""
    count = 0
    while entry.took_back is not None and (before := entries.alone(entry.took_back)) is not None:
        entry, count = before, count + 1
    return count % 2 == 1


def last_entry(datasette: Any, request: Any) -> str | None:
    """The id of the last entry of the browser that asks; None where it has made none."""
    from itsdangerous import BadSignature

    given = request.cookies.get(COOKIE)
    try:
        return str(datasette.unsign(given, _SIGNED_FOR)) if given else None
    except BadSignature:
        return None


def remember_last_entry(datasette: Any, response: Any, entry_id: str) -> None:
    """Have the browser remember its last entry."""
    response.set_cookie(
        COOKIE,
        datasette.sign(entry_id, _SIGNED_FOR),
        path=datasette.urls.instance(),
        httponly=True,
        samesite="lax",
    )
