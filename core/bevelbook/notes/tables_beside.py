"""Another table beside the one that is read, behind a column without heading and cells: asked about."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import groupby
from typing import Final

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Column, Heading, beside
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.row_words import filled_cells
from bevelbook.notes.table import Block
from bevelbook.notes.wording import typed_with
from bevelbook.reading.faults import trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

_SAMPLES: Final = 3


def check_beside(heading: Heading, said: Collection[str], blocks: Iterator[Block], line: int) -> None:
    """Raise FileRejected (table_beside) if columns behind an empty one seem to be another table: one of them is not
    known, or a row has cells there alone. ``said`` are the headings, folded, of which a person said what they mean.
    """
    groups = list(_groups(heading))
    main = next((group for group in groups if _names(group) & set(REQUIRED_COLUMNS)), None)
    others = [
        group
        for group in groups
        if group is not main and len(group) >= 2 and any(one.field and folded(one.heading) not in said for one in group)
    ]
    if main is None or not others:
        return
    blanks = {one.place for one in heading.columns if not one.heading}
    own = {one.place for one in main}
    filled: set[int] = set()
    alone: set[int] = set()
    samples: dict[int, list[str]] = {one.place: [] for group in others for one in group}
    for block in blocks:
        for row in block.rows:
            cells = filled_cells(row)
            filled |= blanks & cells.keys()
            if not own & cells.keys():
                alone |= cells.keys()
            for place in samples.keys() & cells.keys():
                if len(samples[place]) < _SAMPLES:
                    samples[place].append(trimmed(row[place]))
    for group in others:
        places = {one.place for one in group}
        between = range(min(max(own), max(places)) + 1, max(min(own), min(places)))
        is_split = any(place in blanks - filled for place in between)
        if is_split and (alone & places or any(one.field is None and not one.is_ignored for one in group)):
            raise _refusal(group, said, samples, line)


def _groups(heading: Heading) -> Iterator[list[Column]]:
    """The columns of the file with a heading, in groups with a column without one between them."""
    own = [one for one in heading.columns[: len(heading.columns) - heading.added] if not beside(one)]
    for is_named, group in groupby(own, key=lambda one: bool(one.heading)):
        if is_named:
            yield list(group)


def _names(columns: Sequence[Column]) -> set[str]:
    return {one.field.name for one in columns if one.field}


def _refusal(group: Sequence[Column], said: Collection[str], samples: dict[int, list[str]], line: int) -> FileRejected:
    asked = [one for one in group if one.field and folded(one.heading) not in said]
    first = asked[0]
    assert first.field is not None
    yes, no = (f'"{first.heading}={name}"' for name in (first.field.name, "ignore"))
    return rejected(
        "table_beside",
        f"columns {group[0].place + 1} to {group[-1].place + 1} may be another table: a column without heading and "
        "cells is between",
        line=line,
        found=", ".join(one.heading for one in group),
        remedy=f"Say that they belong to the rows beside ({typed_with(ReadingOption.COLUMNS, yes)}), or leave them "
        f"out ({typed_with(ReadingOption.COLUMNS, no)}){', each of them' if len(asked) > 1 else ''}.",
        questions=tuple(
            FileQuestion(
                ReadingOption.COLUMNS,
                f'Does the column "{one.heading}" belong to the same rows as the days and diffs beside it?',
                (
                    PossibleAnswer(f"{one.heading}={one.field.name}", f"yes: {one.field.words}"),
                    PossibleAnswer(f"{one.heading}=ignore", "no, it is another table: leave it out"),
                ),
                about=one.heading,
                samples=tuple(samples[one.place]),
            )
            for one in asked
            if one.field
        ),
    )
