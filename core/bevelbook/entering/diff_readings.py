"""Readings of a diff after a run that cannot be as written, and those that say little."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.display.format import figure_again
from bevelbook.display.spans import span_in_words
from bevelbook.entering.run_places import reading_words
from bevelbook.formulas.end_temperature import CoolingReading, EndGiven, end_temperature, is_too_wide
from bevelbook.physics.cooling import READING_ERROR_C
from bevelbook.records import Kind

_SOON_S: Final = 15.0
"""Sooner than this nobody reads a thermometer: a number without its unit was minutes; our own figure."""
_READINGS: Final = """
SELECT coalesce(x.position, b.label) AS place, x.diff_temp_c, x.after_run_s, x.second_diff_temp_c,
       x.second_after_run_s, r.air_temp_c
FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build
WHERE x.run = ? AND (x.diff_temp_c IS NOT NULL OR x.second_diff_temp_c IS NOT NULL OR x.after_run_s IS NOT NULL
                     OR x.second_after_run_s IS NOT NULL)
ORDER BY x.position, x.id
"""


def refuse_readings(connection: sqlite3.Connection, run: str) -> None:
    """Raise InputError for a second reading without a first, at its time or before it."""
    for place, first_c, first_s, second_c, second_s, _ in connection.execute(_READINGS, (run,)).fetchall():
        if second_c is None and second_s is None:
            continue
        if first_c is None:
            raise _refused(f"{place}: there is a second reading but no first one", None, "Give the first one too.")
        if second_c is None:
            raise _refused(f"{place}: the second reading has a time but no temperature", None, "Give its temperature.")
        if first_s is not None and second_s is not None and second_s <= first_s:
            when = "at the time of" if second_s == first_s else "before"
            raise _refused(
                f"{place}: the second reading was taken {when} the first one",
                f"{span_in_words(first_s)}, then {span_in_words(second_s)} after the run",
                "Give the earlier one as the first, with the time of each from the end of the run.",
            )


def _refused(what: str, found: str | None, remedy: str) -> InputError:
    return InputError(what, code="readings_out_of_order", found=found, remedy=f"{remedy} Nothing was changed.")


def read_after_run(connection: sqlite3.Connection, kind: Kind, row_id: str) -> tuple[str, ...]:
    """The remarks on the readings of a run that was written, or of one diff in it; none for other kinds of record."""
    if kind.name == "run_diff":
        (row_id,) = connection.execute("SELECT run FROM run_diffs WHERE id = ?", (row_id,)).fetchone()
    return tuple(remarks_on_readings(connection, row_id)) if kind.name in ("run", "run_diff") else ()


def remarks_on_readings(connection: sqlite3.Connection, run: str) -> Iterator[str]:
    """What the readings of the diffs in a run say together: the temperature at the end of the run, or why not."""
    for place, first_c, first_s, second_c, second_s, air_c in connection.execute(_READINGS, (run,)).fetchall():
        for temperature_c, after_s in ((first_c, first_s), (second_c, second_s)):
            if temperature_c is not None and air_c is not None and temperature_c < air_c:
                (words,) = reading_words(temperature_c, after_s)
                air = figure_again(air_c, "°C")
                yield f"{place}: the diff read {words}, colder than the air at {air} °C: check both"
        for after_s in (first_s, second_s):
            if after_s is not None and 0.0 < after_s < _SOON_S:
                yield (
                    f"{place}: {span_in_words(after_s)} after the run is soon: if minutes were meant, correct it with "
                    f"the unit, {after_s:g} min"
                )
        if second_c is None:
            continue
        if first_s is None or second_s is None:
            yield (
                f"{place}: with the time of both readings after the run, the temperature at its end could be worked out"
            )
        elif second_c >= first_c:
            yield (
                f"{place}: the second reading is not colder than the first, so the temperature at the end of the run "
                "is not known: the case was still warming from the oil inside, or another spot was read"
            )
        elif air_c is None:
            yield f"{place}: with the air temperature of the run, the temperature at its end could be worked out"
        elif (said := end_in_words(first_c, first_s, second_c, second_s, air_c)) is not None:
            yield f"{place}: {said} at the end of the run; what was read stays as it is"


def end_in_words(
    first_c: float | None, first_s: float | None, second_c: float | None, second_s: float | None, air_c: float | None
) -> str | None:
    """The temperature at the end of a run from two readings, with its interval; None where it cannot be worked out.

    >>> end_in_words(38.0, 120.0, 35.0, 300.0, 22.0), end_in_words(38.0, 120.0, None, None, 22.0)
    ('40.4 °C (38.1 to 42.6 °C, 95 %)', None)
    >>> end_in_words(50.0, 60.0, 49.9, 61.0, 20.0)
    'anywhere from 49.0 to 171.6 °C (95 %)'
    """
    if first_c is None or first_s is None or second_c is None or second_s is None or air_c is None:
        return None
    readings = (
        CoolingReading(after_s=first_s, temperature_c=first_c),
        CoolingReading(after_s=second_s, temperature_c=second_c),
    )
    try:
        found = end_temperature(EndGiven(readings=readings, ambient_c=air_c, reading_error_k=READING_ERROR_C))
    except BevelbookError:
        return None
    if is_too_wide(found):
        return f"anywhere from {found.low_c:.1f} to {found.high_c:.1f} °C (95 %)"
    return f"{found.end_temperature_c:.1f} °C ({found.low_c:.1f} to {found.high_c:.1f} °C, 95 %)"
