"""The number of a run behind its day, ``2024-04-06 run 2``, as the run's place in the day.

One word counts runs in one file: which of a session 1 and a heat 1 was first, their numbers do not say. So cells with
another word than the first rows have stay as they are, and are refused as days.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.headings import Heading
from bevelbook.notes.table import Block, Row
from bevelbook.reading.faults import trimmed

ORDER: Final = "day_order"
_WORD: Final = r"(?P<word>run|heat|session|stint|outing)\s*(?:no\.?\s*|#\s*)?(?P<number>[0-9]{1,2})"
_BEHIND_DAY: Final = late_pattern(rf"(?P<day>[^0-9\n]*+[0-9](?:.*?[^\s,;(])?)[\s,;(]++{_WORD}\)?", re.IGNORECASE)
_ALONE: Final = late_pattern(_WORD, re.IGNORECASE)


class HeatsBesideDays:
    """Cuts the number of the run from the cells of the days, and writes it into the column of its place in the day."""

    def __init__(self, heading: Heading, word: str) -> None:
        known = heading.known
        self.day, self.order, self.word = known["date"].place, known[ORDER].place, word
        self.rows_read = 0

    def blocks(self, blocks: Iterator[Block]) -> Iterator[Block]:
        """A row whose place in the day is written down keeps it, and its day as it is written."""
        self.rows_read = 0
        for block in blocks:
            yield block._replace(rows=[self._read(row) for row in block.rows])

    def warnings(self) -> list[str]:
        return [f"run_number_beside_day:{self.word} in {self.rows_read} rows"] if self.rows_read else []

    def _read(self, row: Row) -> Row:
        if len(row) <= max(self.day, self.order):
            return row
        written = trimmed(row[self.order])
        number = _number(_ALONE, written, self.word)
        day = None if written else _BEHIND_DAY.fullmatch(trimmed(row[self.day]))
        if day is not None and day["word"].lower() == self.word:
            row = [*row]
            row[self.day], number = day["day"], day["number"]
        if number is None:
            return row
        row = [*row]
        row[self.order] = number
        self.rows_read += 1
        return row


def word_of_heats(heading: Heading, rows: Sequence[Row]) -> str | None:
    """The word that counts the runs of a day in these rows; None if there is none, or more than one."""
    known = heading.known
    if "date" not in known:
        return None
    places = {known["date"].place: _BEHIND_DAY}
    if ORDER in known:
        places[known[ORDER].place] = _ALONE
    words = {
        found["word"].lower()
        for row in rows
        for place, form in places.items()
        if place < len(row) and (found := form.fullmatch(trimmed(row[place])))
    }
    return words.pop() if len(words) == 1 else None


def _number(form: re.Pattern[str], text: str, word: str) -> str | None:
    found = form.fullmatch(text)
    return found["number"] if found and found["word"].lower() == word else None
