"""What a new record takes where nobody gave it: the day, who writes it, and the scale. Each is shown with its reason.

An empty value that was given (``scale=``) is an answer, and nothing is filled in there.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Final, NamedTuple

from bevelbook.declare.errors import InputError, with_article
from bevelbook.facts.standing import standing_sql
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.records.people import WHO_WRITES
from bevelbook.store.lookup import find_id, label_of
from bevelbook.store.schema import quoted

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

DAY_HOLDS: Final = timedelta(hours=12)
"""How long the day of a person's last entry is taken for the next."""
AS_IN_LAST_ENTRY: Final = "as in your last entry"
TODAY: Final = "today"
WHEN_NOTED: Final = "the day it was noted"
YOUR_LAST_SCALE: Final = "the one you used last"
LAST_SCALE: Final = "the one used last"
WHO: Final = {
    "build": "builder",
    "weighing": "person",
    "opening": "person",
    "run": "noted_by",
    "idea": "person",
    "put_by": "person",
    "plan": "person",
    "photo": "person",
    "stock_change": "person",
    "bottle_check": "person",
}
"""The field for who did it, or who wrote it down."""
WEIGHED: Final = {
    "build": ("dry_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g"),
    "weighing": ("mass_g",),
    "opening": ("closed_mass_g",),
    "bottle_check": ("mass_g",),
}
"""The readings of a scale that such a record may have."""
_OF_THE_THING: Final = frozenset({"bottle", "event"})
"""Kinds whose day is not the day on which they are written down."""
_ALWAYS_TODAY: Final = frozenset({"put_by"})
"""Kinds that are written on the day that they are about: their day is today, and no other record takes it."""
_LOOKED_AT: Final = 200
"""The last records of each kind that are looked at for the day."""


class FilledIn(NamedTuple):
    """The texts of a record with what was filled in, and for each of those fields the reason in words."""

    texts: dict[str, str]
    why: dict[str, str]


def refuse_empty_record(kind: Kind, texts: Mapping[str, str]) -> None:
    """Raise InputError for a new record in which nothing was written down: a day alone says nothing."""
    if not kind.needed and not any(text.strip() for text in texts.values()):
        noun = with_article(kind.name.replace("_", " "))
        raise InputError(f"{noun} with nothing in it", code="missing_input", remedy="Give at least one of its fields.")


def with_reasons(entry: PreparedRecord, why: Mapping[str, str]) -> PreparedRecord:
    """The record with the reasons for what was filled in, in place of a typed text; a place of a run is named as such
    (``rear``)."""
    weighed_on = BY_NAME["weighing"].day or ""
    if entry.kind.name == "build" and weighed_on in why and entry.kind.day is not None:
        why = {**why, entry.kind.day: why[weighed_on]}
    taken = {name: reason for name, reason in why.items() if name in entry.values}
    typed = {name: text for name, text in entry.entered.items() if name not in why}
    places = tuple(place.taken_over(why[place.position]) if place.position in why else place for place in entry.places)
    return entry._replace(entered=typed, taken={**taken, **entry.taken}, places=places)


def fills_day(kind: Kind) -> bool:
    """Whether a new record of this kind gets a day where none is given."""
    return kind.own and kind.day is not None and kind.name not in _OF_THE_THING


def day_of(instant: str) -> str:
    """The day of an instant of the database, by the clock on the wall."""
    return datetime.fromisoformat(instant.replace("Z", "+00:00")).astimezone().date().isoformat()


def filled_in(
    connection: sqlite3.Connection,
    kind: Kind,
    texts: Mapping[str, str],
    by: str | None,
    now: str,
    *,
    is_of_today: bool = False,
) -> FilledIn:
    """The texts of a new record with the defaults of this writer; ``now`` is when it is noted, as the database keeps
    times.

    ``is_of_today`` where a record without a day is of today, whatever day the last entry was of.
    """
    found, why = dict(texts), {}

    def fill(field: str, value: str, reason: str) -> None:
        if field not in found:
            found[field], why[field] = value, reason

    if fills_day(kind) and kind.day is not None:
        day = None if is_of_today or kind.name in _ALWAYS_TODAY else _day_of_last_entry(connection, by, now)
        noted = day_of(now)
        on_that_day = TODAY if noted == date.today().isoformat() else WHEN_NOTED
        fill(kind.day, day or noted, AS_IN_LAST_ENTRY if day else on_that_day)
    person = _person(connection, by)
    if person is not None and kind.name in WHO:
        fill(WHO[kind.name], person, WHO_WRITES)
    if any(texts.get(field, "").strip() for field in WEIGHED.get(kind.name, ())) and not _like_has_scale(
        connection, texts
    ):
        for reason, whose in ((YOUR_LAST_SCALE, by), (LAST_SCALE, None)):
            scale = _last_scale(connection, whose) if whose or reason == LAST_SCALE else None
            if scale is not None:
                fill("scale", scale, reason)
    return FilledIn(found, why)


def _day_of_last_entry(connection: sqlite3.Connection, by: str | None, now: str) -> str | None:
    """The day of the last record that this writer added by hand within ``DAY_HOLDS``; a later change counts for none.

    The entry that added a record is its first version, in the history if the record was changed since.
    """
    since = (datetime.fromisoformat(now.replace("Z", "+00:00")) - DAY_HOLDS).isoformat(timespec="milliseconds")
    since = since.replace("+00:00", "Z")
    own = "SELECT 1 FROM entries WHERE made_at >= ? AND made_by IS ? LIMIT 1"
    if connection.execute(own, (since, by)).fetchone() is None:
        return None
    parts = [
        f"SELECT * FROM (SELECT {quoted(kind.day or '')} AS day, iif(t.parents IS NULL, t.version, "
        f"(SELECT h.version FROM history h WHERE h.table_name = '{kind.table}' AND h.row_id = t.id "
        "AND h.parents IS NULL ORDER BY h.id LIMIT 1)) AS first_version, created_at "
        f"FROM {kind.table} t WHERE t.note_file IS NULL AND t.created_at >= ?1 "
        f"ORDER BY t.rowid DESC LIMIT {_LOOKED_AT})"
        for kind in KINDS
        if fills_day(kind) and kind.name not in _ALWAYS_TODAY
    ]
    row = connection.execute(
        f"SELECT t.day FROM ({' UNION ALL '.join(parts)}) t JOIN entries e ON e.id = t.first_version "
        "WHERE e.made_at >= ?1 AND e.made_by IS ?2 AND t.day IS NOT NULL "
        "ORDER BY e.made_at DESC, e.rowid DESC, t.created_at DESC, t.day DESC LIMIT 1",
        (since, by),
    ).fetchone()
    return None if row is None else str(row[0])


def _person(connection: sqlite3.Connection, by: str | None) -> str | None:
    """The recorded person who writes, by name; None if there is none, or more than one."""
    if not by or not by.strip():
        return None
    name = by.strip()
    every = connection.execute(f"SELECT name, {standing_sql('person')} FROM people ORDER BY name, id")
    people = [(str(row[0]), row[1]) for row in every]
    for same in (
        [one for one in people if one[0] == name],
        [one for one in people if one[0].casefold() == name.casefold()],
    ):
        if same:
            return same[0][0] if len({standing for _, standing in same}) == 1 else None
    return None


def _last_scale(connection: sqlite3.Connection, by: str | None) -> str | None:
    """The name of the scale of the last record with one, of this writer or of anybody."""
    parts = [
        f"SELECT * FROM (SELECT scale, updated_at FROM {BY_NAME[name].table} "
        "WHERE scale IS NOT NULL AND (?1 IS NULL OR updated_by = ?1) ORDER BY updated_at DESC, rowid DESC LIMIT 1)"
        for name in WEIGHED
    ]
    row = connection.execute(
        f"{' UNION ALL '.join(parts)} ORDER BY updated_at DESC, scale DESC LIMIT 1", (by,)
    ).fetchone()
    if row is None:
        return None
    name = label_of(connection, BY_NAME["scale"], row[0])
    named = f"SELECT count(DISTINCT {standing_sql('scale')}) FROM scales WHERE name = ? COLLATE NOCASE"
    (count,) = connection.execute(named, (name,)).fetchone()
    return name if count == 1 else str(row[0])


def _like_has_scale(connection: sqlite3.Connection, texts: Mapping[str, str]) -> bool:
    """Whether the build that this one is made like brings its scale along."""
    like = texts.get("like", "").strip()
    if not like:
        return False
    row = connection.execute(
        "SELECT scale FROM builds WHERE id = ?", (find_id(connection, BY_NAME["build"], like),)
    ).fetchone()
    return row is not None and row[0] is not None
