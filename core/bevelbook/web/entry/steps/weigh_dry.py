"""The dry mass, checked against the last one while the parts still lie there."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.vocabulary import MASS_BASES
from bevelbook.display.begun import begun
from bevelbook.display.days import day_in_words
from bevelbook.entering.question import Question, Way
from bevelbook.facts.dry_mass import last_dry_mass
from bevelbook.reading.dates import today_iso
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.dry_mass_hint import dry_mass_hint
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.bench_scale import COOL, FIRST, SCALE, bench_scale, coin_wanted
from bevelbook.web.entry.step_fields import Choice, number_text, refuse_nothing, step_field
from bevelbook.web.entry.steps.step_screen import StepScreen, of_build
from bevelbook.web.shared.typed_form import TypedForm

DRY: Final = "dry_mass_g"
BASIS: Final = "mass_basis"
ON_SCALE: Final = "parts_on_pan"
AS_LAST: Final = "as last time"
NOT_KNOWN: Final = "not known"
_ANSWER: Final = f"answer.{DRY}"


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """The input of the mass, what has to be on the scale, and the last dry mass on that basis."""
    kind = BY_NAME["build"]
    stored = _columns(connection, job.build)
    before = _columns(connection, job.ends or job.like)
    basis = _basis(connection, job)
    last = last_dry_mass(connection, job.diff, today_iso(), basis, job.build)
    return {
        "first": (*FIRST, COOL),
        "mass": step_field(kind.field(DRY), words="Dry, before oil", stored=stored.get(DRY)),
        "basis": step_field(
            kind.field(BASIS), words="What is on the scale", stored=basis, choices=_choices(basis, last is not None)
        ),
        "parts": step_field(
            kind.field(ON_SCALE), words="Parts on it", stored=stored.get(ON_SCALE) or before.get(ON_SCALE)
        ),
        "is_as_last": bool(before.get(BASIS)),
        "last": last,
        "last_day": day_in_words(last.built_on) if last else "",
        "scale": bench_scale(connection, job.person, stored.get(SCALE) or None),
    }


def _basis(connection: sqlite3.Connection, job: JobOnBench) -> str | None:
    """What is on the scale until something else is said: as stored, else as in the build before; None if neither has
    it."""
    stored, before = (_columns(connection, build) for build in (job.build, job.ends or job.like))
    return stored.get(BASIS) or before.get(BASIS)


def _choices(basis: str | None, has_last: bool) -> tuple[Choice, ...]:
    """The bases; where none is known also the same as last time, whatever that was."""
    bases = tuple(MASS_BASES)
    return bases if basis else (("", AS_LAST if has_last else NOT_KNOWN), *bases)


def _columns(connection: sqlite3.Connection, build: str | None) -> dict[str, Any]:
    names = (DRY, BASIS, ON_SCALE, SCALE)
    row = connection.execute(f"SELECT {', '.join(names)} FROM builds WHERE id = ?", (build,)).fetchone()
    return dict(zip(names, row, strict=True)) if row else {}


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """The dry mass with what was on the scale, and the known coin or weight."""
    coin = coin_wanted(connection, job.person, typed)
    if not number_text(typed, DRY):
        refuse_nothing(job, step, what="no mass was typed", ways="Type what the scale shows")
        return coin
    basis = _basis(connection, job)
    texts = {BASIS: basis} if basis else {}
    texts |= {name: text for name in (DRY, BASIS, ON_SCALE, SCALE) if (text := typed.text(name))}
    return [*coin, of_build(texts)]


def after(connection: sqlite3.Connection, job: JobOnBench, typed: TypedForm) -> None:
    """Ask once about a dry mass that is lighter or heavier than the last; an answer holds for that reading alone.

    Raises Question.
    """
    if job.build is None or not number_text(typed, DRY) or typed.text(_ANSWER) == typed.text(DRY):
        return
    hint = dry_mass_hint(connection, job.build)
    if hint is None or not hint.is_asked:
        return
    beside = ". ".join(begun(line) for line in hint.beside)
    raise Question(
        f"{hint.words} {beside}",
        code="dry_mass_differs",
        field=DRY,
        found=typed.text(DRY),
        answers=(Way(typed.text(DRY), "It is right"),),
    )


def said(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Iterator[str]:
    """How the dry mass that is stored differs from the last."""
    hint = dry_mass_hint(connection, job.build) if job.build is not None else None
    if hint is not None:
        yield f"Dry mass stored: {hint.words}"


SCREEN: Final = StepScreen("weigh-dry", shown, wanted, said=said, after=after)
