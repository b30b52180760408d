"""The best lap of a run held against the list of its laps as typed: what does not agree is said, and stored."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.facts.lap_times import BEST_LAP, LISTED, is_rounded, least_laps
from bevelbook.reading.numbers import in_digits

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_NAMES: Final = (BEST_LAP, LISTED)


def with_laps_checked(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The record, with a remark where its best lap is not the least of its laps, beyond what rounding explains.

    A best lap below the least may be one that the list lacks; one above it cannot be true, and which of the two is
    wrong only a person knows. What is not written is as its record has it.
    """
    if entry.kind.name != "run" or entry.values.keys().isdisjoint(_NAMES):
        return entry
    held = connection.execute("SELECT best_lap_s, lap_times FROM runs WHERE id = ?", (entry.row_id,)).fetchone()
    best_s, listed = (
        entry.values[name] if name in entry.values else held[place] if held is not None else None
        for place, name in enumerate(_NAMES)
    )
    (least_s,) = least_laps(connection, [listed])
    if best_s is None or least_s is None or is_rounded(best_s, least_s):
        return entry
    best, least = f"The best lap of {in_digits(best_s)} s", f"the least of the laps listed, {in_digits(least_s)} s"
    if best_s < least_s:
        remark = f"{best} is less than {least}: it counts as the best lap, and the list lacks it."
    else:
        remark = f"{best} is more than {least}: one of them is wrong. Correct it; until then the best lap counts as "
        remark += "written."
    return entry._replace(remarks=(*entry.remarks, remark))
