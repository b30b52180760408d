"""The id of each staged row: that of its records without their last digit."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, NamedTuple

from bevelbook.notes.bulk import day_part, note_id
from bevelbook.notes.staging import Stage


class StagedNote(NamedTuple):
    """A staged row with its id; ``occurrence`` is its number among equal rows, from 0."""

    line: int
    row: tuple[Any, ...]
    note: str
    occurrence: int


def notes_of(stage: Stage, days: Collection[str] | None = None) -> Iterator[StagedNote]:
    """The rows of a stage by day, then line; only those of ``days``, if given."""
    day = ids = ""
    seen: dict[str, int] = {}
    content_of = stage.content
    for line, row in stage.in_order(days):
        if row[0] != day:
            day, ids = row[0], day_part(row[0])
            seen.clear()
        content = content_of(row)
        occurrence = seen.get(content, 0)
        seen[content] = occurrence + 1
        yield StagedNote(line, row, note_id(ids, content, occurrence), occurrence)
