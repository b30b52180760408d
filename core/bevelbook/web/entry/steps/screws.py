"""Screws: a screen for each pass with its drawing and its torque, the last one once round."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final

from markupsafe import Markup

from bevelbook.card.bench_numbers import BenchPasses, bench_passes
from bevelbook.card.procedure import ProcedureStep
from bevelbook.entering.shown_values import shown_values
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.pouring_step import BUILD, build_values
from bevelbook.web.entry.step_fields import step_field
from bevelbook.web.entry.steps.step_screen import StepCourse, StepScreen, change_of, of_build
from bevelbook.web.shared.typed_form import TypedForm

DIFF: Final = BY_NAME["diff"]
TORQUE: Final = "screw_torque_nm"
OF_DIFF: Final = ("screw_count", "screw_size", "screw_hole")
SET: Final = "set"
"""The button that stores torque and screws, and shows the passes with them."""


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The torque of the build and the screws of the diff, as they are stored."""
    build, diff = build_values(connection, job), shown_values(connection, DIFF, job.diff)
    return {
        "torque": step_field(BUILD.field(TORQUE), stored=build.get(TORQUE)),
        "screws": [step_field(DIFF.field(name), stored=diff.get(name)) for name in OF_DIFF],
    }


def numbers(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Mapping[str, Any]:
    """The passes, each with its drawing."""
    found = BenchPasses(lacking="the build is not begun yet")
    if job.build is not None:
        found = bench_passes(connection, registry, job.build, step.calculators)
    return {
        "passes": [one._replace(picture=Markup(one.picture)) for one in found.passes],
        "reasons": (*found.reasons, *found.findings),
        "lacking": found.lacking,
    }


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The torque and the screws, where they differ from what is stored."""
    stored = shown(connection, job, step)
    records = []
    torque = typed.text(TORQUE)
    if torque != stored["torque"].typed and TORQUE in typed.texts:
        records.append(of_build({TORQUE: torque}))
    changed = {
        one.name: typed.text(one.name)
        for one in stored["screws"]
        if one.name in typed.texts and typed.text(one.name) != one.typed
    }
    if changed:
        records.append(change_of("diff", job.diff, changed))
    return records


def course(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> StepCourse:
    """Over after the last pass; another torque shows the passes again."""
    return StepCourse(is_over=not typed.text(SET))


def stores(step: ProcedureStep) -> Sequence[str]:
    """The screws of the diff."""
    return [f"diffs.{name}" for name in OF_DIFF]


SCREEN: Final = StepScreen("screws", shown, wanted, asks=False, numbers=numbers, course=course, stores=stores)
