"""Ideas that no build has tried yet, by venue."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.facts.runs import LAST_RUN_FIRST


class OpenIdea(NamedTuple):
    """An open idea: not dropped, and not tried by any build."""

    id: str
    text: str
    venue: str | None
    person: str | None
    noted_on: str | None


def open_ideas(connection: sqlite3.Connection, venue: str | None = None) -> list[OpenIdea]:
    """Open ideas by venue and day: all of them, or those for a venue (by id) and for any venue."""
    where, given = ("AND (i.venue = ? OR i.venue IS NULL)", (venue,)) if venue else ("", ())
    rows = connection.execute(
        "SELECT i.id, i.text, v.name, p.name, i.noted_on FROM ideas i "
        "LEFT JOIN venues v ON v.id = i.venue LEFT JOIN people p ON p.id = i.person "
        "WHERE i.dropped IS NULL AND NOT EXISTS (SELECT 1 FROM builds b WHERE b.tries = i.id) "
        f"{where} ORDER BY v.name IS NULL, v.name, i.noted_on, i.id",
        given,
    )
    return [OpenIdea(*tuple(row)) for row in rows]


def ideas_by_venue(connection: sqlite3.Connection, first: str | None = None) -> dict[str | None, list[OpenIdea]]:
    """Open ideas under the name of their venue, the venue named ``first`` leading; those for any venue under None."""
    found: dict[str | None, list[OpenIdea]] = {first: []} if first else {}
    for idea in open_ideas(connection):
        found.setdefault(idea.venue, []).append(idea)
    return {venue: ideas for venue, ideas in found.items() if ideas}


def last_venue(connection: sqlite3.Connection) -> tuple[str, str] | None:
    """Id and name of the venue of the latest run by day; a run noted in advance makes it the venue of the next race."""
    row = connection.execute(
        "SELECT v.id, v.name FROM runs r JOIN venues v ON v.id = r.venue "
        "WHERE r.run_on = (SELECT run_on FROM runs WHERE +venue IS NOT NULL ORDER BY run_on DESC LIMIT 1) "
        f"ORDER BY {LAST_RUN_FIRST} LIMIT 1"
    ).fetchone()
    return None if row is None else (row[0], row[1])
