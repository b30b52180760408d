"""A weighing of the closed diff: before it is opened, what it lost; and when it is closed again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError
from bevelbook.declare.vocabulary import CLOSED
from bevelbook.display.begun import begun
from bevelbook.facts.leak import leaks_of
from bevelbook.facts.lid_mass import unlike_last_lid_of
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.last_masses import LastMass, last_closed_mass, weighing_of_step
from bevelbook.reports.what_changed import LeakNews
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.bench_scale import COOL, FIRST, SCALE, bench_scale, coin_wanted
from bevelbook.web.entry.step_fields import number_text, refuse_nothing, step_field
from bevelbook.web.entry.steps.step_screen import StepScreen, change_of, of_build, of_build_before
from bevelbook.web.shared.typed_form import TypedForm

MASS: Final = "mass_g"
_AFTER: Final = "builds.closed_mass_g"


def is_after(step: ProcedureStep) -> bool:
    """Whether the step weighs the build that the job makes, and not the one before."""
    return _AFTER in step.write_down


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The input of the mass, and the last closed mass."""
    if is_after(step):
        row = connection.execute("SELECT closed_mass_g, scale FROM builds WHERE id = ?", (job.build,)).fetchone()
        stored, scale = (row[0], row[1]) if row else (None, None)
        last = last_closed_mass(connection, job.ends)
        field = BY_NAME["build"].field("closed_mass_g")
    else:
        weighed = _weighed(connection, job, step)
        stored, scale = (weighed.mass_g, weighed.scale) if weighed else (None, None)
        last = last_closed_mass(connection, job.ends, but=weighed.row_id if weighed else None)
        field = BY_NAME["weighing"].field(MASS)
    return {
        "first": FIRST if is_after(step) else (*FIRST, COOL),
        "mass": step_field(field, name=MASS, words="Closed, outside wiped", stored=stored),
        "last": last,
        "scale": bench_scale(connection, job.person, scale),
        "is_known": is_after(step) or job.ends is not None,
    }


def _weighed(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> LastMass | None:
    """The weighing that this step has stored; None until it has."""
    noted = job.steps.get(step.key)
    return weighing_of_step(connection, job.ends, noted.id) if noted is not None else None


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The mass, where it belongs, and the known coin or weight. Raises InputError where no build is known to weigh."""
    coin = coin_wanted(connection, job.person, typed)
    mass, scale = number_text(typed, MASS), typed.text(SCALE)
    if not mass:
        refuse_nothing(job, step, what="no mass was typed", ways="Type what the scale shows")
        return coin
    on_scale = {SCALE: scale} if scale else {}
    if is_after(step):
        return [*coin, of_build({"closed_mass_g": mass, **on_scale})]
    weighed = _weighed(connection, job, step)
    if weighed is not None and weighed.row_id is not None:
        return [*coin, change_of("weighing", weighed.row_id, {MASS: mass, **on_scale})]
    if job.ends is None:
        raise InputError(
            "no build of this diff is known, so there is nothing to weigh",
            code="no_record",
            remedy="Leave this step out.",
        )
    last = last_closed_mass(connection, job.ends)
    texts = {MASS: mass, "mass_basis": last.mass_basis if last else CLOSED, "wiped": "yes", **on_scale}
    return [*coin, of_build_before("weighing", texts, job)]


def said(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Iterator[str]:
    """What the build before lost, once it was weighed; or that the closed mass is unlike the one before."""
    if is_after(step):
        lid = unlike_last_lid_of(connection, job.build) if job.build is not None else None
        if lid is not None:
            yield f"{begun(lid.words)}."
        return
    if job.ends is None or _weighed(connection, job, step) is None:
        return
    for leak in leaks_of(connection, [job.ends]).values():
        yield LeakNews(job.ends_label or "", leak).line()


def stores(step: ProcedureStep) -> Sequence[str]:
    """The scale of the build that the job makes."""
    return [f"builds.{SCALE}"] if is_after(step) else []


SCREEN: Final = StepScreen("weigh-closed", shown, wanted, said=said, stores=stores)
