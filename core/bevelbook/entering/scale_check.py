"""A scale checked with one thing: its readings are written, and what follows from all of them is set at the scale."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.days import day_in_words
from bevelbook.entering.defaults import filled_in
from bevelbook.entering.record import PreparedRecord, prepare, write
from bevelbook.entering.repetition import since
from bevelbook.entering.scale_figures import write_figures
from bevelbook.facts.scale_readings import (
    ScaleSaid,
    counts_with,
    differs_in_words,
    given_by,
    said_of,
)
from bevelbook.facts.scales import ScaleKnown, known_scale
from bevelbook.formulas.scale_check import ScaleCheckFound
from bevelbook.plugin.returned_values import Judgement
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id, label_of

NOT_NAMED: Final = "not named"
FEWEST_REPEATED: Final = 3
"""So many readings typed twice in a row, all alike, are the same command again; of fewer the second may be another
(our own figure)."""


class TypedReading(NamedTuple):
    """One reading as it was typed; without a day or a thing of its own those of the check count."""

    mass: str
    day: str | None = None
    thing: str | None = None


class ScaleChecked(NamedTuple):
    """A scale before a check and after it: how many readings were added, of which things and on which days, and what
    all its readings say. ``found`` is None where they say nothing yet; ``judgement`` has the reason then. ``is_set``
    says whether the scale counts with it, ``remarks`` what looked odd, ``doubtful`` names the readings that are asked
    about, and ``is_repeated`` says that the same command wrote these readings a moment ago: none was added."""

    before: ScaleKnown
    now: ScaleKnown
    added: int
    things: tuple[str, ...]
    days: tuple[str, ...]
    found: ScaleCheckFound | None
    judgement: Judgement
    is_set: bool
    remarks: tuple[str, ...] = ()
    doubtful: tuple[str, ...] = ()
    is_repeated: bool = False


def check_scale(
    connection: sqlite3.Connection,
    scale: str,
    readings: Sequence[TypedReading],
    thing: str | None,
    day: str | None,
    by: str | None,
    clock: Callable[[], str],
    *,
    confirm: Callable[[str], bool],
    another: bool = False,
) -> ScaleChecked:
    """Write the readings, in order, and set the scale's repeatability, its term from day to day and the day of the
    check from all readings it has. Runs inside the caller's transaction, so that one entry holds it all.

    Nothing is set from fewer than five readings, nor while one looks odd that ``confirm``, asked with the words, does
    not take. Without readings the figures are set from those it has. Readings of a thing that nobody named are not
    compared with those of other days. The same readings typed twice within two minutes are written once, unless
    ``another``. Raises InputError for an unknown scale and for what is not a mass or a day.
    """
    kind = BY_NAME["scale_reading"]
    row_id = find_id(connection, BY_NAME["scale"], scale)
    before = known_scale(connection, row_id)
    texts = filled_in(connection, kind, {"read_on": day} if day else {}, by, clock()).texts
    entries = []
    for reading in readings:
        own = {"scale": row_id, "read_on": reading.day or texts["read_on"], "mass_g": reading.mass, "place": "1"}
        own["thing"] = reading.thing or thing or f"{NOT_NAMED} ({own['read_on']})"
        entries.append(prepare(connection, kind, None, own))
    things = tuple(dict.fromkeys(entry.values["thing"] for entry in entries))
    days = tuple(sorted({entry.values["read_on"] for entry in entries}))
    if not another and _is_repeated(connection, row_id, entries, by, clock()):
        return known_checked(connection, before)._replace(things=things, days=days, is_repeated=True)
    for entry in entries:
        place = next_place(connection, row_id, entry.values["read_on"], entry.values["thing"])
        write(connection, entry._replace(values={**entry.values, "place": place}), by, clock)
    remarks = tuple(one.words for entry in entries for one in entry.odd)
    said = said_of(connection, before)
    if said.doubtful and confirm(said.judgement.reasons[0]):
        said = said.confirmed(given_by(connection, before), before)
    if said.figures is not None:
        write_figures(connection, before, said.figures, by, clock)
    now = known_scale(connection, row_id)
    return _checked(connection, before, now, said)._replace(
        added=len(entries), things=things, days=days, is_set=said.figures is not None, remarks=remarks
    )


def known_checked(connection: sqlite3.Connection, known: ScaleKnown) -> ScaleChecked:
    """What is known of a scale and what its readings say, with nothing written."""
    said = said_of(connection, known)
    found = _checked(connection, known, known, said)
    differs = differs_in_words(known, said)
    return found._replace(
        is_set=said.figures is not None and said.figures == counts_with(known),
        remarks=(differs,) if differs else (),
    )


def _checked(connection: sqlite3.Connection, before: ScaleKnown, now: ScaleKnown, said: ScaleSaid) -> ScaleChecked:
    doubtful = tuple(label_of(connection, BY_NAME["scale_reading"], one) for one in said.doubtful)
    return ScaleChecked(before, now, 0, (), (), said.found, said.judgement, False, doubtful=doubtful)


def _is_repeated(
    connection: sqlite3.Connection, scale: str, entries: Sequence[PreparedRecord], by: str | None, now: str
) -> bool:
    """Whether one entry of this writer added just these readings a moment ago."""
    if len(entries) < FEWEST_REPEATED:
        return False
    typed = sorted((one.values["read_on"], one.values["thing"], one.values["mass_g"]) for one in entries)
    written: dict[str, list[tuple[str, str, float]]] = {}
    for version, *reading in connection.execute(
        "SELECT version, read_on, thing, mass_g FROM scale_readings WHERE scale = ?1 AND created_at >= ?2 AND "
        "version IN (SELECT id FROM entries WHERE made_by IS ?3 AND made_at >= ?2)",
        (scale, since(now), by),
    ):
        written.setdefault(version, []).append((reading[0], reading[1], reading[2]))
    return any(sorted(one) == typed for one in written.values())


def next_place(connection: sqlite3.Connection, scale: str, day: str, thing: str) -> int:
    """The place among the readings of a day for one more of that thing, from 1; ``scale`` by id."""
    (most,) = connection.execute(
        "SELECT max(place) FROM scale_readings WHERE scale = ? AND read_on = ? AND thing = ?", (scale, day, thing)
    ).fetchone()
    return int(most or 0) + 1


def _in_a_row(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def lines_of(checked: ScaleChecked) -> list[str]:
    """What was done and what the scale can see now, for people."""
    before, now = checked.before, checked.now
    lines = []
    if checked.is_repeated:
        lines.append(f"Already written: {now.name}, the same readings a moment ago. Nothing was added.")
    if checked.added:
        days = _in_a_row([day_in_words(day) for day in checked.days])
        named = [thing for thing in checked.things if not thing.startswith(NOT_NAMED)]
        if len(named) < len(checked.things):
            named = [*named, "what was not named"] if named else []
        of_what = f" of {_in_a_row(named)}" if named else ""
        total = checked.found.readings if checked.found else 0
        more = f"; {total} in all" if total > checked.added else ""
        lines.append(f"{now.name}: {counted(checked.added, 'reading')}{of_what} on {days} added{more}")
    changes = zip(before.words, now.words, strict=True)
    lines += [f"  {name}: {old} -> {new}" if old != new else f"  {name}: {new}" for (name, old), (_, new) in changes]
    if checked.added and not checked.is_set and checked.found is not None:
        lines.append("Not set yet:")
    if checked.added and checked.is_set and checked.doubtful:
        lines.append("Set all the same, as you said:")
    first, *others = checked.judgement.reasons
    lines += [f"{checked.judgement.verdict}: {first}", *others]
    return lines + [f"Worth a look: {one}" for one in (*checked.judgement.findings, *checked.remarks)]
