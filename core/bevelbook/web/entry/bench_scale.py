"""The scale on the bench: which one, and a known coin or weight put on it first."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.entering.defaults import filled_in
from bevelbook.entering.scale_check import next_place
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.reading.dates import today_iso
from bevelbook.records import BY_NAME
from bevelbook.reports.last_masses import last_known_thing
from bevelbook.saving.record import WantedRecord
from bevelbook.store.ids import now_utc
from bevelbook.store.lookup import find_id
from bevelbook.web.entry.step_fields import StepField, number_text, step_field
from bevelbook.web.shared.typed_form import TypedForm

FIRST: Final = ("Level, out of wind and sun.", "Zero it.", "A known coin or weight first.")
"""What to see to before a weighing."""
COOL: Final = "Let the diff cool."
SCALE: Final = "scale"
COIN: Final = "coin."
"""Begins the names of the inputs for the known coin or weight."""
_READING: Final = BY_NAME["scale_reading"]
_KNOWN_WEIGHT: Final = "known weight"


class BenchScale(NamedTuple):
    """The inputs for the scale, and for the known coin or weight on it; with what was read of that last."""

    scale: StepField
    thing: StepField
    reading: StepField
    last_read: str


def scale_used(connection: sqlite3.Connection, person: str | None) -> tuple[str, str]:
    """The scale that a mass of this person is taken to be from, by its name, and why; both empty without one."""
    texts = {"mass_g": "0", "weighed_on": today_iso()}
    found = filled_in(connection, BY_NAME["weighing"], texts, person, now_utc())
    return found.texts.get(SCALE, ""), found.why.get(SCALE, "")


def bench_scale(connection: sqlite3.Connection, person: str | None, stored: str | None = None) -> BenchScale:
    """The inputs; ``stored`` is the id of the scale that is noted already."""
    every = connection.execute(f"SELECT name FROM scales WHERE {stands_alone_sql('scale')} ORDER BY name, id")
    names = [row[0] for row in every]
    used, why = scale_used(connection, person)
    if stored is not None:
        row = connection.execute("SELECT name FROM scales WHERE id = ?", (stored,)).fetchone()
        used, why = (row[0] if row else used), ""
    known = last_known_thing(connection, find_id(connection, BY_NAME["scale"], used)) if used else None
    return BenchScale(
        StepField(SCALE, "Scale", "choice", choices=tuple(names), typed=used, origin=why),
        step_field(
            _READING.field("thing"), name=f"{COIN}thing", words="Which", stored=known.thing if known else _KNOWN_WEIGHT
        ),
        step_field(_READING.field("mass_g"), name=f"{COIN}mass_g", words="The scale shows"),
        f"{known.thing} read {known.mass_g:g} g on {known.day}" if known else "",
    )


def coin_wanted(connection: sqlite3.Connection, person: str | None, typed: TypedForm) -> Sequence[WantedRecord]:
    """The reading of the known coin or weight, if one was typed. Raises UnknownNameError for an unknown scale, and
    InputError where none is known."""
    reading = number_text(typed, f"{COIN}mass_g")
    scale = typed.text(SCALE) or scale_used(connection, person)[0]
    if not reading:
        return []
    if not scale:
        raise InputError(
            f"the known coin or weight read {reading} g, but on which scale is not known",
            code="missing_input",
            place=Place(field=SCALE),
            remedy="Choose the scale, or empty that reading. Nothing was stored.",
        )
    day, thing = today_iso(), typed.text(f"{COIN}thing") or _KNOWN_WEIGHT
    place = next_place(connection, find_id(connection, BY_NAME["scale"], scale), day, thing)
    texts: dict[str, Any] = {"scale": scale, "read_on": day, "thing": thing, "place": str(place), "mass_g": reading}
    return [WantedRecord(_READING, texts)]
