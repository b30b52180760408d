"""What an import asks on a terminal: what the file leaves open, one question at a time, and whether to bring it in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_text
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.printable import printable
from bevelbook.display.line_width import line_width
from bevelbook.display.wrapping import wrapped_words
from bevelbook.notes.headings import IGNORED, folded
from bevelbook.reading.options import ReadingOption

if TYPE_CHECKING:
    from bevelbook.notes.importing import ReadFile
    from bevelbook.notes.questions import FileQuestion
    from bevelbook.notes.report import Report
    from bevelbook.notes.settings import Settings
    from bevelbook.notes.staging import Stage

_WIDTH: Final = 79
_LONGEST_SAMPLE: Final = 60
_SHOWN_REJECTED: Final = 5


class NotWantedError(Exception):
    """The person does not want the rows."""


class ReadAgainError(Exception):
    """The file has questions: it is read again with the answers."""

    def __init__(self, questions: Sequence[FileQuestion], columns: Mapping[str, str]) -> None:
        super().__init__("the file has questions")
        self.questions = questions
        self.columns = columns


class ImportQuestions:
    """Asks what a file leaves open, each question once, and keeps the settings with the answers so far.

    With ``only_needed`` nothing is asked that can be left open, since a profile says what a person wants to say.
    """

    def __init__(self, settings: Settings, *, only_needed: bool, dry: bool) -> None:
        self.settings = settings
        self.only_needed = only_needed
        self.dry = dry
        self.answered: list[tuple[FileQuestion, str]] = []
        self._asked: set[tuple[ReadingOption, str, str]] = set()

    @property
    def headings(self) -> dict[str, str]:
        """The headings asked about as they are written, by those of the settings."""
        of_columns = [pair for pair in self.answered if pair[0].option is not ReadingOption.CONSTANT]
        pairs = [(value.rpartition("=")[0] or one.about) for one, value in of_columns]
        return {folded(heading): heading for heading in pairs if heading}

    def open_ones(self, questions: Iterable[FileQuestion]) -> list[FileQuestion]:
        """The questions that are still to be asked."""
        left = {
            _key(one): one
            for one in questions
            if one.answers and _key(one) not in self._asked and (one.is_needed or not self.only_needed)
        }
        return [*left.values()]

    def ask(self, questions: Iterable[FileQuestion], columns: Mapping[str, str]) -> None:
        """Ask each question and take the answers into the settings. Raises Abort where the person stops."""
        taken: set[str] = set()
        for question in questions:
            self._asked.add(_key(question))
            answer = _answer(question, taken)
            if answer is None:
                continue
            self.settings = self.settings.answered(question, answer, columns)
            self.answered.append((question, answer))
            if question.option is ReadingOption.COLUMNS:
                taken.add(answer.rpartition("=")[2])

    def settle_refusal(self, report: Report) -> bool:
        """Ask what a refused file needs; False where there is nothing more to ask.

        One at a time: with its answer the file is read again, and may have other questions.
        """
        from bevelbook.notes.report import REASONS

        questions = self.open_ones(report.questions)
        if not questions:
            return False
        if not self._asked:
            print_text(f"{report.file}: {REASONS.get(report.file_reason or '', 'not imported')}", err=True)
        self.ask(questions[:1], {})
        return True

    def before_writing(self, parts: Sequence[ReadFile]) -> None:
        """Where questions are left, ask for another reading; else show the first rows and ask whether to bring them in.

        Raises ReadAgainError, NotWantedError, and Abort where the person stops.
        """
        columns: dict[str, str] = {}
        for part in parts:
            columns |= part.report.columns
        questions = self.open_ones(one for part in parts for one in part.report.questions)
        if questions:
            raise ReadAgainError(questions, columns)
        if not self._asked:
            return
        for part in parts:
            part.report.questions = []
            _show_first(part.report, part.stage)
        if not self.dry and not click.confirm("Bring them in?", default=False, err=True):
            raise NotWantedError


def _key(question: FileQuestion) -> tuple[ReadingOption, str, str]:
    return question.option, question.about, question.words


def _answer(question: FileQuestion, taken: set[str]) -> str | None:
    """The value of the answer that a person gives; None if the question is left open.

    ``taken`` are the fields of columns that were just answered, which no other column can be.
    """
    answers = [one for one in question.answers if one.value.rpartition("=")[2] not in taken - {IGNORED}]
    if not answers:
        return None
    _show(question.words)
    if question.samples:
        samples = (" ".join(cell.split())[:_LONGEST_SAMPLE] for cell in question.samples)
        _show(f"for example {', '.join(samples)}", "  ")
    for number, one in enumerate(answers, start=1):
        _show(one.words, f"  {number:>2}  ")
    numbers = "1" if len(answers) == 1 else f"1 to {len(answers)}"
    other = _TYPED_INSTEAD.get(question.option, "") if question.about or question.option in _OF_THE_FILE else ""
    is_yes_or_no = [one.value for one in answers] == ["true"]
    refusal = ("n for no" if is_yes_or_no else "none of these: 0") if question.may_be_none else ""
    last = "stop" if question.is_needed else "only Enter to leave it open"
    ways = ", or ".join(way for way in (f"{numbers} or y" if is_yes_or_no else numbers, refusal, other, last) if way)

    def value_of(text: str) -> str:
        typed = text.strip()
        if not typed and not question.is_needed:
            return ""
        if question.is_needed and typed.casefold() == _STOP:
            raise NotWantedError
        if question.may_be_none and typed.casefold() in (_NO if is_yes_or_no else _NONE):
            return ""
        if is_yes_or_no and typed.casefold() in _YES:
            return answers[0].value
        if typed.isascii() and typed.isdecimal() and 1 <= int(typed) <= len(answers):
            return answers[int(typed) - 1].value
        named = next((one.value for one in answers if one.value.casefold() == typed.casefold()), None)
        value = named or (_typed_instead(question, typed) if typed and other else None)
        if value is None:
            raise click.UsageError(f"type {ways}")
        return value

    return str(click.prompt(f"Which ({ways})", default="", show_default=False, value_proc=value_of, err=True)) or None


def _show(text: str, before: str = "") -> None:
    """Print a text on standard error; further lines are indented like the first."""
    lines = wrapped_words(text, min(_WIDTH, line_width()) - len(before))
    print_text(
        "\n".join(f"{before if not place else ' ' * len(before)}{line}" for place, line in enumerate(lines)), err=True
    )


_STOP: Final = "stop"
_YES: Final = ("y", "yes")
_NO: Final = ("n", "no", "0")
_NONE: Final = ("0", "none")
_OF_THE_FILE: Final = (ReadingOption.CONSTANT,)
_TYPED_INSTEAD: Final = {
    ReadingOption.COLUMNS: "the name of another field",
    ReadingOption.YEAR: "another year",
    ReadingOption.CONSTANT: "another name",
}
"""What may be typed in place of a number: an answer that is not listed."""


def _typed_instead(question: FileQuestion, typed: str) -> str | None:
    if question.option is ReadingOption.CONSTANT:
        return f"{question.answers[0].value.partition('=')[0]}={typed}"
    if question.option is ReadingOption.YEAR:
        return (
            typed if len(typed) == 4 and typed.isascii() and typed.isdecimal() and typed[:2] in ("19", "20") else None
        )
    from bevelbook.notes.headings import own_map

    try:
        own_map([(question.about, typed)])
    except BevelbookError as fault:
        print_text(printable(fault.without_place()), err=True)
        return None
    return f"{question.about}={typed}"


def _show_first(report: Report, stage: Stage) -> None:
    from bevelbook.notes.first_rows import SHOWN_ROWS, first_row_lines

    rows = counted(report.accepted, "row")
    print_text(f"{report.file}: {rows} to bring in, {report.rejected} rejected, {report.skipped} skipped.", err=True)
    for one in report.rejections[:_SHOWN_REJECTED]:
        where = f"line {one.line}" + (f", {one.column}" if one.column else "")
        _show(f"{where}: {one.reason}" + (f" {' '.join(one.value.split())}" if one.value else ""), "  rejected ")
    if report.accepted:
        shown = "The row" if report.accepted == 1 else f"The first {min(report.accepted, SHOWN_ROWS)}"
        print_text(
            f"{shown} as it would be stored:" if report.accepted == 1 else f"{shown} as they would be stored:", err=True
        )
    for line in first_row_lines(stage):
        print_text(line, err=True)
