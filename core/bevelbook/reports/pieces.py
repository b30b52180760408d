"""How many runs each piece of a diff has done, and with which motor: what a question for wear is answered with."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.car_values import runs_by_value
from bevelbook.facts.parts import PieceInDiff, pieces_of_diff

MOTOR: Final = "motor"
"""What the car's values call it."""
SEAL: Final = "seal"
"""What the facts of parts call one."""


class PieceWithMotors(NamedTuple):
    """A piece, and its runs in this diff by the motor of the car; what is left of its runs is with none that was
    noted."""

    piece: PieceInDiff
    by_motor: tuple[tuple[str, float], ...]

    @property
    def not_noted(self) -> float:
        """Its runs with no motor noted, those in another diff among them."""
        return max(0.0, round(self.piece.runs - sum(runs for _, runs in self.by_motor), 6))


def pieces_with_motors(connection: sqlite3.Connection, diff: str) -> list[PieceWithMotors]:
    """The pieces that are or were in a diff (by id): gears and outdrives before seals, those of a place together.

    Of these the one that is in it comes first, then the last one that was.
    """
    pieces = sorted(pieces_of_diff(connection, diff), key=lambda one: (one.part == SEAL, one.part, one.place))
    by_build = runs_by_value(connection, diff, MOTOR) if pieces else {}
    found = []
    for piece in pieces:
        by_motor: dict[str, float] = {}
        for build, _ in piece.builds:
            for motor, runs in by_build.get(build, {}).items():
                by_motor[motor] = by_motor.get(motor, 0.0) + runs
        found.append(PieceWithMotors(piece, tuple(by_motor.items())))
    return found
