"""Entries: each act of a person that changes records, begun and ended with its transaction."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.store.erased_names import said_without_erased
from bevelbook.store.ids import new_id, now_utc


@dataclass(slots=True)
class OpenEntry:
    """The entry being written: its id, time, author, and what was asked for, as typed.

    ``made_at`` belongs to no other entry: what an import adds is known by it. ``took_back`` is the entry that this one
    takes back, ``reason`` why, where a person said so. ``undone`` are changes of rows that were written and then taken
    back, as SQLite counts them.
    """

    id: str
    made_at: str
    made_by: str | None
    asked: str
    took_back: str | None = None
    reason: str | None = None
    undone: int = 0


def begin(
    connection: sqlite3.Connection, *, asked: str = "", by: str | None = None, entry_id: str | None = None
) -> OpenEntry:
    """Begin an entry inside a transaction that the caller opened: everything written from then on belongs to it."""
    entry = OpenEntry(entry_id or new_id(), _own_instant(connection), by, asked or NOT_SAID)
    connection.execute("DELETE FROM replacing")
    connection.execute(
        "INSERT INTO writing (one, entry) VALUES (1, ?) "
        "ON CONFLICT (one) DO UPDATE SET entry = excluded.entry, bulk = NULL, placing = NULL",
        (entry.id,),
    )
    return entry


def _own_instant(connection: sqlite3.Connection) -> str:
    """The current time, a millisecond later where an entry has it already."""
    while True:
        now = now_utc()
        if connection.execute("SELECT 1 FROM entries WHERE made_at = ?", (now,)).fetchone() is None:
            return now


def end(connection: sqlite3.Connection, entry: OpenEntry, *, keep: bool) -> None:
    """End an entry; its row is kept if it changed anything."""
    if keep:
        made_by, asked, reason = said_without_erased(connection, entry.made_by, entry.asked, entry.reason)
        connection.execute(
            "INSERT INTO entries (id, made_at, made_by, asked, took_back, reason) VALUES (?, ?, ?, ?, ?, ?)",
            (entry.id, entry.made_at, made_by, asked, entry.took_back, reason),
        )
    connection.execute("UPDATE writing SET entry = NULL, bulk = NULL, placing = NULL")


def number_of_current(connection: sqlite3.Connection) -> int:
    """The number that the entry that is being written gets, by which it can be taken back: entries are counted in the
    order in which they came into the database, from 1."""
    return int(connection.execute("SELECT count(*) FROM entries").fetchone()[0]) + 1


def current(connection: sqlite3.Connection) -> str | None:
    """The id of the entry that is being written; None outside one."""
    row = connection.execute("SELECT entry FROM writing").fetchone()
    return row[0] if row else None
