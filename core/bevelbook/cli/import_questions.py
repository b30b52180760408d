"""What an import asks on a terminal: what the file leaves open, one question at a time, and whether to bring it in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_text
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.printable import printable
from bevelbook.display.line_width import line_width
from bevelbook.display.wrapping import wrapped_words
from bevelbook.notes.file_answers import FileAnswers, StillOpen, is_yes_or_no, typed_instead, value_typed

if TYPE_CHECKING:
    from bevelbook.notes.importing import ReadFile
    from bevelbook.notes.questions import FileQuestion, PossibleAnswer
    from bevelbook.notes.report import Report
    from bevelbook.notes.settings import Settings
    from bevelbook.notes.staging import Stage

_WIDTH: Final = 79
_LONGEST_SAMPLE: Final = 60
_SHOWN_REJECTED: Final = 5


class NotWantedError(Exception):
    """The person does not want the rows."""


class ImportQuestions(FileAnswers):
    """Asks on the terminal what a file leaves open; ``dry`` where nothing is to be written."""

    def __init__(self, settings: Settings, *, only_needed: bool, dry: bool) -> None:
        super().__init__(settings, only_needed=only_needed)
        self.dry = dry

    def ask(self, left: StillOpen) -> None:
        """Ask each question and take the answers into the settings. Raises Abort where the person stops."""
        from bevelbook.notes.report import REASONS

        if left.refused is not None and not self.has_asked:
            reason = REASONS.get(left.refused.file_reason or "", "not imported")
            print_text(f"{left.refused.file}: {reason}", err=True)
        for question in left.questions:
            answers = self.answers_to(question)
            self.take(question, _answer(question, answers) if answers else None, left.columns)

    def ask_for_them(self, parts: Sequence[ReadFile]) -> None:
        """Show the first rows and the names that are new, and ask whether to bring them in.

        Raises NotWantedError, and Abort where the person stops.
        """
        for part in parts:
            part.report.questions = []
            _show_first(part.report, part.stage)
        if not self.dry and not click.confirm("Bring them in?", default=False, err=True):
            raise NotWantedError


def _answer(question: FileQuestion, answers: Sequence[PossibleAnswer]) -> str | None:
    """The value of the answer that a person gives; None if the question is left open."""
    _show(question.words)
    if question.samples:
        samples = (" ".join(cell.split())[:_LONGEST_SAMPLE] for cell in question.samples)
        _show(f"for example {', '.join(samples)}", "  ")
    for number, one in enumerate(answers, start=1):
        _show(one.words, f"  {number:>2}  ")
    numbers = "1" if len(answers) == 1 else f"1 to {len(answers)}"
    is_yes = is_yes_or_no(answers)
    refusal = ("n for no" if is_yes else "none of these: 0") if question.may_be_none else ""
    last = "stop" if question.is_needed else "only Enter to leave it open"
    given = (f"{numbers} or y" if is_yes else numbers, refusal, typed_instead(question), last)
    ways = ", or ".join(way for way in given if way)

    def value_of(text: str) -> str:
        typed = text.strip()
        if not typed and not question.is_needed:
            return ""
        if question.is_needed and typed.casefold() == _STOP:
            raise NotWantedError
        if question.may_be_none and typed.casefold() in (_NO if is_yes else _NONE):
            return ""
        if is_yes and typed.casefold() in _YES:
            return answers[0].value
        if typed.isascii() and typed.isdecimal() and 1 <= int(typed) <= len(answers):
            return answers[int(typed) - 1].value
        try:
            value = value_typed(question, answers, typed)
        except BevelbookError as fault:
            print_text(printable(fault.without_place()), err=True)
            value = None
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


def _show_first(report: Report, stage: Stage) -> None:
    from bevelbook.notes.first_rows import SHOWN_ROWS, first_row_lines
    from bevelbook.notes.new_names import new_name_lines

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
    for line in new_name_lines(report.new_names):
        _show(line)
