"""A new line of a run sheet, where somebody stored runs of the same day since the sheet was drawn: the same run, or
another one?"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping
from typing import Final

from bevelbook.declare.errors import BevelbookError
from bevelbook.entering.question import Question, Way
from bevelbook.facts.day_order import first_run_first
from bevelbook.records import BY_NAME
from bevelbook.web.entry.noted_run import FIGURES, figures_in_words
from bevelbook.web.entry.record_form import stored_texts
from bevelbook.web.entry.sent import ANSWER
from bevelbook.web.shared.typed_form import TypedForm

MEANWHILE: Final = "meanwhile"
"""The hidden field of a line with the runs that it was asked about, so that it is asked again until it is answered."""
_SAME_RUN: Final = "same_run"
_ANOTHER_RUN: Final = "another "
"""Begins the answer that a line is none of the runs that follow."""
_MOST: Final = 4
"""Runs offered for one line."""
_RUN: Final = BY_NAME["run"]
_RUNS: Final = f"""
SELECT r.id, r.label, r.updated_by FROM runs r WHERE r.run_on = ?1 AND (?2 IS NULL OR r.car = ?2 OR r.car IS NULL)
ORDER BY {first_run_first()}, r.rowid, r.id
"""


class RunsMeanwhileQuestion(Question):
    """Runs stored since the sheet was drawn, by id."""

    runs: tuple[str, ...] = ()


def chosen_run(form: TypedForm) -> str | None:
    """The run that a person chose for a line; None where none was chosen."""
    answer = form.text(f"{ANSWER}{_SAME_RUN}")
    return answer if answer and not answer.startswith(_ANOTHER_RUN) else None


def meanwhile_of(fault: BevelbookError | None) -> str:
    """The runs that a line was asked about, as it sends them back."""
    return " ".join(fault.runs) if isinstance(fault, RunsMeanwhileQuestion) else ""


def ask_about_meanwhile(
    connection: sqlite3.Connection, form: TypedForm, day: str, car: str | None, drawn: Collection[str], place: int
) -> None:
    """Raise RunsMeanwhileQuestion where runs of that day and car were stored since the line's sheet was drawn, and
    nobody has said that the line is another run.

    ``drawn`` are the runs that are lines of the sheet; ``place`` counts the line among the new ones, from 0.
    """
    before = set(form.text(MEANWHILE).split())
    answer = form.text(f"{ANSWER}{_SAME_RUN}")
    others = set(answer.removeprefix(_ANOTHER_RUN).split()) if answer.startswith(_ANOTHER_RUN) else set()
    runs = connection.execute(_RUNS, (day, car)).fetchall()
    found = [run for run in runs if run["id"] not in others and (run["id"] in before or run["id"] not in drawn)]
    if not found:
        return
    texts = {run["id"]: stored_texts(connection, _RUN, run["id"]) for run in found}
    at = {run["id"]: number for number, run in enumerate(found)}

    def unlike(run: sqlite3.Row) -> tuple[int, int]:
        stored = texts[run["id"]]
        typed = [name for name in stored if form.text(name)]
        return sum(form.text(name) != stored[name] for name in typed) - len(typed), abs(at[run["id"]] - place)

    offered = sorted(found, key=unlike)[:_MOST]
    named = "; ".join(_words(connection, run, texts[run["id"]]) for run in offered)
    ids = " ".join([*sorted(others), *(run["id"] for run in found)])
    question = RunsMeanwhileQuestion(
        f"stored since this sheet was opened: {named}. You typed {_typed_words(form)}. The same run, or another one?",
        code="stored_meanwhile",
        field=_SAME_RUN,
        found=str(offered[0]["label"]),
        answers=[
            *(Way(run["id"], f"The same run: {run['label']}") for run in offered),
            Way(f"{_ANOTHER_RUN}{ids}", "Another run: store it too"),
        ],
    )
    question.runs = tuple(run["id"] for run in found)
    raise question


def _words(connection: sqlite3.Connection, run: sqlite3.Row, texts: Mapping[str, str]) -> str:
    values = figures_in_words(texts)
    return f"run {run['label']} by {run['updated_by'] or 'somebody'}{f' ({values})' if values else ''}"


def _typed_words(form: TypedForm) -> str:
    return figures_in_words({name: form.text(name) for name in FIGURES}) or "something else"
