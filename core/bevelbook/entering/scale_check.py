"""A scale checked with one thing: its readings are written, and what follows from all of them is set at the scale."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.display.days import day_in_words
from bevelbook.entering.defaults import filled_in
from bevelbook.entering.record import prepare, write
from bevelbook.facts.scales import ScaleKnown, known_scale
from bevelbook.formulas.scale_check import (
    READINGS_NEEDED,
    CheckReading,
    ScaleCheckFound,
    ScaleCheckGiven,
    judge_scale_check,
    odd_reading,
    scale_check,
)
from bevelbook.plugin.returned_values import Judgement
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id
from bevelbook.store.writing import Writer

NOT_NAMED: Final = "not named"
_DECIMALS: Final = 6


class TypedReading(NamedTuple):
    """One reading as it was typed; without a day or a thing of its own those of the check count."""

    mass: str
    day: str | None = None
    thing: str | None = None


class ScaleChecked(NamedTuple):
    """A scale before a check and after it: how many readings were added, of what and when, and what all its readings
    say. ``found`` is None where they say nothing yet; ``judgement`` has the reason then. ``is_set`` says whether the
    scale counts with it, ``remarks`` what looked odd."""

    before: ScaleKnown
    now: ScaleKnown
    added: int
    thing: str
    day: str
    found: ScaleCheckFound | None
    judgement: Judgement
    is_set: bool
    remarks: tuple[str, ...] = ()


def check_scale(
    connection: sqlite3.Connection,
    scale: str,
    readings: Sequence[TypedReading],
    thing: str | None,
    day: str | None,
    by: str | None,
    clock: Callable[[], str],
) -> ScaleChecked:
    """Write the readings, in order, and set the scale's repeatability, its term from day to day and the day of the
    check from all readings it has. Runs inside the caller's transaction, so that one entry holds it all.

    Nothing is set from fewer than five readings, nor while one does not belong with the others. Readings of a thing
    that nobody named are not compared with those of other days. Raises InputError for an unknown scale and for what is
    not a mass or a day.
    """
    kind = BY_NAME["scale_reading"]
    row_id = find_id(connection, BY_NAME["scale"], scale)
    before = known_scale(connection, row_id)
    texts = filled_in(connection, kind, {"read_on": day} if day else {}, by, clock()).texts
    remarks: list[str] = []
    last = (thing or "", texts["read_on"])
    for reading in readings:
        own = {"scale": row_id, "read_on": reading.day or texts["read_on"], "mass_g": reading.mass, "place": "1"}
        own["thing"] = reading.thing or thing or f"{NOT_NAMED} ({own['read_on']})"
        entry = prepare(connection, kind, None, own)
        place = _next_place(connection, row_id, entry.values["read_on"], entry.values["thing"])
        remarks += [one.words for one in entry.odd]
        write(connection, entry._replace(values={**entry.values, "place": place}), by, clock)
        last = (entry.values["thing"], entry.values["read_on"])
    found, judgement = said_of(connection, before)
    is_set = found is not None and found.readings >= READINGS_NEEDED and not _has_odd_one(connection, before)
    if readings and found is not None and is_set:
        of_days = found.counted_day_to_day_g
        values = {
            "repeatability_g": round(found.counted_repeatability_g, _DECIMALS),
            "day_to_day_g": None if of_days is None else round(of_days, _DECIMALS),
            "checked_on": max(before.checked_on or "", last_day(connection, row_id)),
        }
        Writer(connection, by, clock).update(BY_NAME["scale"], row_id, values)
    return ScaleChecked(
        before, known_scale(connection, row_id), len(readings), *last, found, judgement, is_set, tuple(remarks)
    )


def readings_of(connection: sqlite3.Connection, scale: str) -> tuple[CheckReading, ...]:
    """All readings of a scale (by id), in order."""
    return tuple(
        CheckReading(mass_g=mass_g, day=day, thing=thing)
        for mass_g, day, thing in connection.execute(
            "SELECT mass_g, read_on, thing FROM scale_readings WHERE scale = ? AND mass_g IS NOT NULL "
            "ORDER BY read_on, thing, place, id",
            (scale,),
        )
    )


def last_day(connection: sqlite3.Connection, scale: str) -> str:
    """The day of the last reading of a scale (by id); empty where there is none."""
    (day,) = connection.execute("SELECT max(read_on) FROM scale_readings WHERE scale = ?", (scale,)).fetchone()
    return day or ""


def said_of(connection: sqlite3.Connection, scale: ScaleKnown) -> tuple[ScaleCheckFound | None, Judgement]:
    """What all readings of a scale say; None with the reason in words where they say nothing."""
    given = ScaleCheckGiven(readings=readings_of(connection, scale.row_id), scale_step_g=scale.noise.step_g)
    if not given.readings:
        return None, Judgement("unclear", ("no readings yet: put one thing on it ten times",))
    try:
        found = scale_check(given)
    except InputError as fault:
        return None, Judgement("unclear", (f"{fault.what}: put one thing on it ten times on one day",))
    return found, judge_scale_check(given, found)


def _has_odd_one(connection: sqlite3.Connection, scale: ScaleKnown) -> bool:
    given = ScaleCheckGiven(readings=readings_of(connection, scale.row_id), scale_step_g=scale.noise.step_g)
    return odd_reading(given) is not None


def _next_place(connection: sqlite3.Connection, scale: str, day: str, thing: str) -> int:
    (most,) = connection.execute(
        "SELECT max(place) FROM scale_readings WHERE scale = ? AND read_on = ? AND thing = ?", (scale, day, thing)
    ).fetchone()
    return int(most or 0) + 1


def lines_of(checked: ScaleChecked) -> list[str]:
    """What was done and what the scale can see now, for people."""
    before, now = checked.before, checked.now
    lines = []
    if checked.added:
        day = day_in_words(checked.day)
        of_what = "" if checked.thing.startswith(NOT_NAMED) else f" of {checked.thing}"
        total = checked.found.readings if checked.found else 0
        more = f"; {total} in all" if total > checked.added else ""
        lines.append(f"{now.name}: {counted(checked.added, 'reading')}{of_what} on {day} added{more}")
    changes = zip(before.words, now.words, strict=True)
    lines += [f"  {name}: {old} -> {new}" if old != new else f"  {name}: {new}" for (name, old), (_, new) in changes]
    if checked.added and not checked.is_set and checked.found is not None:
        lines.append("Not set yet:")
    first, *others = checked.judgement.reasons
    lines += [f"{checked.judgement.verdict}: {first}", *others]
    return lines + [f"Worth a look: {one}" for one in (*checked.judgement.findings, *checked.remarks)]
