"""What is known of a scale: its step, what was found when it was checked, and what it sees."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.display.days import day_in_words
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.formulas.scale_check import smallest_seen_of, two_digits
from bevelbook.physics.weighing import NEVER_ON_A_SECOND_DAY, ScaleNoise, scale_noise

_COLUMNS: Final = "id, name, step_g, repeatability_g, day_to_day_g, error_bound_g, checked_on"


class ScaleKnown(NamedTuple):
    """A scale by id and name, as its masses count, with the day of its last check."""

    row_id: str
    name: str
    noise: ScaleNoise
    checked_on: str | None

    @property
    def is_checked(self) -> bool:
        return self.noise.repeatability_g is not None

    @property
    def words(self) -> list[tuple[str, str]]:
        """Each thing that is known, with its name.

        >>> [words for _, words in ScaleKnown("1", "pocket", ScaleNoise(0.01), None).words][1:3]
        ['never checked: one step, 0.01 g, is assumed', 'never checked on a second day: one step, 0.01 g, is assumed']
        """
        noise = self.noise
        error = [("error between readings, at most", f"{noise.error_bound_g:g} g")] if noise.error_bound_g else []
        return [
            ("step", f"{noise.step_g:g} g"),
            ("repeatability", self._repeatability),
            ("from day to day", self._from_day_to_day),
            *error,
            ("checked on", day_in_words(self.checked_on) if self.checked_on else "never"),
            ("sees", self.sees),
        ]

    @property
    def _repeatability(self) -> str:
        if self.noise.repeatability_g is None:
            return f"never checked: one step, {self.noise.step_g:g} g, is assumed"
        words = f"{two_digits(self.noise.repeatability_g)} g"
        return words if self.noise.repeatability_g else f"{words} beyond its rounding"

    @property
    def _from_day_to_day(self) -> str:
        if self.noise.day_to_day_g is None:
            return f"{NEVER_ON_A_SECOND_DAY}: one step, {self.noise.step_g:g} g, is assumed"
        return f"{two_digits(self.noise.day_to_day_g)} g"

    @property
    def sees(self) -> str:
        """The smallest loss that it sees.

        >>> ScaleKnown("1", "pocket", ScaleNoise(0.01, 0.005, 0.01), None).sees
        '0.016 g on one day, 0.032 g from one day to another'
        """
        return smallest_seen_of(self.noise)


def noise_of(connection: sqlite3.Connection, scale: object) -> ScaleNoise:
    """How well a scale (by id) weighs; that of a usual one, never checked, where none is noted."""
    row = connection.execute(
        "SELECT step_g, repeatability_g, day_to_day_g, error_bound_g FROM scales WHERE id = ?", (scale,)
    ).fetchone()
    return scale_noise(*(row or ()))


def known_scale(connection: sqlite3.Connection, scale: str) -> ScaleKnown:
    """What is known of one scale (by id)."""
    return _known(connection.execute(f"SELECT {_COLUMNS} FROM scales WHERE id = ?", (scale,)).fetchone())


def known_scales(connection: sqlite3.Connection) -> Iterator[ScaleKnown]:
    """What is known of every scale, by name."""
    return map(
        _known, connection.execute(f"SELECT {_COLUMNS} FROM scales WHERE {stands_alone_sql('scale')} ORDER BY name, id")
    )


def _known(row: sqlite3.Row) -> ScaleKnown:
    row_id, name, *noise, checked_on = row
    return ScaleKnown(row_id, name, scale_noise(*noise), checked_on)
