"""The steps of a procedure on a card: what is known already, what is to be written, cautions."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.calculating.for_record import attempt_called
from bevelbook.calculating.known import Subject
from bevelbook.card.bench_steps import step_words
from bevelbook.card.procedure import Procedure, ProcedureStep
from bevelbook.declare.errors import PluginFault
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.vocabulary import CLOSED
from bevelbook.display.format import SHOWN_UNIT, format_value
from bevelbook.entering.shown_values import shown_values
from bevelbook.facts.builds import build_before
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, BY_TABLE
from bevelbook.reference import caution_in_words
from bevelbook.reports.bench import job_of_build

BEFORE: Final = ("openings", "weighings")
"""Tables about the build before, which is taken apart in the first steps."""
OWN_PLACE: Final = {"seal_fittings": "Seals", "build_shims": "Shims"}
"""Tables with several rows per build, which have their own part of the card."""
WIDEST_CHOICES: Final = 24
SHORT_WORDS: Final = 40
LONGEST_VALUE: Final = 80
LONGEST_ANSWER: Final = 160
_CONTROL: Final = late_pattern(r"[\x00-\x1f\x7f-\x9f]")


class Blank(NamedTuple):
    """Something to write down: its value where it is known, else a line to write on or short words to choose from."""

    name: str
    value: str | None = None
    unit: str = ""
    choices: tuple[str, ...] = ()


class Caution(NamedTuple):
    """A caution in words; where an earlier step has it in full, its first words, the number of that step, and the
    whole again for a page that can open it."""

    text: str
    said_at: int | None = None
    in_full: str = ""


class CardStep(NamedTuple):
    """One step with a box to tick; where it was done at the bench the box is ticked, and ``noted`` says when, or why it
    was left out."""

    number: int
    key: str
    title: str
    do: str
    check: str
    blanks: tuple[Blank, ...]
    see: tuple[str, ...]
    cautions: tuple[Caution, ...]
    noted: str = ""
    is_done: bool = False


def shortened(text: str, length: int = LONGEST_VALUE) -> str:
    """A text on one line, without control characters, cut where it is longer than a card has room for.

    >>> shortened("three  fillings", 8)
    'three …'
    """
    plain = " ".join(_CONTROL.sub(" ", text).split())
    return plain if len(plain) <= length else plain[: length - 2].rstrip() + " …"


def caution_texts(procedure: Procedure) -> tuple[str, ...]:
    """The cautions that hold for all steps, in words, except those that a step gives in full."""
    said = {one for step in procedure.steps for one in step.cautions}
    return tuple(caution_in_words(one) for one in procedure.cautions if one not in said)


def card_steps(
    connection: sqlite3.Connection,
    registry: Registry,
    subject: Subject,
    procedure: Procedure,
    answers: Mapping[str, str],
    shown: Collection[str],
    faults: list[PluginFault],
) -> tuple[CardStep, ...]:
    """The steps for one build.

    ``answers`` are the words for calculators that the card shows elsewhere, ``shown`` the columns whose value it shows
    elsewhere. What goes wrong in a calculator that a step names is added to ``faults``.
    """
    values = _known_values(connection, subject)
    elsewhere = {*shown, *OWN_PLACE}
    before = _build_before(connection, subject)
    said: dict[str, int] = {}
    job = job_of_build(connection, subject.row_id)
    at_bench = job.steps if job else {}
    steps = []
    for number, step in enumerate(procedure.steps, start=1):
        see = [OWN_PLACE[table] for table in dict.fromkeys(map(_table, step.write_down)) if table in OWN_PLACE]
        for name in step.calculators:
            see += _answer(connection, registry, before if _is_about_before(step) else subject, name, answers, faults)
        steps.append(
            CardStep(
                number,
                step.key,
                step.heading,
                step.do,
                step.check,
                tuple(_blank(one, values) for one in step.write_down if not elsewhere & {one, _table(one)}),
                tuple(dict.fromkeys(_without_bare(see))),
                tuple(_cautions(step, number, said)),
                step_words(at_bench[step.key]) if step.key in at_bench else "",
                step.key in at_bench and at_bench[step.key].done_at is not None,
            )
        )
    return tuple(steps)


def _cautions(step: ProcedureStep, number: int, said: dict[str, int]) -> list[Caution]:
    found = []
    for one in step.cautions:
        text = caution_in_words(one)
        found.append(Caution(_first_words(text), said[text], text) if text in said else Caution(text))
        said.setdefault(text, number)
    return found


def _first_words(text: str) -> str:
    """Enough of a caution to recognise it: its words up to the first colon or, without one, its first five."""
    start, colon, _ = text.partition(":")
    return start if colon and len(start) <= SHORT_WORDS else " ".join(text.split()[:5]).rstrip(",;.") + " …"


def _answer(
    connection: sqlite3.Connection,
    registry: Registry,
    subject: Subject | None,
    name: str,
    answers: Mapping[str, str],
    faults: list[PluginFault],
) -> list[str]:
    offered = registry.in_force(name)
    if offered is not None:
        name = offered.calculator.name
    if name in answers:
        return [answers[name]]
    if subject is None:
        return []
    done = attempt_called(connection, registry, name, subject)
    if done.fault is not None:
        faults.append(done.fault)
    if done.answer:
        judged = done.answer.judgement
        return [shortened(f"{done.title} of {subject.label}: {judged.verdict}; {judged.reasons[0]}", LONGEST_ANSWER)]
    if done.lacking:
        return [f"{done.title} of {shortened(subject.label)}: needs {' and '.join(done.lacking)}"]
    return [f"{done.title}: {done.refused}"]


def _without_bare(see: list[str]) -> list[str]:
    """Each part named once: ``Seals`` is dropped where there is ``Seals: ok``."""
    return [one for one in see if not any(other.startswith(f"{one}: ") for other in see)]


def _is_about_before(step: ProcedureStep) -> bool:
    return any(_table(one) in BEFORE for one in step.write_down)


def _table(written: str) -> str:
    return "" if " " in written else written.partition(".")[0]


def _blank(written: str, values: Mapping[str, Any]) -> Blank:
    if " " in written:
        return Blank(written)
    table, _, name = written.partition(".")
    kind = BY_TABLE[table]
    field = kind.field(name)
    value = None if name == "note" else values.get(written)
    if value is not None:
        return Blank(field.words, shortened(format_value(value, field)))
    return Blank(field.words, None, _unit(field), _short_choices(field))


def _unit(field: Field) -> str:
    return SHOWN_UNIT.get(field.unit or "", field.unit or "") if field.kind == "quantity" else ""


def _short_choices(field: Field) -> tuple[str, ...]:
    return field.choices if field.choices and len(" ".join(field.choices)) <= WIDEST_CHOICES else ()


def _known_values(connection: sqlite3.Connection, subject: Subject) -> dict[str, Any]:
    """What is written down already, by table and column: of the build, and of the opening of the build before; a closed
    weighing of that day is its mass before opening too."""
    found = {f"builds.{name}": one for name, one in shown_values(connection, subject.kind, subject.row_id).items()}
    before = _build_before(connection, subject)
    if before is None:
        return found
    row = connection.execute(
        "SELECT id, opened_on FROM openings WHERE build = ? ORDER BY opened_on DESC, id DESC LIMIT 1", (before.row_id,)
    ).fetchone()
    if row is None:
        return found
    weighed = connection.execute(
        "SELECT mass_g FROM weighings WHERE build = ? AND weighed_on = ? AND mass_basis = ? "
        "ORDER BY created_at DESC, id DESC LIMIT 1",
        (before.row_id, row["opened_on"], CLOSED),
    ).fetchone()
    if weighed is not None:
        found["openings.closed_mass_g"] = weighed["mass_g"]
    values = shown_values(connection, BY_NAME["opening"], row["id"])
    return found | {f"openings.{name}": value for name, value in values.items()}


def _build_before(connection: sqlite3.Connection, subject: Subject) -> Subject | None:
    """The build of the same diff that this one replaces."""
    before = build_before(connection, subject.row_id)
    return Subject(BY_NAME["build"], before.id, before.label) if before else None
