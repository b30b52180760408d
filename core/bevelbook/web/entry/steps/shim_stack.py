"""The stack of shims: the last one kept as it is, with pieces more or fewer, or another size."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.fitted import ShimFitted, build_named, shims_fitted
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.step_calculators import step_calculators
from bevelbook.web.entry.step_fields import StepField, as_text, capital, number_text, step_field
from bevelbook.web.entry.steps.step_screen import StepScreen, Unwanted, change_of, in_build
from bevelbook.web.shared.typed_form import TypedForm

MORE: Final = "more."
"""Begins the names of the inputs for one more size."""
NONE: Final = "0"
_KIND: Final = BY_NAME["build_shim"]
_MORE_FIELDS: Final = ("thickness_mm", "place", "pieces", "bore_mm", "outside_diameter_mm")
_SIZES: Final = ("thickness_mm", "bore_mm", "outside_diameter_mm")
_FEWEST_OFFERED: Final = 3


class StackLine(NamedTuple):
    """Shims of one size in one place: how many are to be in, and the records in this build that have them."""

    shim: ShimFitted
    pieces: int
    here: tuple[ShimFitted, ...] = ()

    @property
    def name(self) -> str:
        """The name of its input, by place and size."""
        sizes = (self.shim.thickness_mm, self.shim.bore_mm, self.shim.outside_diameter_mm)
        return ".".join(
            ["shim", self.shim.place.replace(" ", "-"), *(f"{one or 0:g}".replace(".", "_") for one in sizes)]
        )

    @property
    def field(self) -> StepField:
        """Its number of pieces, as buttons."""
        most = max(_FEWEST_OFFERED, self.pieces + 1, self.shim.pieces + 1)
        choices = ((NONE, "out"), *((str(number), str(number)) for number in range(1, most + 1)))
        return StepField(
            self.name,
            f"{capital(self.shim.place)}: {self.shim.words}",
            "choice",
            choices=choices,
            typed=str(self.pieces),
        )


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The last stack, with what is stored of this one."""
    return {
        "last": build_named(connection, job.ends or job.like),
        "lines": _stack(connection, job, step),
        "more": [step_field(_KIND.field(name), name=f"{MORE}{name}") for name in _MORE_FIELDS],
    }


def _stack(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> list[StackLine]:
    """The shims of this build by size, and those of the one before that are not in it.

    Until the step was done, those of the one before are to be in where this build has none.
    """
    here: dict[object, list[ShimFitted]] = {}
    for one in shims_fitted(connection, job.build):
        here.setdefault(_size(one), []).append(one)
    before: dict[object, list[ShimFitted]] = {}
    for one in shims_fitted(connection, job.ends or job.like):
        before.setdefault(_size(one), []).append(one)
    noted = job.steps.get(step.key)
    are_kept = not here and (noted is None or not noted.is_over)
    lines = [StackLine(same[0], sum(one.pieces for one in same), tuple(same)) for same in here.values()]
    lines += [
        StackLine(same[0], sum(one.pieces for one in same) if are_kept else 0)
        for size, same in before.items()
        if size not in here
    ]
    return sorted(lines, key=lambda line: (line.shim.place, line.shim.thickness_mm, line.name))


def _size(shim: ShimFitted) -> object:
    return shim.place, shim.thickness_mm, shim.bore_mm, shim.outside_diameter_mm


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord | Unwanted]:
    """The shims with as many pieces as chosen, and one more size if one was typed. Raises InputError for a size without
    its place."""
    found: list[WantedRecord | Unwanted] = []
    for line in _stack(connection, job, step):
        pieces = typed.text(line.name)
        if line.here and pieces and pieces != str(line.pieces):
            first, *others = line.here
            gone = line.here if pieces == NONE else others
            found += [Unwanted(_KIND, one.row_id) for one in gone]
            if pieces != NONE:
                found.append(change_of("build_shim", first.row_id, {"pieces": pieces}))
        elif not line.here and pieces not in ("", NONE):
            sizes = {name: as_text(_KIND.field(name), getattr(line.shim, name)) for name in _SIZES}
            texts = {"place": line.shim.place, "pieces": pieces, "note": line.shim.note or "", **sizes}
            found.append(in_build("build_shim", {name: text for name, text in texts.items() if text}))
    more = {name: text for name in _MORE_FIELDS if (text := number_text(typed, f"{MORE}{name}"))}
    if "thickness_mm" in more:
        if "place" not in more:
            raise InputError(
                f"a shim of {more['thickness_mm']} mm, but not where it goes",
                code="missing_input",
                remedy="Touch its place.",
            )
        found.append(in_build("build_shim", more))
    return found


SCREEN: Final = StepScreen("shim-stack", shown, wanted, asks=False, numbers=step_calculators)
