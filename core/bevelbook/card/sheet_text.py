"""The run sheets as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from bevelbook.card.all_fields_sheet import AllFieldsSheet, Group
from bevelbook.card.run_sheet import PlaceOnSheet, RunSheet, SheetColumn, SheetLine, SheetOfCar
from bevelbook.card.text import RULED, to_choose, wrapped_lines
from bevelbook.display.table import table_lines
from bevelbook.store.invented_mark import INVENTED_WORDS


def run_sheet_lines(sheet: RunSheet) -> Iterator[str]:
    """The run sheet, line by line: each car with its diffs, and what is written of each run."""
    for one in sheet.sheets:
        yield f"{sheet.title}  {one.car}".rstrip()
        yield from _car_lines(one)
        yield ""
    yield f"OF EACH RUN, {sheet.runs} TO A SHEET OF PAPER"
    yield from table_lines([(column.title, _of_column(column)) for column in sheet.sheets[0].columns], indent="  ")
    yield ""
    for text in sheet.cautions:
        yield from wrapped_lines(f"Caution: {text}", "")
    yield sheet.rule
    if sheet.invented:
        yield INVENTED_WORDS


def _car_lines(sheet: SheetOfCar) -> Iterator[str]:
    blanks = ("Day", "Where", "Driver") if sheet.car else ("Car", "Day", "Where", "Driver")
    yield "  " + "  ".join(f"{name} {RULED}" for name in blanks)
    yield from table_lines([(place.position, _at_place(place)) for place in sheet.places], indent="  ")


def _at_place(place: PlaceOnSheet) -> str:
    if place.is_known:
        return place.instead or place.diffs[0].words
    return to_choose(tuple(diff.words for diff in place.diffs)) or RULED


def _of_column(column: SheetColumn) -> str:
    return "; ".join(dict.fromkeys(_of_line(line) for line in column.lines))


def _of_line(line: SheetLine) -> str:
    return f"{line.name} {' '.join(line.choices) or RULED}".strip()


def all_fields_lines(sheet: AllFieldsSheet) -> Iterator[str]:
    """The run sheet, line by line: the day once, then what is written for every run."""
    yield sheet.title
    for group in sheet.groups:
        yield ""
        yield group.title.upper()
        yield from _group_lines(group)
    yield ""
    yield sheet.rule
    if sheet.invented:
        yield INVENTED_WORDS


def _group_lines(group: Group) -> Iterator[str]:
    yield from table_lines(
        [
            (f"{entry.about} [{entry.unit}]" if entry.unit else entry.about, to_choose(entry.choices) or RULED)
            for entry in group.entries
        ],
        indent="  ",
    )
    for text in group.cautions:
        yield from wrapped_lines(f"Caution: {text}", "  ")
