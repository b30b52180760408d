"""A diff that was closed again without a word written down: a build of which only the oil is known, as before."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import CLOSED_AGAIN
from bevelbook.facts.build_in_use import BuildInUse
from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id
from bevelbook.store.lookup import find_id, next_build_label
from bevelbook.store.writing import Writer

_OIL: Final = ("fluid", "bottle", "viscosity_cst", "viscosity_from")


class ClosedAgain(NamedTuple):
    """The build to be written before the record that it is needed for; ``before`` is the build that it follows."""

    id: str
    values: dict[str, object]
    entered: dict[str, str]
    before: str | None
    oil_as_before: bool

    @property
    def label(self) -> str:
        return str(self.values["label"])

    def write(self, connection: sqlite3.Connection, writer: Writer) -> None:
        """Add the build, with the parts of a blend where its oil is as before."""
        writer.insert(BY_NAME["build"], self.values, row_id=self.id, entered=self.entered)
        if self.oil_as_before and self.before is not None:
            kind = BY_NAME["blend_part"]
            for row in connection.execute(
                "SELECT fluid, bottle, viscosity_cst, mass_g FROM blend_parts WHERE build = ? ORDER BY id",
                (self.before,),
            ).fetchall():
                writer.insert(kind, {"build": self.id, **dict(zip(row.keys(), row, strict=True))})


def closed_again(
    connection: sqlite3.Connection, diff: str, day: str, noun: str, last: BuildInUse | None, fluid: str | None
) -> ClosedAgain:
    """The build of a diff (by id) that must have been there on ``day``, when the ``noun`` (run, weighing) was.

    Its oil is that of ``last``, the build opened before, or ``fluid`` by its label. Raises UnknownNameError for an
    unknown fluid.
    """
    oil: dict[str, object] = {}
    entered = {"built_on": CLOSED_AGAIN}
    if fluid:
        oil = {"fluid": find_id(connection, BY_NAME["fluid"], fluid)}
    elif last is not None:
        row = connection.execute(f"SELECT {', '.join(_OIL)} FROM builds WHERE id = ?", (last.id,)).fetchone()
        oil = {name: value for name, value in zip(_OIL, row, strict=True) if value is not None}
        entered |= dict.fromkeys(oil, f"as before, {last.label}")
    note = f"Closed again before the {noun} of {day}; nothing was weighed or written down then."
    values = {"label": next_build_label(connection, diff), "diff": diff, "built_on": day, **oil, "note": note}
    return ClosedAgain(new_id(), values, entered, last.id if last else None, not fluid)
