"""Note rows that would become a build, stop being one, or go to another build, if they were placed again: found
without writing anything.

Rows are placed again with every import and every build that is written. Where two databases come together they are put
on their builds only, since a build that comes or goes is a change, and a merge makes none: what is left to turn is
found here, and a person has it done.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import NamedTuple

from bevelbook.notes.bulk import Current
from bevelbook.notes.placed_again import HeldRecord, Remaking, RowStep, Turned
from bevelbook.notes.row_read_back import DIGITS


class RowsToTurn(NamedTuple):
    """The rows of a diff, by id, that would turn, in their order."""

    diff: str
    rows: tuple[Turned, ...]


def rows_to_turn(connection: sqlite3.Connection, diffs: Iterable[str]) -> list[RowsToTurn]:
    """The rows of these diffs (by id) that would become a build or stop being one; diffs without any are left out."""
    found, looking = [], _Looking(connection)
    for diff in sorted(set(diffs)):
        looking.begins()
        looking.gone_through(diff)
        if looking.turned:
            found.append(RowsToTurn(diff, tuple(looking.turned)))
    return found


class RowsLookedAt(NamedTuple):
    """What placing the rows of some diffs again would do: the rows that would turn, and in words each weighing and run
    that would go to another build."""

    to_turn: tuple[Turned, ...]
    out_of_place: tuple[str, ...]


def rows_looked_at(connection: sqlite3.Connection, diffs: Iterable[str], *, turn: bool) -> RowsLookedAt:
    """What placing the rows of these diffs (by id) again would do; without ``turn`` as where no row becomes a build or
    stops being one."""
    turned: list[Turned] = []
    moved: list[str] = []
    looking = _Looking(connection, turn=turn)
    for diff in sorted(set(diffs)):
        looking.begins()
        looking.gone_through(diff)
        turned += looking.turned
        labels = looking.labels
        for record, current in looking.goes:
            if record.build != current.build and not record.is_typed("build"):
                here, there = (labels.get(one, one) for one in (record.build, current.build))
                moved.append(f"the {record.kind.replace('_', ' ')} {record.id} is on {here}, and belongs to {there}")
    return RowsLookedAt(tuple(turned), tuple(moved))


def diffs_with_rows(connection: sqlite3.Connection) -> list[str]:
    """The diffs, by id, on whose builds rows of notes are."""
    return [
        str(row[0])
        for row in connection.execute(
            "SELECT diff FROM builds WHERE note_file IS NOT NULL UNION "
            "SELECT b.diff FROM weighings w JOIN builds b ON b.id = w.build WHERE w.note_file IS NOT NULL UNION "
            "SELECT b.diff FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.note_file IS NOT NULL ORDER BY 1"
        )
    ]


class _Looking(Remaking):
    """Goes through the rows of a diff as placing them again does, and notes only which would turn."""

    def __init__(self, connection: sqlite3.Connection, *, turn: bool = True) -> None:
        super().__init__(connection, None, turn=turn)
        self._name_oil = {
            row[0]
            for row in connection.execute(
                "SELECT DISTINCT note_file FROM note_extras WHERE instr(cells, '\"fluid\"') OR "
                "instr(cells, '\"viscosity_cst\"') OR instr(cells, '\\u')"
            )
        }
        """The files of which a row may name oil without making a build."""

    def begins(self) -> None:
        """Forget what was found of the diff before."""
        for found in (self.labels, self.turned, self.goes):
            found.clear()

    def oil_beside(self, record: HeldRecord) -> tuple[str | None, float | None]:
        return super().oil_beside(record) if record.note_file in self._name_oil else (None, None)

    def turned_row(self, step: RowStep, diff: str, before: Current | None) -> Current | None:
        """Note that a row would turn; the build that would be the current one after it, None where it has to stay."""
        build, first = step.row.get("build"), step.first
        if build is not None:
            if self.is_used("build", build.id):
                return None
            self.say_turned(build, build.as_current(diff), first, before)
            return before
        made = Current(first.id[:-1] + DIGITS["build"], diff, first.day, *self.oil_beside(first), first.mass_basis)
        file = self.order.files[first.note_file or ""].called
        why = "no build comes before it" if before is None else "its oil is not that of the build before it"
        label = self.labels.get(first.build, "")
        self.turned.append(Turned(label, True, file, first.note_line or 0, why))
        return made
