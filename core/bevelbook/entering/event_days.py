"""What an event cannot be: a low above its high, a last day before the first, one car twice. Past days may be."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, Final

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place
from bevelbook.display.days import day_in_words
from bevelbook.display.format import figure_again
from bevelbook.records import Kind
from bevelbook.store.event_of_day import EventDays
from bevelbook.store.record_names import name_of
from bevelbook.store.schema import selected_columns

_RANGES: Final = (("air_low_c", "air_high_c", "air"), ("track_low_c", "track_high_c", "track"))
_LONG_DAYS: Final = 14
"""Longer events are asked about: more likely a slip of the month. Our own figure."""


def refuse_odd_event(connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]) -> None:
    """Raise InputError where an event, with ``values`` written into it, would have a low above its high, a last day
    before the first, or a last day alone."""
    if kind.name != "event":
        return
    event = _merged(connection, kind, row_id, values)
    for low, high, words in _RANGES:
        if event[low] is not None and event[high] is not None and event[low] > event[high]:
            at = high if values.get(high) is not None else low
            raise InputError(
                f"the lowest {words} expected, {figure_again(event[low], '°C')} °C, is above the highest, "
                f"{figure_again(event[high], '°C')} °C",
                code="low_over_high",
                place=Place(field=at),
                remedy="Swap the two, or leave one empty. Nothing was changed.",
            )
    first, last = event["first_on"], event["last_on"]
    if last is not None and first is None:
        raise InputError(
            "an event has a last day and no first one",
            code="last_day_alone",
            place=Place(field="last_on"),
            remedy="Give the first day too; an event of one day needs that alone. Nothing was changed.",
        )
    if last is not None and last < first:
        raise InputError(
            f"its last day, {day_in_words(last)}, is before its first, {day_in_words(first)}",
            code="last_before_first",
            place=Place(field="last_on" if values.get("last_on") is not None else "first_on"),
            remedy="Correct one of the two days. Nothing was changed.",
        )


def refuse_car_twice(connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]) -> None:
    """Raise InputError where a car, with ``values`` written, would go to one event twice."""
    if kind.name != "event_car":
        return
    going = _merged(connection, kind, row_id, values)
    there = connection.execute(
        "SELECT id FROM event_cars WHERE event = ? AND car = ? AND id IS NOT ?", (going["event"], going["car"], row_id)
    ).fetchone()
    if there is not None:
        raise InputError(
            "this car goes to that event already",
            code="car_twice",
            place=Place(field="car"),
            found=name_of(connection, kind, there[0]),
            remedy="Correct the record that is there, by its name. Nothing was changed.",
        )


def event_remarks(
    connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]
) -> Iterator[str]:
    """What may be a slip in an event with ``values`` written into it, as sentences: very many days, and runs of it that
    were on other days."""
    if kind.name != "event":
        return
    event = _merged(connection, kind, row_id, values)
    first, last = event["first_on"], event["last_on"]
    if first is None:
        return
    days = (date.fromisoformat(last) - date.fromisoformat(first)).days + 1 if last else 1
    if days > _LONG_DAYS:
        yield f"It has {days} days, to {day_in_words(last)}: is the last one right?"
    if row_id is not None and not {"first_on", "last_on"}.isdisjoint(values):
        at = EventDays(row_id, "", first, last, None)
        ran = connection.execute("SELECT run_on FROM runs WHERE event = ? ORDER BY run_on, id", (row_id,))
        others = [day for (day,) in ran if not at.holds(day)]
        if others:
            yield (
                f"{counted(len(others), 'run')} of it {'was' if len(others) == 1 else 'were'} on other days, the first "
                f"on {day_in_words(others[0])}. Is it an event of its own? Then leave this one without days, and add "
                "another of that name with them."
            )


def _merged(
    connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]
) -> dict[str, Any]:
    """An event as it would be with some values written into it."""
    there: dict[str, Any] = dict.fromkeys(kind.columns)
    if row_id is not None:
        row = connection.execute(
            f"SELECT {selected_columns(kind.table, kind.columns)} FROM {kind.table} WHERE id = ?", (row_id,)
        ).fetchone()
        there |= dict(zip(kind.columns, row, strict=True)) if row is not None else {}
    return {**there, **values}
