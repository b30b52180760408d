"""A heading in two lines: groups above, names below. It is joined where the two together have a known meaning."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final

from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Column, matched
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.row_words import filled_cells, has_words_only
from bevelbook.notes.table import Row
from bevelbook.notes.wording import with_option
from bevelbook.reading.faults import trimmed
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.units import looks_like_unit

_BRACKETS: Final = {")": "(", "]": "["}
Own = Mapping[str, str]


class Joined:
    """Two rows of a heading joined, column by column.

    ``gained`` are the places where the two lines together name a column that neither names so alone; ``unclear`` those
    where the upper and the lower name have one meaning each, or none, and together no known one.
    """

    def __init__(self, upper: Row, lower: Row, own: Own) -> None:
        width = max(len(upper), len(lower))
        above = [trimmed(cell) for cell in upper] + [""] * (width - len(upper))
        below = [trimmed(cell) for cell in lower] + [""] * (width - len(lower))
        self.own = own
        self.gained: set[int] = set()
        self.unclear: list[Column] = []
        self.columns: list[Column] = []
        group = ""
        for place, (over, under) in enumerate(zip(above, below, strict=True)):
            group = over or (group if under else "")
            is_group = place + 1 < width and not above[place + 1] and bool(below[place + 1])
            self.columns.append(self._column(place, over, under, group, is_group=is_group))
        self.below_blanks = sum(1 for over, under in zip(above, below, strict=True) if under and not over)

    def _column(self, place: int, over: str, under: str, group: str, *, is_group: bool) -> Column:
        if not under:
            return matched(over, place, self.own)
        upper = matched(over, place, self.own)
        if upper.field and upper.field.kind == "quantity" and looks_like_unit(under.strip("()[]")):
            return matched(f"{over} ({under.strip('()[]')})", place, self.own)
        if upper.field and upper.field.kind == "date" and under[0] in _BRACKETS.values():
            return upper
        together = joined_column(group, under, place, self.own) if group else None
        if together is not None:
            self.gained.add(place)
            return together
        if not over:
            alone = matched(under, place, self.own)
            return alone if alone.field or not group else matched(f"{group} {under}", place, self.own)
        field, lower = upper.field, matched(under, place, self.own)
        if field is None:
            unknown = matched(f"{over} {under}", place, self.own)
            if lower.is_known:
                self.unclear.append(unknown)
            return unknown
        is_words = field.kind not in ("quantity", "whole", "choice")
        if lower.field is field or (is_words and not lower.is_known and not is_group):
            return upper
        unknown = matched(f"{over} {under}", place, self.own)
        if not is_words or lower.is_known:
            self.unclear.append(unknown)
        return unknown


def joined_column(group: str, name: str, place: int, own: Own) -> Column | None:
    """The known column that a group and a name under it are together; None if they are none.

    >>> [joined_column(*pair, 0, {}).heading for pair in (("mass", "dry"), ("masses [g]", "oil"), ("temp", "air (°F)"))]
    ['dry mass', 'oil mass [g]', 'air temp (°F)']
    """
    over, unit_over = _without_unit(group)
    under, unit_under = _without_unit(name)
    unit = unit_under or unit_over
    for one in _singulars(over):
        for words in (f"{under} {one}", f"{one} {under}"):
            column = matched(f"{words} {unit}".strip(), place, own)
            if column.is_known:
                return column
    return None


def with_second_line(first: Row, second: Row, own: Own, required: Collection[str]) -> Joined | None:
    """A heading joined with the row below it, where that is its second line; else None.

    The second line has words only, and none where days and diffs are, unless it names these columns itself. A row that
    names all of ``required`` alone is a heading of its own.
    """
    if not has_words_only(second) or not has_words_only(first):
        return None
    alone = {column.field.name for cell in second if (column := matched(cell, 0, own)).field}
    if alone.issuperset(REQUIRED_COLUMNS):
        return None
    joined = Joined(first, second, own)
    if not joined.gained and not joined.below_blanks:
        return None
    names = {column.field.name: column.place for column in joined.columns if column.field}
    for name in required:
        place = names.get(name)
        if place is None:
            return None
        under = trimmed(second[place]) if place < len(second) else ""
        if under and not matched(under, place, own).field and under[0] not in _BRACKETS.values():
            return None
    if not joined.gained and len(filled_cells(second)) < 2:
        return None
    return joined


def with_groups_above(above: Row, row: Row, own: Own) -> list[Column] | None:
    """The columns of a heading with the groups of the row above it; None where these add no meaning."""
    if not has_words_only(above):
        return None
    columns = [matched(cell, place, own) for place, cell in enumerate(row)]
    group, gained = "", False
    for place, column in enumerate(columns):
        group = (trimmed(above[place]) if place < len(above) else "") or group
        together = joined_column(group, column.heading, place, own) if group and column.heading else None
        if together is not None and together.field is not column.field:
            columns[place] = together
            gained = True
    return columns if gained else None


def unclear_heading(joined: Joined, lines: Sequence[int]) -> FileRejected:
    """The refusal of a heading in two lines whose names together are not known."""
    names = [column.heading for column in joined.unclear or joined.columns if column.field is None and column.heading]
    return rejected(
        "two_line_heading",
        f"the heading seems to be in lines {lines[0]} and {lines[1]}, and together they are not known",
        line=lines[0],
        found=", ".join(names),
        remedy=with_option("Put it in one line", ReadingOption.COLUMNS, f'"{names[0]}=FIELD"'),
    )


def _without_unit(heading: str) -> tuple[str, str]:
    """A heading and the unit in brackets behind it, with its brackets."""
    opening = _BRACKETS.get(heading[-1:])
    if opening is None or opening not in heading:
        return heading, ""
    bare, _, unit = heading.rpartition(opening)
    return bare.strip(), f"{opening}{unit}"


def _singulars(word: str) -> Iterator[str]:
    yield word
    for ending in ("s", "es"):
        if word.casefold().endswith(ending):
            yield word[: -len(ending)]
