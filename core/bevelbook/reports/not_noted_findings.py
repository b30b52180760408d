"""What is not noted and keeps weighings unclear: said once for all diffs, with the command that notes it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import in_command
from bevelbook.facts.leak import Leak
from bevelbook.formulas.leak import advice_on_water, is_scale_checked
from bevelbook.physics.weighing import USUAL_STEP_G
from bevelbook.plugin.check import Finding


def not_noted(connection: sqlite3.Connection, unclear: Sequence[tuple[Mapping[str, Any], Leak]]) -> Iterator[Finding]:
    """Housings without a material and masses without a scale, of builds in use that their weighings leave unclear.

    Each goes with a row that has the column ``diff``, the id of its diff.
    """
    housings = [row["diff"] for row, leak in unclear if not leak.given.housing_material and advice_on_water(leak.given)]
    if housings:
        names = _names(connection, housings)
        yield _about(
            housings[0],
            names[0],
            "housing_not_noted",
            f"{_diffs(names)} no housing material noted: nylon is assumed, and the water in it hides what was lost",
            "Note what each housing is made of: 'bevelbook record diff "
            f"{in_command(names[0])} housing_material=aluminium' (metal takes up no water).",
        )
    scales = [
        row["diff"]
        for row, leak in unclear
        if not is_scale_checked(leak.given) and any(one.scale is None for one in leak.weighed.masses)
    ]
    if scales:
        names = _names(connection, scales)
        yield _about(
            scales[0],
            names[0],
            "scale_not_noted",
            f"{_diffs(names)} masses that name no scale: a step of {USUAL_STEP_G:g} g is assumed, and that it was "
            "never checked",
            "Record the scale once ('bevelbook record scale pocket step=0.01g'), put one thing on it ten times "
            "('bevelbook scale-check pocket MASS MASS ...'), and say scale=pocket with each mass.",
        )


def _names(connection: sqlite3.Connection, diffs: Sequence[str]) -> list[str]:
    return [connection.execute("SELECT label FROM diffs WHERE id = ?", (diff,)).fetchone()[0] for diff in diffs]


def _diffs(names: Sequence[str]) -> str:
    has = "has" if len(names) == 1 else "have"
    return f"{counted(len(names), 'diff')} ({', '.join(names)}) {has}"


def _about(diff: str, name: str, code: str, words: str, remedy: str) -> Finding:
    return Finding(
        code=code,
        severity="worth a look",
        words=words,
        remedy=remedy,
        subject_table="diffs",
        subject_id=diff,
        subject_label=name,
    )
