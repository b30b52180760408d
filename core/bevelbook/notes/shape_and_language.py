"""What a refused sheet may be instead: one with a column for each race day, or one in another language."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from typing import Final

from bevelbook.notes.bundled_profiles import LANGUAGES, language_profile
from bevelbook.notes.decoding import FileRejected
from bevelbook.notes.fitting import fits
from bevelbook.notes.headings import matched
from bevelbook.notes.meanings import field_answer
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.table import long_cells
from bevelbook.notes.wording import typed, with_profile
from bevelbook.reading.options import ReadingOption

_FEWEST: Final = 3
"""Headings that have to be known, to say so."""
_MOST_ROWS: Final = 200


def with_other_shape(fault: FileRejected, sample: str, delimiter: str, own: Mapping[str, str]) -> FileRejected:
    """The fault, with the question whether each column is a row of notes in place of its own, where the first column
    has the headings: ``sample`` is the text from its start."""
    try:
        with long_cells():
            rows = list(csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter))[:_MOST_ROWS]
    except csv.Error:
        return fault
    first = [matched(row[0], 0, own) for row in rows if row]
    fields = {column.field.name for column in first if column.field}
    if not fields.issuperset(REQUIRED_COLUMNS) or len(fields) < _FEWEST:
        return fault
    fault.remedy = f"The headings are in the first column, one column for each day: {typed(ReadingOption.TRANSPOSE)}."
    words = "The headings are in the first column. Is each of the other columns a row of notes?"
    fault.questions = (FileQuestion(ReadingOption.TRANSPOSE, words, (PossibleAnswer("true", "yes, one a day"),)),)
    return fault


def with_language(fault: FileRejected, cells: Sequence[str], own: Mapping[str, str]) -> FileRejected:
    """The fault, with the profile of the language that knows more of these headings than are known without it."""
    known = {name: _known(cells, language_profile(code).columns) for name, code in LANGUAGES.items()}
    best = max(known, key=lambda name: known[name])
    if known[best] >= _FEWEST and known[best] > _known(cells, own):
        fault.language = best
        fault.remedy = f"The headings look {best.capitalize()}: {with_profile(best)}. {fault.remedy or ''}".rstrip()
    return fault


def asked_in_languages(questions: Sequence[FileQuestion], known: Collection[str]) -> tuple[FileQuestion, ...]:
    """The questions about columns, each with the fields that its heading means in another language as first answers,
    where its cells fit and no column has that field: ``known`` are those that have one."""
    return tuple(_asked_in_languages(one, known) for one in questions)


def _asked_in_languages(question: FileQuestion, known: Collection[str]) -> FileQuestion:
    meant: dict[str, None] = {}
    for code in LANGUAGES.values():
        field = matched(question.about, 0, language_profile(code).columns).field
        if field is not None and field.name not in known and fits(field.name, None, question.samples):
            meant[field.name] = None
    others = [one for one in question.answers if one.value not in meant]
    return question._replace(answers=(*map(field_answer, meant), *others))


def _known(cells: Sequence[str], own: Mapping[str, str]) -> int:
    return sum(1 for cell in cells if cell and matched(cell, 0, own).is_known)
