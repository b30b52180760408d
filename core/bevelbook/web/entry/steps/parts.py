"""The parts laid out and counted: which are new, used again, or turned over."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.counting import counted
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.fitted import (
    USUAL_PARTS,
    PartFitted,
    build_named,
    parts_fitted,
    parts_held,
    seals_fitted,
    shims_fitted,
)
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.step_fields import StepField, capital, refuse_nothing, step_field
from bevelbook.web.entry.steps.step_screen import StepScreen, change_of, in_build
from bevelbook.web.shared.typed_form import TypedForm

ALL: Final = "all"
EVERYTHING_NEW: Final = "Everything is new"
USED_AGAIN: Final = "All used again as they were"
CONDITIONS: Final = (("used", "used again"), ("new", "new"), ("turned over", "turned over"))
_FOR_ALL: Final = ("used", "new")
MORE: Final = "more."
"""Begins the names of the inputs for one more part."""
_KIND: Final = BY_NAME["build_part"]
_MORE_FIELDS: Final = ("part", "place", "condition", "mark")


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The parts of the build before, with what is stored of them in this one."""
    return {
        "all": ALL,
        "everything_new": EVERYTHING_NEW,
        "used_again": USED_AGAIN,
        "is_first": job.ends is None,
        "last": build_named(connection, job.ends or job.like),
        "count": _count(connection, job),
        "parts": [
            StepField(
                name, capital(one.words), "choice", about=one.counted, choices=CONDITIONS, typed=one.condition or ""
            )
            for name, one in _parts(connection, job).items()
        ],
        "more": [
            step_field(_KIND.field(name), name=f"{MORE}{name}", choices=CONDITIONS if name == "condition" else None)
            for name in _MORE_FIELDS
        ],
    }


def _parts(connection: sqlite3.Connection, job: JobOnBench) -> dict[str, PartFitted]:
    """The parts to lay out, by the names of their inputs: those noted in this build, then those of the one before, and
    the usual ones, that are none of these."""
    parts = parts_fitted(connection, job.build)
    for more in (parts_held(connection, job.ends or job.like), USUAL_PARTS):
        parts += [one for one in more if not any(_is_same(one, other) for other in parts)]
    found: dict[str, PartFitted] = {}
    for one in parts:
        name = ".".join(["part", *(word.replace(" ", "-") for word in (one.part, one.place or "", one.mark or ""))])
        number = sum(other == name or other.startswith(f"{name}#") for other in found) + 1
        found[name if number == 1 else f"{name}#{number}"] = one
    return found


def _is_same(one: PartFitted, other: PartFitted) -> bool:
    """Whether a part of the build before is one that is noted in this."""
    if one.part != other.part or (other.mark is not None and one.mark is not None and one.mark != other.mark):
        return False
    return "both" in (one.place, other.place) or one.place == other.place


def _count(connection: sqlite3.Connection, job: JobOnBench) -> str:
    """``4 screws, 3 seals, 2 shims``: what has to lie there, as far as it is known."""
    before = job.ends or job.like
    screws = connection.execute("SELECT screw_count FROM diffs WHERE id = ?", (job.diff,)).fetchone()
    counts = (
        (screws[0] if screws else None, "screw"),
        (len(seals_fitted(connection, before)), "seal"),
        (sum(one.pieces for one in shims_fitted(connection, before) if one.thickness_mm > 0), "shim"),
    )
    return ", ".join(counted(number, noun) for number, noun in counts if number)


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The condition of each part that was chosen; with the one touch, of those that were not as well."""
    found: list[WantedRecord] = []
    all_of = typed.text(ALL) if typed.text(ALL) in _FOR_ALL else ""
    for name, one in _parts(connection, job).items():
        condition = typed.text(name) or all_of
        if not condition:
            continue
        if one.row_id is not None:
            if condition != one.condition:
                found.append(change_of("build_part", one.row_id, {"condition": condition}))
            continue
        texts = {"part": one.part, "place": one.place, "mark": one.mark, "condition": condition}
        found.append(in_build("build_part", {key: text for key, text in texts.items() if text}))
    more = {name: text for name in _MORE_FIELDS if (text := typed.text(f"{MORE}{name}"))}
    if more.get("part"):
        found.append(in_build("build_part", more))
    if not found:
        refuse_nothing(
            job,
            step,
            what="nothing is chosen",
            ways=f"Touch '{EVERYTHING_NEW if job.ends is None else USED_AGAIN}', or a word for each part",
        )
    return found


SCREEN: Final = StepScreen("parts", shown, wanted, asks=False)
