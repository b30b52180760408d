"""The id of each staged row: that of its records without their last digit."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.notes.bulk import day_part, note_id, note_ids
from bevelbook.notes.staging import Stage

_ROWS_OF_A_BLOCK: Final = 1_000


class StagedNote(NamedTuple):
    """A staged row with its id; ``occurrence`` is its number among equal rows, from 0."""

    line: int
    row: tuple[Any, ...]
    note: str
    occurrence: int


class NotesInBlocks:
    """The ids of staged rows, block by block in the order of days, then lines."""

    def __init__(self, stage: Stage) -> None:
        self._content_of = stage.content
        self._day_parts: dict[str, str] = {}
        self._day = ""
        self._seen: dict[str, int] = {}
        """How often the rows of the day in progress came, by the id of the first of equal ones."""

    def of(self, days: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> tuple[list[str], list[int]]:
        """The ids of the rows of a block, and the number of each among equal rows of its day."""
        for day in set(days) - self._day_parts.keys():
            self._day_parts[day] = day_part(day)
        contents = list(map(self._content_of, rows))
        parts = list(map(self._day_parts.__getitem__, days))
        first = note_ids(parts, contents)
        if days[0] != self._day:
            self._seen.clear()
        notes, occurrences = first, [0] * len(first)
        if len(set(first)) < len(first) or not self._seen.keys().isdisjoint(first):
            notes = first.copy()
            for place, note in enumerate(first):
                occurrence = self._seen.get(note, 0)
                self._seen[note] = occurrence + 1
                if occurrence:
                    notes[place] = note_id(parts[place], contents[place], occurrence)
                    occurrences[place] = occurrence
        else:
            self._seen.update(dict.fromkeys(first, 1))
        self._day = days[-1]
        if days[0] != self._day:
            of_day = first[bisect_left(days, self._day) :]
            self._seen = {note: self._seen[note] for note in of_day}
        return notes, occurrences


def notes_of(stage: Stage, days: Collection[str] | None = None) -> Iterator[StagedNote]:
    """The rows of a stage by day, then line; only those of ``days``, if given."""
    in_blocks = NotesInBlocks(stage)
    for block in stage.in_blocks(_ROWS_OF_A_BLOCK, days):
        lines, rows = zip(*block, strict=True)
        yield from map(StagedNote, lines, rows, *in_blocks.of([row[0] for row in rows], rows))
