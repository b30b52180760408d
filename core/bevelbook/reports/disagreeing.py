"""Weighings that disagree, named so that the misread one can be corrected."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Final

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.leak import Leak
from bevelbook.facts.masses import Mass
from bevelbook.formulas.leak import sister_reasons
from bevelbook.formulas.odd_weighing import Contradiction
from bevelbook.formulas.readings import Reading
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of

WIPE_UP: Final = (
    "Look where it is wet (joint, shafts, screws), on the floor and on the car; wipe up at once, it is slippery."
)
CORRECT_SISTER: Final = "bevelbook record KIND NAME sister_mass=..."
_CORRECT: Final = "bevelbook record weighing NAME mass=..."


def how_to_correct(connection: sqlite3.Connection, leak: Leak, *, in_use: bool) -> str:
    """What to do about weighings of a build that disagree and are not settled, by name; empty without any."""
    found = [one.readings for one in leak.weighed.disagreeing() if not one.counting]
    if (contradicted := leak.loss.contradiction) is not None and not contradicted.is_settled:
        found.append(_doubtful(leak, contradicted))
    if not found:
        return ""
    named = "; ".join(_named(connection, leak, readings) for readings in found)
    again = "Weigh it again, wiped, with the same parts on the scale. " if in_use else ""
    return f"{again}If one of these was misread, correct it ({_CORRECT}): {named}."


def left_out(connection: sqlite3.Connection, leak: Leak) -> Iterator[tuple[str, str]]:
    """For each settled disagreement its words, and what to do about the weighing that does not count."""
    for one in leak.weighed.disagreeing():
        if one.outliers:
            named = _named(connection, leak, one.outliers)
            was_heavier = one.outliers[-1].mass_g > one.counting[-1].mass_g
            gone = f" If it was right, oil went without a run: {WIPE_UP[0].lower()}{WIPE_UP[1:]}" if was_heavier else ""
            yield one.words, f"If it was misread, correct it ({_CORRECT}): {named}.{gone}"
    if (contradicted := leak.loss.contradiction) is not None and contradicted.is_settled:
        named = _named(connection, leak, _doubtful(leak, contradicted))
        yield contradicted.words, f"If it was misread, correct it ({_CORRECT}): {named}."


def _doubtful(leak: Leak, contradicted: Contradiction) -> tuple[Reading, ...]:
    runs = {one.runs for one in contradicted.doubtful}
    return tuple(one for one in leak.weighed.readings if one.runs in runs)


def doubtful_sisters(connection: sqlite3.Connection, leak: Leak) -> Iterator[tuple[str, str]]:
    """For each mass of the sister housing that cannot be right what is asked, and what to do about it."""
    masses = leak.weighed.masses
    for words, one in sister_reasons(leak.given).items():
        named = "; ".join(_one(connection, masses[place]) for place in sorted((one.against, one.place)))
        yield words, f"If a mass of the sister was misread or mistyped, correct it ({CORRECT_SISTER}), with: {named}."


def _named(connection: sqlite3.Connection, leak: Leak, readings: Iterable[Reading]) -> str:
    wanted = set(readings)
    weighed = zip(leak.weighed.masses, leak.weighed.readings, strict=True)
    return ", ".join(_one(connection, mass) for mass, reading in weighed if reading in wanted)


def _one(connection: sqlite3.Connection, mass: Mass) -> str:
    day = f"{mass.day}, " if mass.day else ""
    if mass.taken != "weighed":
        return f"{mass.mass_g:.2f} g ({day}{mass.taken})"
    ids = connection.execute(
        "SELECT id FROM weighings WHERE build = ? AND mass_g = ? AND weighed_on IS ? AND coalesce(mass_basis, ?) = ? "
        "ORDER BY id",
        (mass.build, mass.mass_g, mass.day, NOT_SAID, mass.mass_basis),
    ).fetchall()
    names = sorted(label_of(connection, BY_NAME["weighing"], row[0]) for row in ids)
    return f"{mass.mass_g:.2f} g ({day}weighing {' or '.join(names)})"
