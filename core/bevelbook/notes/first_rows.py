"""The first rows of a file as they would be stored, by themselves and as labelled lines for a narrow terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.display.format import SHOWN_UNIT, format_typed
from bevelbook.display.line_width import line_width
from bevelbook.display.wrapping import display_width, wrapped_words
from bevelbook.notes.note_columns import BY_NAME, NAMES
from bevelbook.notes.staging import Stage

SHOWN_ROWS: Final = 5
_WIDEST: Final = 79
_LONGEST: Final = 120
"""Characters of a remark that are shown."""
_INDENT: Final = "    "


class FirstRow(NamedTuple):
    """A row as it would be stored: its line, day and diff, and what else it has, each with its words."""

    line: int
    day: str
    diff: str
    values: tuple[tuple[str, str], ...]

    @property
    def named(self) -> str:
        """Its line with its day and diff."""
        return f"line {self.line}: {self.day}, diff {self.diff}"


def first_rows(stage: Stage) -> Iterator[FirstRow]:
    """The first rows that are accepted."""
    for line, *values in islice(stage.rows(), SHOWN_ROWS):
        row = {name: value for name, value in zip(NAMES, values, strict=True) if value is not None}
        day, diff = (str(row.pop(name, "")) for name in ("date", "diff"))
        others = ((BY_NAME[name].words, _shown(BY_NAME[name], value)) for name, value in row.items())
        yield FirstRow(int(line), day, diff, tuple(others))


def first_row_lines(stage: Stage) -> Iterator[str]:
    """The first rows that are accepted, each with its line, its day and diff, and below them what else it has."""
    for row in first_rows(stage):
        yield from (f"  {one}" for one in wrapped_words(row.named, _width() - 2))
        yield from _joined(f"{words} {text}" for words, text in row.values)


def _joined(items: Iterable[str]) -> Iterator[str]:
    """Items joined by semicolons on lines at most ``_width()`` wide; one that is wider is broken between words."""
    line = ""
    for item in items:
        longer = f"{line}; {item}" if line else item
        if line and display_width(longer) > _width() - len(_INDENT) - 1:
            yield f"{_INDENT}{line};"
            longer = item
        *full, line = wrapped_words(longer, _width() - len(_INDENT) - 1)
        yield from (f"{_INDENT}{one}" for one in full)
    if line:
        yield f"{_INDENT}{line}"


def _width() -> int:
    return min(_WIDEST, line_width())


def _shown(field: Field, value: object) -> str:
    """A value with its unit, with all of its digits; a long remark is cut."""
    if isinstance(value, int | float) and field.is_number:
        unit = "" if field.unit == field.words else SHOWN_UNIT.get(field.unit or "", field.unit or "")
        return f"{format_typed(value, field.unit)} {unit}".strip()
    text = " ".join(str(value).split())
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST].rstrip()} ..."
