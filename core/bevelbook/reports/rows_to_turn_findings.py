"""Note rows of two databases that came together, of which one would be a build, or none any more, placed in order."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from bevelbook.declare.counting import counted
from bevelbook.plugin.check import Finding
from bevelbook.store.about_table import has_met

if TYPE_CHECKING:
    from bevelbook.notes.placed_again import Turned
    from bevelbook.notes.rows_to_turn import RowsToTurn

COMMAND: Final = "bevelbook check --place"
_NAMED: Final = 3


def rows_to_turn_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """For each diff how many rows, which, and the command that places them: only where databases came together."""
    if not has_met(connection):
        return
    from bevelbook.notes.rows_to_turn import diffs_with_rows, rows_to_turn

    for found in rows_to_turn(connection, diffs_with_rows(connection)):
        row = connection.execute("SELECT label FROM diffs WHERE id = ?", (found.diff,)).fetchone()
        if row is not None:
            yield _finding(found, str(row[0]))


def _finding(found: RowsToTurn, label: str) -> Finding:
    named = "; ".join(_words(one) for one in found.rows[:_NAMED])
    more = f"; and {len(found.rows) - _NAMED} more" if len(found.rows) > _NAMED else ""
    return Finding(
        code="rows_out_of_order",
        severity="worth a look",
        words=f"{counted(len(found.rows), 'row')} of notes from two laptops {'is' if len(found.rows) == 1 else 'are'} "
        f"not placed in order yet: {named}{more}",
        remedy=f"'{COMMAND}' places them, as an import would have.",
        subject_table="diffs",
        subject_id=found.diff,
        subject_label=label,
    )


def _words(one: Turned) -> str:
    where = f"{one.file}, line {one.line}"
    if one.is_build:
        return f"{where}, would be a build of its own, as {one.why}"
    return f"{one.build} ({where}) would not be a build of its own, as {one.why}"
