"""What a new record takes where a field is left empty, as a form offers it: the text, where it is from and how old."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.display.ago import ago_in_words
from bevelbook.display.days import built_in_words, day_in_words
from bevelbook.entering.defaults import WEIGHED, filled_in
from bevelbook.entering.like import carried_over
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import find_id, label_of
from bevelbook.web.shared.form_inputs import as_typed

_SCALE: Final = "scale"
_HOURS_SAID: Final = timedelta(hours=24)
"""How old something may be that its age is said in minutes and hours."""
_LOOKED_AT: Final = 200
"""The last records of each kind that are looked at for when a scale was used."""


def offered_texts(
    connection: sqlite3.Connection, kind: Kind, by: str | None, typed: Mapping[str, str], *, noted_at: str | None = None
) -> dict[str, tuple[str, str]]:
    """What a new record takes where a field is left empty: the text, and where it comes from. ``noted_at`` is when it
    was noted, as the database keeps times, where that is not now."""
    weighed = {name: typed.get(name) or "0" for name in WEIGHED.get(kind.name, ())}
    given = {name: text for name, text in typed.items() if text.strip()}
    if _like(connection, kind, typed) is None:
        given.pop("like", None)
    filled = filled_in(connection, kind, {**given, **weighed}, by, noted_at or now_utc(), is_of_today=True)
    found = {name: (filled.texts[name], reason) for name, reason in filled.why.items()}
    if _SCALE in found:
        found[_SCALE] = (found[_SCALE][0], _with_age(connection, *found[_SCALE]))
    found |= {
        name: (str(value), "") for name, value in kind.defaults.items() if not typed.get(name) and name not in found
    }
    return {**found, **_carried(connection, kind, given)}


def text_of(field: Field, value: Any) -> str:
    """A stored value as a person would type it, without its unit, and so that it reads as the same number."""
    if isinstance(value, float):
        short = as_typed(field, value)
        return short if _reads_as(short, value) else f"{value!r}"
    return str(value)


def _carried(connection: sqlite3.Connection, kind: Kind, typed: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """What ``like`` carries over beside what is typed, with the age of that build."""
    like = _like(connection, kind, typed)
    if like is None:
        return {}
    values: dict[str, Any] = {**typed, "like": like}
    sources = carried_over(connection, kind, values)
    (built_on,) = connection.execute("SELECT built_on FROM builds WHERE id = ?", (like,)).fetchone()
    found = {}
    for name, source in sources.items():
        field, value = kind.field(name), values[name]
        if field.kind == "reference" and field.target:
            value = label_of(connection, BY_NAME[field.target], value)
        found[name] = (text_of(field, value), f"as in {source}, {built_in_words(built_on)}")
    return found


def _like(connection: sqlite3.Connection, kind: Kind, typed: Mapping[str, str]) -> str | None:
    """The id of the build that a build is made like; None where none is named, or none goes by that name."""
    named = typed.get("like", "").strip()
    if kind.name != "build" or not named:
        return None
    try:
        return find_id(connection, BY_NAME["build"], named)
    except BevelbookError:
        return None


def _with_age(connection: sqlite3.Connection, scale: str, reason: str) -> str:
    """Why a scale is taken, with when it was used: ``the one you used last, 2 h ago``."""
    row_id = find_id(connection, BY_NAME[_SCALE], scale)
    parts = [
        f"SELECT * FROM (SELECT scale, updated_at AS at FROM {BY_NAME[name].table} ORDER BY rowid DESC "
        f"LIMIT {_LOOKED_AT})"
        for name in WEIGHED
    ]
    (at,) = connection.execute(
        f"SELECT max(at) FROM ({' UNION ALL '.join(parts)}) WHERE scale = ?", (row_id,)
    ).fetchone()
    try:
        used = datetime.fromisoformat(str(at).replace("Z", "+00:00"))
    except ValueError:
        return reason
    age = datetime.fromisoformat(now_utc().replace("Z", "+00:00")) - used
    if timedelta(0) <= age < _HOURS_SAID:
        return f"{reason}, {ago_in_words(age.total_seconds() / 60.0, 0)}"
    return f"{reason}, on {day_in_words(used.astimezone().date().isoformat())}"


def _reads_as(text: str, value: float) -> bool:
    try:
        return float(text) == value
    except ValueError:
        return False
