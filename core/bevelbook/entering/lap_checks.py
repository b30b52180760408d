"""The best lap of a run held against the list of its laps as typed: what does not agree is said, and stored."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.facts.lap_times import least_lap_sql

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

_NAMES: Final = ("best_lap_s", "lap_times")


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
    least_s = connection.execute(f"SELECT {least_lap_sql()} FROM (SELECT ? AS lap_times) r", (listed,)).fetchone()[0]
    if best_s is None or least_s is None or is_rounded(best_s, least_s):
        return entry
    least = f"the least of the laps listed, {least_s:g} s"
    if best_s < least_s:
        remark = f"The best lap of {best_s:g} s is less than {least}: it counts as the best lap, and the list lacks it."
    else:
        remark = f"The best lap of {best_s:g} s is more than {least}: one of them is wrong. Correct it; until then the "
        remark += "best lap counts as written."
    return entry._replace(remarks=(*entry.remarks, remark))


def is_rounded(one_s: float, other_s: float) -> bool:
    """Whether two times are one time, one of them rounded to the decimals that it has.

    >>> is_rounded(18.4, 18.39), is_rounded(18.4, 18.34), is_rounded(18.39, 18.39), is_rounded(18.41, 18.39)
    (True, False, True, False)
    """
    decimals = min(len(f"{time_s:.6f}".rstrip("0").partition(".")[2]) for time_s in (one_s, other_s))
    return abs(one_s - other_s) <= 0.5 * 10.0**-decimals + 1e-9
