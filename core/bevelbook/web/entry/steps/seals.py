"""The seals judged beside a new one, place by place, and which of them go back in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.errors import InputError
from bevelbook.declare.vocabulary import SEAL_PLACES
from bevelbook.entering.question import Question, Way
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.reports.fitted import SealFitted, build_named, seals_fitted, usual_seals, verdicts_kept
from bevelbook.reports.opening_of_job import opening_of
from bevelbook.saving.record import WantedRecord
from bevelbook.web.entry.step_calculators import step_calculators
from bevelbook.web.entry.step_fields import StepField, capital, number_text, refuse_nothing, step_field
from bevelbook.web.entry.steps.step_screen import StepScreen, change_of, in_build, of_opening
from bevelbook.web.shared.typed_form import TypedForm

ALL: Final = "all"
ALL_NEW: Final = "All new ones, oiled"
ALL_SAME: Final = "All as new ones: back in, oiled"
SAME: Final = "same"
STATES: Final[Mapping[str, str]] = {
    SAME: "ok",
    "bigger": "swollen",
    "flat": "flattened",
    "nicked": "nicked",
    "hard": "hard",
}
"""What is seen when a seal lies on a new one, with the state that is stored for it."""
AGAIN, NEW = "used", "new"
MEASURES: Final = ("measured_inside_diameter_mm", "measured_section_mm", "measured_outside_diameter_mm")
_GOES_IN: Final = ((AGAIN, "this one again"), (NEW, "a new one"))
_WORST_FIRST: Final = ("nicked", "flattened", "swollen", "hard", "ok")
_KIND: Final = BY_NAME["seal_fitting"]
_STOP: Final = ": stop: "


class SealAsked(NamedTuple):
    """One place: what sits there, its inputs, and what was worked out for it."""

    place: str
    label: str
    judged: StepField
    goes_in: StepField
    kind: StepField
    measures: tuple[StepField, ...]
    is_measured: bool
    verdicts: tuple[str, ...]


def shown(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Mapping[str, Any]:
    """Each place with what was in it, and what is stored of it."""
    stored = seals_fitted(connection, job.build)
    kinds = [row[0] for row in connection.execute("SELECT label FROM seals ORDER BY label, id")]
    return {
        "all": ALL,
        "all_new": ALL_NEW,
        "all_same": ALL_SAME,
        "same": SAME,
        "new": NEW,
        "is_first": job.ends is None,
        "last": build_named(connection, job.ends),
        "seals": [_asked(connection, one, stored.get(place), kinds) for place, one in _places(connection, job).items()],
    }


def _places(connection: sqlite3.Connection, job: JobOnBench) -> dict[str, SealFitted]:
    """What sits in each place: noted in this build, else in the one before, else usual in the diff."""
    found: dict[str, SealFitted] = {}
    for fitted in (
        usual_seals(connection, job.diff),
        seals_fitted(connection, job.ends or job.like),
        seals_fitted(connection, job.build),
    ):
        found |= {
            place: one if one.seal else one._replace(seal=was.seal, label=was.label)
            for place, one in fitted.items()
            for was in (found.get(place, one),)
        }
    return {place: found.get(place, SealFitted(place)) for place in SEAL_PLACES}


def _asked(
    connection: sqlite3.Connection, fitted: SealFitted, stored: SealFitted | None, kinds: Sequence[str]
) -> SealAsked:
    name = _slug(fitted.place)
    judged = next((word for word, state in STATES.items() if stored is not None and stored.state == state), "")
    measures = tuple(
        step_field(
            _KIND.field(one),
            name=f"{name}.{one}",
            words=f"{capital(fitted.place)}: {_KIND.field(one).words.removeprefix('measured ')}",
            stored=None if stored is None else getattr(stored, one),
        )
        for one in MEASURES
    )
    return SealAsked(
        fitted.place,
        fitted.label or "",
        StepField(
            f"{name}.judged",
            f"{capital(fitted.place)}, laid on a new one",
            "choice",
            choices=tuple(STATES),
            typed=judged,
        ),
        StepField(
            f"{name}.goes_in",
            f"{capital(fitted.place)}: which one goes in",
            "choice",
            choices=_GOES_IN,
            typed=(stored.condition if stored is not None else None) or "",
        ),
        StepField(
            f"{name}.seal", f"Kind of seal, {fitted.place}", "choice", choices=tuple(kinds), typed=fitted.label or ""
        ),
        measures,
        any(one.typed for one in measures),
        tuple(verdicts_kept(connection, _KIND.table, stored.fitting)) if stored and stored.fitting else (),
    )


def _slug(place: str) -> str:
    """The place in the name of an input."""
    return place.replace(" ", "-")


def wanted(
    connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep, typed: TypedForm
) -> Sequence[WantedRecord]:
    """A fitting for each place that was judged, and how the seals were found for the opening.

    Raises InputError where a seal that is not as a new one may go in again or not.
    """
    stored = seals_fitted(connection, job.build)
    all_of = typed.text(ALL)
    found: list[WantedRecord] = []
    judged_as: list[str] = []
    for place, fitted in _places(connection, job).items():
        name = _slug(place)
        judged = typed.text(f"{name}.judged") or (SAME if all_of == SAME else "")
        goes_in = typed.text(f"{name}.goes_in") or (NEW if all_of == NEW else AGAIN if judged == SAME else "")
        measured = {one: text for one in MEASURES if (text := number_text(typed, f"{name}.{one}"))}
        if not (judged or goes_in or measured):
            continue
        if not goes_in:
            raise InputError(
                f"{place}: it is {judged or 'measured'}, but not which one goes in",
                code="missing_input",
                remedy="Touch this one again, or a new one.",
            )
        if judged:
            judged_as.append(STATES.get(judged, judged))
        seal = typed.text(f"{name}.seal") or fitted.label or ""
        texts = {"place": place, "seal": seal, "condition": goes_in, **dict.fromkeys(MEASURES, ""), "state": ""}
        if goes_in == AGAIN:
            texts |= {"state": STATES.get(judged, judged), **measured}
        found.append(_fitting(stored.get(place), texts))
    if not found:
        refuse_nothing(
            job,
            step,
            what="no seal is judged",
            ways=f"Touch '{ALL_NEW if job.ends is None else ALL_SAME}', or a word for each",
        )
    state = next((one for one in _WORST_FIRST if one in judged_as), "")
    if state and job.ends is not None and _says_more(state, opening_of(connection, job.opening).get("seals")):
        found.append(of_opening({"seals": state}))
    return found


def _fitting(stored: SealFitted | None, texts: dict[str, str]) -> WantedRecord:
    if stored is not None and stored.fitting is not None:
        return change_of("seal_fitting", stored.fitting, texts)
    return in_build("seal_fitting", {name: text for name, text in texts.items() if text})


def _says_more(state: str, noted: str | None) -> bool:
    """Whether the state is another than sound, or the first that is noted."""
    return noted is None or (state != STATES[SAME] and noted != state)


def said(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> Iterator[str]:
    """What was worked out for each seal that goes in again."""
    for place, one in seals_fitted(connection, job.build).items():
        if one.condition == AGAIN and one.fitting is not None:
            yield from (f"{capital(place)}: {line}" for line in verdicts_kept(connection, _KIND.table, one.fitting))


def after(connection: sqlite3.Connection, job: JobOnBench, typed: TypedForm) -> None:
    """Ask once about a seal that is to go in again though what was worked out for it says stop. Raises Question."""
    stopped = {
        place: lines
        for place, one in seals_fitted(connection, job.build).items()
        if one.condition == AGAIN and one.fitting is not None
        if (lines := [line for line in verdicts_kept(connection, _KIND.table, one.fitting) if _STOP in line])
    }
    places = ", ".join(stopped)
    if not stopped or typed.text(f"answer.{ALL}") == places:
        return
    said_of = ". ".join(f"{capital(place)}: {'; '.join(lines)}" for place, lines in stopped.items())
    raise Question(
        f"{said_of}. Choose a new one, or put it in all the same",
        code="seal_not_to_go_back",
        field=ALL,
        found=places,
        answers=(Way(places, "Put it in all the same"),),
    )


def stores(step: ProcedureStep) -> Sequence[str]:
    """How the seals were found."""
    return ["openings.seals"]


SCREEN: Final = StepScreen(
    "seals", shown, wanted, asks=False, said=said, after=after, numbers=step_calculators, stores=stores
)
