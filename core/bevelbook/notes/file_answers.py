"""What a file leaves open and what each answer does, for whatever asks a person: a terminal, or a page.

A file is read with the settings so far; what it then leaves open is asked, and it is read again, until nothing is left.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from bevelbook.notes.headings import IGNORED, own_map
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

if TYPE_CHECKING:
    from bevelbook.notes.importing import ReadFile
    from bevelbook.notes.report import Report
    from bevelbook.notes.settings import Settings

_TYPED_INSTEAD: Final = {
    ReadingOption.COLUMNS: "the name of another field",
    ReadingOption.YEAR: "another year",
    ReadingOption.CONSTANT: "another name",
}
_OF_THE_FILE: Final = (ReadingOption.CONSTANT,)
_CENTURIES: Final = ("19", "20")


class ReadAgainError(Exception):
    """The file has questions: it is read again with the answers."""

    def __init__(self, questions: Sequence[FileQuestion], columns: Mapping[str, str]) -> None:
        super().__init__("the file has questions")
        self.questions = questions
        self.columns = columns


class StillOpen(NamedTuple):
    """What a reading left open: the questions to ask before the next one, the fields by heading where they are known,
    and the report where the file cannot be read without an answer."""

    questions: Sequence[FileQuestion]
    columns: Mapping[str, str] = {}
    refused: Report | None = None


class FileAnswers:
    """What a person answered about a file, each question once, with the settings that follow.

    With ``only_needed`` nothing is asked that can be left open, since a profile says what a person wants to say.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        only_needed: bool = False,
        before: Iterable[tuple[FileQuestion, str | None]] = (),
    ) -> None:
        """``before`` are the questions asked already, each with its answer, which is in the settings; None where it was
        left open."""
        self.settings = settings
        self.only_needed = only_needed
        self.asked = [*before]

    @property
    def has_asked(self) -> bool:
        """Whether anything was asked yet, also where it was left open."""
        return bool(self.asked)

    @property
    def answered(self) -> list[tuple[FileQuestion, str]]:
        """The questions that were answered, each with the value of its answer."""
        return [(question, value) for question, value in self.asked if value is not None]

    @property
    def headings(self) -> dict[str, str]:
        """The headings asked about as they are written, by those of the settings."""
        of_columns = [pair for pair in self.answered if pair[0].option is not ReadingOption.CONSTANT]
        pairs = [(value.rpartition("=")[0] or one.about) for one, value in of_columns]
        return {folded(heading): heading for heading in pairs if heading}

    def open_ones(self, questions: Iterable[FileQuestion]) -> list[FileQuestion]:
        """The questions that are still to be asked."""
        asked = {question.key for question, _ in self.asked}
        left = {
            one.key: one
            for one in questions
            if one.answers and one.key not in asked and (one.is_needed or not self.only_needed)
        }
        return [*left.values()]

    def answers_to(self, question: FileQuestion) -> list[PossibleAnswer]:
        """Its answers, without fields of columns that another one was said to be; none where nothing is left to ask."""
        taken = {value.rpartition("=")[2] for one, value in self.answered if one.option is ReadingOption.COLUMNS}
        return [one for one in question.answers if one.value.rpartition("=")[2] not in taken - {IGNORED}]

    def take(self, question: FileQuestion, value: str | None, columns: Mapping[str, str]) -> None:
        """Take an answer into the settings; None leaves the question open. Raises UnknownNameError."""
        if value is not None:
            self.settings = self.settings.answered(question, value, columns)
        self.asked.append((question, value))

    def look_before_writing(self, parts: Sequence[ReadFile]) -> None:
        """Where the parts of the file leave questions, ask for another reading. Raises ReadAgainError."""
        columns: dict[str, str] = {}
        for part in parts:
            columns |= part.report.columns
        questions = self.open_ones(one for part in parts for one in part.report.questions)
        if questions:
            raise ReadAgainError(questions, columns)


def read_or_ask(read: Callable[[Settings], list[Report]], answers: FileAnswers) -> list[Report] | StillOpen:
    """The reports of a reading, or what is to be asked before the next one.

    ``read`` calls :meth:`FileAnswers.look_before_writing` before it writes. Of a refused file one question is asked at
    a time: read with its answer, it may have others.
    """
    try:
        reports = read(answers.settings)
    except ReadAgainError as left:
        return StillOpen(left.questions, left.columns)
    if reports and reports[0].outcome == "rejected":
        questions = answers.open_ones(reports[0].questions)
        if questions:
            return StillOpen(questions[:1], refused=reports[0])
    return reports


def typed_instead(question: FileQuestion) -> str:
    """What may be typed in place of a listed answer, in words; empty where nothing may."""
    return _TYPED_INSTEAD.get(question.option, "") if question.about or question.option in _OF_THE_FILE else ""


def is_yes_or_no(answers: Sequence[PossibleAnswer]) -> bool:
    """Whether the only answer is yes."""
    return [one.value for one in answers] == ["true"]


def value_typed(question: FileQuestion, answers: Sequence[PossibleAnswer], typed: str) -> str | None:
    """The value of what was typed: a listed answer by its value, or what may be typed in its place; None for neither.

    Raises UnknownNameError for a field that does not exist.
    """
    named = next((one.value for one in answers if one.value.casefold() == typed.casefold()), None)
    if named is not None or not typed or not typed_instead(question):
        return named
    if question.option is ReadingOption.CONSTANT:
        return f"{question.answers[0].value.partition('=')[0]}={typed}"
    if question.option is ReadingOption.YEAR:
        is_year = len(typed) == 4 and typed.isascii() and typed.isdecimal() and typed[:2] in _CENTURIES
        return typed if is_year else None
    own_map([(question.about, typed)])
    return f"{question.about}={typed}"
