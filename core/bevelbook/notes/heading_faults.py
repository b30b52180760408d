"""What is wrong with a heading once its columns are understood, and what would settle it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import IGNORED, Column, Heading
from bevelbook.notes.meanings import Unclear, Understanding
from bevelbook.notes.note_columns import BY_NAME, REQUIRED_COLUMNS
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.wording import IMPORT_OPTIONS, heading_typed, mapped, typed, with_option
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

_MOST_NAMES: Final = 3


def check_likely(understanding: Understanding, line: int) -> None:
    """Raise FileRejected (no_heading) with what is proposed, if a row that only looks like a heading does not name day
    and diff."""
    missing = [name for name in REQUIRED_COLUMNS if name not in understanding.heading.known]
    if missing:
        fault = _missing(missing, understanding, line)
        raise rejected(
            "no_heading",
            "no row has known headings; this one looks most like it",
            line=line,
            found=", ".join(column.heading for column in understanding.heading.columns if column.heading),
            remedy=f"{fault.remedy} If another line has them: {typed(ReadingOption.HEADER_LINE)}. "
            "'bevelbook import --template' prints an empty sheet.",
            questions=fault.questions,
        )


def check_heading(understanding: Understanding, line: int) -> None:
    """Raise FileRejected if two columns have the same name or meaning, if day or diff is missing, or if the only
    columns of oil or masses were not understood."""
    heading = understanding.heading
    _check_twice(heading, line)
    missing = [name for name in REQUIRED_COLUMNS if name not in heading.known]
    if missing:
        raise _missing(missing, understanding, line)
    if understanding.is_without_oil or understanding.half_pair:
        columns = [*understanding.half_pair] or [one for one in understanding.unclear if one.is_oil_or_mass]
        proposed = [mapped(one.column.heading, one.proposal) for one in columns if one.proposal]
        ignored = " ".join(mapped(one.column.heading, IGNORED) for one in columns)
        raise rejected(
            "columns_unknown",
            "only one of dry and total mass was understood"
            if understanding.half_pair
            else "no column of oil or masses was understood",
            line=line,
            found=", ".join(one.column.heading for one in columns),
            remedy=f"{_proposed(proposed)}Say what they are with {typed(ReadingOption.COLUMNS)}, or leave them out: "
            f"{ignored}.",
            questions=understanding.questions(are_needed=True),
        )


def _check_twice(heading: Heading, line: int) -> None:
    seen: dict[str, Column] = {}
    for column in heading.columns:
        if not column.heading:
            continue
        for key in {column.heading.casefold(), f"\0{column.field.name}" if column.field else column.heading.casefold()}:
            if key in seen:
                first = seen[key]
                is_other = folded(first.heading) != folded(column.heading)
                ways = f"Leave one out, such as {mapped(column.heading, IGNORED)}, or rename it." if is_other else None
                raise rejected(
                    "duplicate_header",
                    f"columns {first.place + 1} and {column.place + 1} mean the same thing",
                    line=line,
                    found=f"{first.heading}, {column.heading}" if is_other else column.heading,
                    remedy=ways or "Rename or delete one of them.",
                    questions=_which_of(first, column) if is_other else (),
                )
            seen[key] = column


def _which_of(first: Column, second: Column) -> tuple[FileQuestion, ...]:
    """The question which of two columns is left out."""
    assert second.field is not None
    answers = (
        PossibleAnswer(f"{second.heading}={IGNORED}", f'the column "{first.heading}"'),
        PossibleAnswer(f"{first.heading}={IGNORED}", f'the column "{second.heading}"'),
    )
    return (FileQuestion(ReadingOption.COLUMNS, f"Which column is the {second.field.words}?", answers),)


def _missing(missing: Sequence[str], understanding: Understanding, line: int) -> FileRejected:
    """What is said where the day or the diff has no column."""
    unclear = understanding.unclear
    proposed = [mapped(one.column.heading, one.proposal) for one in unclear if one.proposal]
    questions = [
        FileQuestion(
            ReadingOption.COLUMNS,
            f"Which column is the {BY_NAME[name].words}?",
            tuple(
                PossibleAnswer(f"{one.column.heading}={name}", _with_samples(one))
                for one in _that_may_be(name, unclear)
            ),
            may_be_none=name == "diff",
        )
        for name in missing
    ]
    return rejected(
        "missing_required",
        f"no column for {' and '.join(missing)}",
        line=line,
        found=", ".join(one.column.heading for one in unclear) or None,
        remedy=_proposed(proposed)
        + with_option(
            None, ReadingOption.COLUMNS, heading_typed(_only_one_that_may_be(missing[0], unclear), missing[0])
        )
        + f" Or give one for the whole file: {IMPORT_OPTIONS[ReadingOption.CONSTANT].name} "
        f"{missing[0]}={'K-01' if missing[0] == 'diff' else '2026-05-03'}.",
        questions=tuple(question for question in questions if question.answers),
    )


def whose_sheet(file: str, titles: Sequence[str]) -> FileQuestion:
    """The question which diff a sheet without a column of diffs is of, with its file's name and the titles above it."""
    names = dict.fromkeys(name for name in (file.rpartition(".")[0] or file, *titles) if name.strip())
    answers = tuple(PossibleAnswer(f"diff={name}", f'"{name}", for all its rows') for name in [*names][:_MOST_NAMES])
    return FileQuestion(ReadingOption.CONSTANT, "Which diff is this sheet of?", answers)


def _that_may_be(name: str, unclear: Sequence[Unclear]) -> list[Unclear]:
    """The columns that may be the missing one, those that are proposed first."""
    found = [one for one in unclear if name in one.candidates and one.proposal in (None, name)]
    return sorted(found, key=lambda one: one.proposal != name)


def _only_one_that_may_be(name: str, unclear: Sequence[Unclear]) -> str:
    """The heading of the only column that may be the missing one, if nothing is proposed for it; else HEADING. Words
    alone are hardly the names of diffs."""
    found = [one for one in _that_may_be(name, unclear) if any(map(_has_digit, one.samples))]
    return found[0].column.heading if len(found) == 1 and found[0].proposal is None else "HEADING"


def _has_digit(text: str) -> bool:
    return any(map(str.isdigit, text))


def _with_samples(one: Unclear) -> str:
    return f'the column "{one.column.heading}": {", ".join(one.samples)}'


def _proposed(maps: Sequence[str]) -> str:
    """The sentence that proposes a map, and how to take it; empty where there is none."""
    if not maps:
        return ""
    return f"Proposed: {' '.join(maps)} ({typed(ReadingOption.PROPOSALS)} takes {'it' if len(maps) == 1 else 'all'}). "
