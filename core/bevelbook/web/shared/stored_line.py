"""The line that says what a phone stored last, with what it takes to take that back."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.store.entry_contents import EntryBook
from bevelbook.taking_back.words import came_of

COOKIE: Final = "bevelbook_last"
"""Holds the id of the last entry of this browser, signed."""
_SIGNED_FOR: Final = "bevelbook-last-entry"


class StoredLine(NamedTuple):
    """An entry that can be taken back, and what it stored, in words."""

    entry: str
    words: str


def stored_line_of(connection: sqlite3.Connection, entry_id: str) -> StoredLine | None:
    """The line of an entry; None where there is no such entry, or it was taken back."""
    entries = EntryBook(connection)
    entry = entries.by_id.get(entry_id)
    if entry is None or entry.taken_back_by is not None:
        return None
    return StoredLine(entry.id, "; ".join(came_of(connection, entries.contents_of(entry))))


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
