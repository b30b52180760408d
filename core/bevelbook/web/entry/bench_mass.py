"""A mass typed at the bench that is far from the last one: asked about once, like an odd value."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import Final

from bevelbook.entering.question import Question, Way
from bevelbook.entering.weighing_basis import off_as_said
from bevelbook.facts.dry_mass import is_more_than_parts
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.last_masses import last_closed_mass
from bevelbook.saving.record import SavedRecord
from bevelbook.web.entry.sent import ANSWER
from bevelbook.web.shared.typed_form import TypedForm

MASS: Final = "mass_g"
CLOSED: Final = "closed_mass_g"


def ask_about_masses(
    connection: sqlite3.Connection, job: JobOnBench, saved: Iterable[SavedRecord], form: TypedForm
) -> None:
    """Ask about a weighing that neither oil lost nor the scale explains, and about a closed mass that other parts do
    not; an answer holds for that reading alone.

    Raises Question.
    """
    for one in saved:
        words = ""
        reading = one.values.get(CLOSED if one.kind.name == "build" else MASS)
        if one.done == "nothing" or reading is None or form.text(f"{ANSWER}{MASS}") == f"{reading:g}":
            continue
        if one.kind.name == "weighing":
            off = off_as_said(connection, one.row_id)
            words = f"{off.words}, more than oil lost or the scale explains" if off else ""
        elif one.kind.name == "build" and CLOSED in one.values and form.text(MASS):
            last = last_closed_mass(connection, job.ends)
            if last is not None and is_more_than_parts(last.mass_g, reading):
                way = "over" if reading > last.mass_g else "under"
                words = (
                    f"{abs(reading - last.mass_g):.2f} g {way} the last closed mass ({last.mass_g:.2f} g, {last.words})"
                )
        if words:
            raise Question(
                f"{reading:.2f} g is {words}: look at the scale and at what is on it",
                code="mass_far_off",
                field=MASS,
                found=f"{reading:.2f} g",
                answers=(Way(f"{reading:g}", "It is right"),),
            )
