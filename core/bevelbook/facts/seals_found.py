"""How the seals of a diff were found when it was last opened, for a seal that may go back in."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.facts.builds import build_before, newest_first, place_sql


class SealsFound(NamedTuple):
    """A state, one word for all seals of the diff; the build and the day on which it was opened."""

    state: str
    build_label: str
    opened_on: str

    @property
    def words(self) -> str:
        return f"opening of {self.build_label} on {self.opened_on}"


def seals_found(connection: sqlite3.Connection, build: str, place: str) -> SealsFound | None:
    """How the seals were found when this build (by id) was opened, else the one before it.

    None if nothing was noted, or if the seal in this place was put in new after that.
    """
    opened = connection.execute("SELECT opened_on FROM build_facts WHERE build = ?", (build,)).fetchone()
    if opened is not None and opened[0] is not None:
        return _of(connection, build)
    fitted = connection.execute(
        "SELECT condition FROM seal_fittings WHERE build = ? AND place = ? ORDER BY id DESC LIMIT 1", (build, place)
    ).fetchone()
    if fitted is not None and fitted[0] == "new":
        return None
    before = build_before(connection, build)
    return None if before is None else _of(connection, before.id)


def _of(connection: sqlite3.Connection, build: str) -> SealsFound | None:
    row = connection.execute(
        "SELECT o.seals, b.label, o.opened_on FROM openings o JOIN builds b ON b.id = o.build "
        "WHERE o.build = ? AND o.seals IS NOT NULL ORDER BY o.opened_on DESC, o.id DESC LIMIT 1",
        (build,),
    ).fetchone()
    return None if row is None else SealsFound(*row)


def found_before_fitted(connection: sqlite3.Connection, fitting: str | None = None) -> dict[str, SealsFound]:
    """The same by seal fitting, for those not put in new (one by its id, or all): the opening of the build before."""
    only, given = ("AND n.id = ?", (fitting,)) if fitting else ("", ())
    rows = connection.execute(
        f"""
        SELECT n.id, o.seals, p.label, o.opened_on
        FROM seal_fittings n CROSS JOIN builds b ON b.id = n.build
        CROSS JOIN builds p ON p.id = (
            SELECT e.id FROM builds e WHERE e.diff = b.diff AND {place_sql("e")} < {place_sql("b")}
            ORDER BY {newest_first("e")} LIMIT 1)
        CROSS JOIN openings o ON o.build = p.id
        WHERE o.seals IS NOT NULL AND n.condition IS NOT 'new' {only} ORDER BY n.id, o.opened_on, o.id
        """,
        given,
    )
    return {row[0]: SealsFound(row[1], row[2], row[3]) for row in rows}
