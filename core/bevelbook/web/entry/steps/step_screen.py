"""How a screen of the bench is declared: what it shows, and the records that it wants.

Each module of this folder declares one as ``SCREEN``; a step of the procedure names it by the key ``screen``. Its
template is ``bevelbook_step_NAME.html``, with hyphens as underscores; it extends ``bevelbook_step.html`` and fills its
block ``asked``, which is inside the form. Besides what ``shown`` returns it is given ``job`` (JobOnBench), ``step``
(ProcedureStep), ``noted`` (NotedStep or None) and ``typed`` (TypedForm, to draw again what was typed and not stored).

What a screen wants is saved in one entry together with the times of the step. The opening that ends the build before,
and the build that the job makes, are made when the first step wants something of them: a screen writes into them by
:func:`of_opening` and :func:`of_build`, and whether they are there already is not its business. A build made like
another one has its pieces at once: where that happens for this step, what is wanted is asked for again with it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.card.procedure import ProcedureStep
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.bench import JobOnBench
from bevelbook.saving.record import WantedRecord
from bevelbook.web.shared.typed_form import TypedForm

THIS_BUILD: Final = "(the build of this job)"
THIS_OPENING: Final = "(the opening of this job)"
"""In place of the name of a record, or of the text of a field that refers to one."""


class StepCourse(NamedTuple):
    """How a step goes on after its form was stored: over, or still going on, with the same screen again.

    ``until_at`` is when a wait that belongs to it ends (UTC), ``note`` what the screen wants to know of itself later.
    """

    is_over: bool = True
    until_at: str | None = None
    note: str | None = None


class Unwanted(NamedTuple):
    """A piece of the build that the job makes, by its id, that is to be taken out."""

    kind: Kind
    row_id: str


def nothing_to_say(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Iterable[str]:
    """What most screens say of what they stored."""
    return ()


def nothing_to_ask(connection: sqlite3.Connection, job: JobOnBench, typed: TypedForm) -> None:
    """What most screens ask of what they stored."""


def nothing_more(step: ProcedureStep) -> Sequence[str]:
    """What most screens store besides what their step lists."""
    return ()


class StepScreen(NamedTuple):
    """A screen of the bench.

    ``shown`` is what its template needs beside the step. ``wanted`` are the records to save from a form that was sent,
    in their order; none where nothing was typed. It raises InputError for what cannot be. ``asks`` is whether it takes
    a number or a decision: where a build is made the same again, screens that do not are left to the list.

    ``numbers`` is what its template needs besides from calculators, and ``course`` how the step goes on; it may raise
    Question, before anything is stored, for what only a person knows. Without ``course`` a stored step is over. Where
    ``may_stay_open``, the job is done with this step still going on. ``stores`` are columns of the build, the opening,
    the diff and the weighing that it writes besides those that its step lists, so that it is noticed where another page
    changes them meanwhile.
    """

    name: str
    shown: Callable[[sqlite3.Connection, JobOnBench, ProcedureStep], Mapping[str, Any]]
    wanted: Callable[[sqlite3.Connection, JobOnBench, ProcedureStep, TypedForm], Sequence[WantedRecord | Unwanted]]
    asks: bool = True
    said: Callable[[sqlite3.Connection, JobOnBench, ProcedureStep], Iterable[str]] = nothing_to_say
    after: Callable[[sqlite3.Connection, JobOnBench, TypedForm], None] = nothing_to_ask
    numbers: (
        Callable[[sqlite3.Connection, Registry, JobOnBench, ProcedureStep, TypedForm], Mapping[str, Any]] | None
    ) = None
    course: Callable[[sqlite3.Connection, Registry, JobOnBench, ProcedureStep, TypedForm], StepCourse] | None = None
    may_stay_open: bool = False
    stores: Callable[[ProcedureStep], Sequence[str]] = nothing_more

    @property
    def template(self) -> str:
        """The file name of the template."""
        return f"bevelbook_step_{self.name.replace('-', '_')}.html"


def of_build(texts: Mapping[str, str]) -> WantedRecord:
    """Values of the build that the job makes, by field: ``{"dry_mass_g": "12.40"}``."""
    return WantedRecord(BY_NAME["build"], texts, THIS_BUILD)


def of_opening(texts: Mapping[str, str]) -> WantedRecord:
    """Values of the opening that ends the build before, by field."""
    return WantedRecord(BY_NAME["opening"], texts, THIS_OPENING)


def in_build(kind: str, texts: Mapping[str, str]) -> WantedRecord:
    """A new piece in the build that the job makes: a shim, a seal fitting, a part."""
    return WantedRecord(BY_NAME[kind], {**texts, "build": THIS_BUILD})


def change_of(kind: str, row_id: str, texts: Mapping[str, str]) -> WantedRecord:
    """Other values of a record that is there already, by its id."""
    return WantedRecord(BY_NAME[kind], texts, row_id)


def of_build_before(kind: str, texts: Mapping[str, str], job: JobOnBench) -> WantedRecord:
    """A new record of the build that was in the diff, such as its last weighing."""
    return WantedRecord(BY_NAME[kind], {**texts, "build": job.ends or ""})
