"""What a scale counts with follows its readings: set again in the same entry where one is added, changed or removed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from bevelbook.facts.scale_readings import ScaleSaid, counts_with, said_of
from bevelbook.facts.scales import ScaleKnown, known_scale
from bevelbook.formulas.scale_check import READINGS_NEEDED, ScaleFigures
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.writing import Writer

_TYPED = ("repeatability_g", "day_to_day_g")


class ScaleBefore(NamedTuple):
    """A scale and what its readings said before something was written."""

    known: ScaleKnown
    said: ScaleSaid

    @property
    def follows(self) -> bool:
        """Whether it counts with what its readings say, or they did not say enough: nothing was typed against them."""
        return self.said.figures in (None, counts_with(self.known))


class ScaleSetAgain(NamedTuple):
    """A scale that counts with other figures now, by id, and that in words."""

    row_id: str
    words: str


def scales_before(
    connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]
) -> tuple[ScaleBefore, ...]:
    """The scales whose figures may follow from a record that is about to be written or removed."""
    scales: set[str] = set()
    if kind.name == "scale_reading":
        held = connection.execute("SELECT scale FROM scale_readings WHERE id = ?", (row_id,)).fetchone()
        scales = {*([held[0]] if held else []), *([values["scale"]] if values.get("scale") else [])}
    elif kind.name == "scale" and row_id is not None and "step_g" in values and not values.keys() & set(_TYPED):
        scales = {row_id}
    known = [known_scale(connection, scale) for scale in sorted(scales)]
    return tuple(ScaleBefore(one, said_of(connection, one)) for one in known)


def set_again(
    connection: sqlite3.Connection, before: tuple[ScaleBefore, ...], by: str | None, clock: Callable[[], str]
) -> tuple[ScaleSetAgain, ...]:
    """Set what the scales count with from the readings that they have now, inside the caller's transaction.

    A figure that was typed against the readings stays. Where too few readings are left of a check, the scale counts as
    never checked; where one is asked about first, nothing changes. A term from day to day that was typed stays while
    no thing is read on two days; one that came of readings goes with them.
    """
    found = []
    for one in before:
        known = known_scale(connection, one.known.row_id)
        of_days = None if one.said.says_of_days else known.noise.day_to_day_g
        said = said_of(connection, known._replace(noise=known.noise._replace(day_to_day_g=of_days)))
        if not one.follows:
            continue
        if said.figures is not None:
            figures: ScaleFigures | None = said.figures
        elif one.said.figures is not None and (said.found is None or said.found.readings < READINGS_NEEDED):
            figures = None
        else:
            continue
        if figures == counts_with(known):
            continue
        write_figures(connection, known, figures, by, clock, set_day_to_day_g=of_days)
        now = "never checked: too few readings are left" if figures is None else figures.words
        was = counts_with(known)
        found.append(
            ScaleSetAgain(
                known.row_id, f"{known.name}: repeatability {'never checked' if was is None else was.words} -> {now}"
            )
        )
    return tuple(found)


def write_figures(
    connection: sqlite3.Connection,
    scale: ScaleKnown,
    figures: ScaleFigures | None,
    by: str | None,
    clock: Callable[[], str],
    *,
    set_day_to_day_g: float | None = None,
) -> None:
    """Set what a scale counts with, and the day of its check: that of its last reading, or that of a later check.

    Of a scale that counts as never checked (``figures`` is None) ``set_day_to_day_g`` stays.
    """
    (last,) = connection.execute("SELECT max(read_on) FROM scale_readings WHERE scale = ?", (scale.row_id,)).fetchone()
    values = {
        "repeatability_g": None if figures is None else figures.repeatability_g,
        "day_to_day_g": set_day_to_day_g if figures is None else figures.day_to_day_g,
        "checked_on": None if figures is None else max(scale.checked_on or "", last or "") or None,
    }
    Writer(connection, by, clock).update(BY_NAME["scale"], scale.row_id, values)
