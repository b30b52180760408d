"""Rows with two temperatures of one diff that differ: one in its own column, one in that of the place where it was."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.notes.bulk import Bulk
from bevelbook.notes.note_columns import TEMP_AT
from bevelbook.notes.read_rows import count_rows
from bevelbook.notes.report import Report
from bevelbook.notes.row_places import RowPlaces, RunOfRow, differ
from bevelbook.notes.source import NoteSource, cells_on
from bevelbook.notes.staging import Stage

TEMPS_DISAGREE: Final = "temps_disagree"


def reject_disagreeing(stage: Stage, source: NoteSource, report: Report, connection: sqlite3.Connection) -> None:
    """Reject the staged rows whose temperatures of their own diff differ. Without both columns nothing is looked at."""
    by_place = {name: stage.place(name) for name in TEMP_AT if name in stage.present}
    if not by_place or "diff_temp_c" not in stage.present:
        return
    places = RowPlaces(connection)
    own, position = stage.place("diff_temp_c"), stage.place("position")
    diff, car = stage.place("diff"), stage.place("car")
    time, order = stage.place("started_at"), stage.place("day_order")
    names = Bulk(connection, note_file="", stamp="", by=None, dry=True).names
    diffs, cars = names("diff"), names("car")
    found: dict[int, tuple[str, float, float, str]] = {}
    for line, packed in stage.in_order():
        row = (*packed, None)
        cells = {name: row[place] for name, place in by_place.items() if row[place] is not None}
        if row[own] is None or not cells:
            continue
        run = RunOfRow(diffs.get(row[diff]), row[0], row[position], cars.get(row[car], row[car]), row[time], row[order])
        said = places.own_temperature(cells, run)
        if said.place is not None and said.temp_c is not None and differ(row[own], said.temp_c):
            found[line] = (said.place, row[own], said.temp_c, row[diff])
    cells_of = cells_on(source, found)
    for line, (place, temp, at_place, label) in found.items():
        column = f"{place}_diff_temp_c"
        words = (
            f"{label} was at the {place}: {at_place:g} °C there, and {temp:g} °C in the column of its own. "
            "Correct one of them, or the position."
        )
        left = (line, "rejected", TEMPS_DISAGREE, column, f"{at_place:g}", words, cells_of[line])
        stage.leave_out(line, left)
    if found:
        count_rows(stage, report)
