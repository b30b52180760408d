"""Rows of a sheet that look like an earlier one, changed: what an option says, or what a person answers."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_text
from bevelbook.cli.asking import choose
from bevelbook.declare.errors import InputError, Place
from bevelbook.notes.changed_alike import changed_alike

if TYPE_CHECKING:
    from bevelbook.notes.changed_rows import Answer, ChangedRow, Decide

_SHOWN: Final = 20
_ANSWERS: Final[dict[str, tuple[str, Answer]]] = {
    "c": ("change the earlier row", "change"),
    "n": ("take it as a new row", "new"),
    "l": ("leave it out", "leave"),
}
_ONE_BY_ONE: Final = "e"


def deciding(take_changes: bool, as_new: bool, *, may_ask: bool) -> Decide | None:
    """What answers for such rows: an option, else the person at the terminal, else nobody. Raises UsageError for both
    options."""
    if take_changes and as_new:
        raise click.UsageError("Give --take-changes or --as-new, not both.")
    if take_changes or as_new:
        answer: Answer = "change" if take_changes else "new"
        return lambda rows: {row.line: answer for row in rows}
    return _ask if may_ask and sys.stdin.isatty() else None


def _ask(rows: Sequence[ChangedRow]) -> Mapping[int, Answer]:
    """Ask about all rows at once, or about each."""
    words = {key: said for key, (said, _) in _ANSWERS.items()}
    if len(rows) == 1:
        return {rows[0].line: _answer(f"Line {rows[0].line} {rows[0].words()}", words)}
    alike = changed_alike(rows)
    if alike:
        print_text(f"{alike}.", err=True)
    for row in rows[: 1 if alike else _SHOWN]:
        print_text(f"  line {row.line} {row.words()}", err=True)
    if len(rows) > _SHOWN and not alike:
        print_text(f"  and {len(rows) - _SHOWN} more", err=True)
    question = f"{len(rows)} rows look like earlier ones, changed. For all of them:"
    key = choose(question, {**words, _ONE_BY_ONE: "ask for each"}, in_a_script=_unanswered())
    if key != _ONE_BY_ONE:
        return {row.line: _ANSWERS[key][1] for row in rows}
    return {row.line: _answer(f"Line {row.line} {row.words()}", words) for row in rows}


def _answer(question: str, words: Mapping[str, str]) -> Answer:
    return _ANSWERS[choose(question, words, in_a_script=_unanswered())][1]


def _unanswered() -> InputError:
    return InputError(
        "rows look like earlier ones, changed",
        code="looks_changed",
        place=Place(column="--take-changes, --as-new"),
        remedy="Say which of the two.",
    )
