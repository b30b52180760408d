"""What the rejected rows of a sheet are read with: what was said for the sheet, and what its cells settled.

A file of a few rows proves little: the order of its dates, its decimal mark and the units of its temperatures are those
of the sheet that the rows come from. The kept sheet is looked through again for them.
"""

from __future__ import annotations

import io
import json
import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, BinaryIO, Final, NamedTuple

from bevelbook.notes.cells import SheetDay, SheetFormula
from bevelbook.notes.columns import Evidence, Settled
from bevelbook.notes.corrected_lines import LOOKED_AT, has_columns_of_rejects, is_of, is_of_rejects
from bevelbook.notes.decoding import FileRejected, unpacked
from bevelbook.notes.headings import IGNORED, Heading
from bevelbook.notes.note_columns import BY_NAME, REJECT_FILE_COLUMNS
from bevelbook.notes.read_rows import look_at_columns, options_for
from bevelbook.notes.report import REASONS
from bevelbook.notes.settings import Settings
from bevelbook.notes.source import NoteSource, rows_below, source_of
from bevelbook.reading.faults import trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.records.kept_file_names import called_file

_OF_TEXT: Final = ("text", "reference")
_LETTERS: Final = {"": "C", "°C": "C", "°F": "F", "K": "K"}
"""How the option for temperatures names a unit."""


class WithSheet(NamedTuple):
    """The settings for a file, with those of its sheet if its rows are the rejected ones of one; and what to say."""

    settings: Settings
    warnings: tuple[str, ...] = ()


class _KeptSheet(NamedTuple):
    id: str
    name: str
    part: str | None
    options: str | None
    read_at: str

    @property
    def settings(self) -> Settings:
        return Settings(**json.loads(self.options)) if self.options else Settings()


def with_sheet(
    file: BinaryIO,
    name: str,
    settings: Settings,
    connection: sqlite3.Connection,
    before: Settings | None = None,
    *,
    as_before: bool = True,
) -> WithSheet:
    """The settings for a file, which may be one of rejected rows, then with those of the sheet that the rows come from.

    What ``settings`` say themselves comes first. ``before`` are those that the file was read with before, if it was:
    it is read with them again ``as_before``, but for what its sheet says; else they hold for rejected rows alone whose
    sheet is not there any more.
    """
    answers = before if before is not None and as_before else Settings()
    if not (is_of_rejects(name) or _may_be_rejects(file)):
        return _with_answers(settings, answers)
    heading, rows = _rejected_rows(file, name, settings.over_kept(answers))
    if not rows:
        return _with_answers(settings, answers)
    for sheet in _sheets_of(connection, name, rows):
        source = _opened(connection, sheet)
        if source is None or not _are_same_columns(source.heading.cells, heading):
            continue
        said, by_cells = _of_sheet(source, sheet)
        found = _over(settings.over_kept(_unsaid(answers, said)), said, by_cells)
        if found.said() == settings.said():
            return WithSheet(settings)
        return WithSheet(found, (f"read_as_sheet:{called_file(sheet.name, sheet.part)}",))
    if before is not None and before.settled:
        return WithSheet(settings.over(before))
    found, warnings = _with_answers(settings, answers)
    return WithSheet(found, (*warnings, "sheet_not_held"))


def _with_answers(settings: Settings, answers: Settings) -> WithSheet:
    """The settings, with those that the file was read with before."""
    found = settings.over_kept(answers)
    return WithSheet(found, () if found.said() == settings.said() else ("read_as_before",))


def _unsaid(answers: Settings, said: Settings) -> Settings:
    """Of the settings that a file of rejected rows was read with before, those that its sheet does not say: what was
    said for the sheet since holds for its rows."""
    of_the_sheet: dict[str, Any] = {"settled": {}}
    for name, value in said._asdict().items():
        mine = getattr(answers, name)
        if isinstance(value, Mapping) and name != "settled":
            of_the_sheet[name] = {key: one for key, one in mine.items() if key not in value}
        elif value not in (None, False, (), []):
            of_the_sheet[name] = Settings._field_defaults[name]
    return answers._replace(**of_the_sheet)


def _may_be_rejects(file: BinaryIO) -> bool:
    """Whether a text has the added columns in its beginning, whatever its encoding."""
    file.seek(0)
    start = file.read(LOOKED_AT)
    file.seek(0)
    return has_columns_of_rejects(start)


def _rejected_rows(file: BinaryIO, name: str, settings: Settings) -> tuple[Sequence[str], Counter[tuple[int, str]]]:
    """The heading of a file of rejected rows, and the line and reason that each row had; none for another file."""
    try:
        source = source_of(file, name, settings, pack=False, check=False)
        places = {folded(cell): place for place, cell in enumerate(source.heading.cells)}
        if not places.keys() >= set(REJECT_FILE_COLUMNS):
            return (), Counter()
        found: Counter[tuple[int, str]] = Counter()
        for block in rows_below(source):
            for row in block.rows:
                line, reason = (
                    trimmed(row[places[column]]) if places[column] < len(row) else "" for column in ("line", "reason")
                )
                code = reason.partition(":")[0]
                if line.isascii() and line.isdecimal() and code in REASONS:
                    found[int(line), code] += 1
    except FileRejected:
        return (), Counter()
    finally:
        file.seek(0)
    return source.heading.cells, found


def _are_same_columns(cells: Sequence[str], others: Sequence[str]) -> bool:
    """Whether two headings have the same columns, but for some that one of them has besides."""
    mine, theirs = ({folded(cell) for cell in one} - {*REJECT_FILE_COLUMNS, ""} for one in (cells, others))
    return mine >= theirs or mine <= theirs


def _sheets_of(connection: sqlite3.Connection, name: str, rows: Mapping[tuple[int, str], int]) -> Iterator[_KeptSheet]:
    """The kept files that may be the sheet of rejected rows, the likeliest first: one that rejected a row on each line
    for the reason, or one that is the sheet by its name."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'note_files'").fetchone():
        return
    found: list[tuple[bool, bool, int, bool, str, _KeptSheet]] = []
    for one in connection.execute("SELECT id, name, part, options, read_at FROM note_files ORDER BY read_at, id"):
        sheet = _KeptSheet(*one)
        if sheet.name == name:
            continue
        is_named = is_of(name, sheet.name, sheet.part)
        here = {
            (line, reason)
            for line, reason in connection.execute(
                "SELECT line, reason FROM note_rejects WHERE note_file = ? AND status = 'rejected'", (sheet.id,)
            )
        }
        hits = len(here & rows.keys())
        if is_named or hits == len(rows):
            found.append((hits > 0, is_named, hits, not is_of_rejects(sheet.name), sheet.read_at, sheet))
    yield from (one[-1] for one in sorted(found, key=lambda one: one[:-1], reverse=True))


def _opened(connection: sqlite3.Connection, sheet: _KeptSheet) -> NoteSource | None:
    found = connection.execute(
        "SELECT b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 WHERE f.id = ?", (sheet.id,)
    ).fetchone()
    if found is None:
        return None
    try:
        return source_of(io.BytesIO(unpacked(found[0])), sheet.name, sheet.settings, pack=False)
    except FileRejected:
        return None


def _of_sheet(source: NoteSource, sheet: _KeptSheet) -> tuple[Settings, Settings]:
    """What was said for a sheet, and what its cells settled on the day when it was read."""
    said = sheet.settings
    evidence, settled, warnings = look_at_columns(source, said._replace(today=sheet.read_at[:10]))
    odd = {name: {"of_workbook": True} for name in _with_days_or_formulas(source)}
    by_cells = Settings(
        date_base=options_for(source, said).date_base,
        columns=_meanings(source.heading),
        settled={
            name: _settled(one, settled[name]) | _undecided(settled[name], warnings, one) | odd.get(name, {})
            for name, one in evidence.items()
        },
    )
    return said.for_rejects(), by_cells


def _settled(one: Evidence, settled: Settled) -> dict[str, Any]:
    """What the cells of a column settled, by the names of options."""
    found: dict[str, Any] = {
        "decimal": settled.decimal,
        "date_order": settled.date_order,
        "five_digits": one.days.five_digits,
    }
    if settled.unit_unknown:
        found["temperature_unknown"] = settled.unit_unknown
    elif one.unitless and one.unit is None:
        found["temperature_unit"] = _LETTERS.get(settled.unit or "")
    return {option: value for option, value in found.items() if value is not None}


def _undecided(settled: Settled, warnings: Sequence[str], one: Evidence) -> dict[str, Any]:
    """What the cells of the sheet contradict one another in, so that a few of them settle nothing either."""
    if one.field.is_number and settled.decimal is None and "mixed_decimal_marks" in warnings:
        return {"undecided": ["decimal"]}
    if one.field.kind == "date" and settled.date_order is None and "mixed_date_orders" in warnings:
        return {"undecided": ["date_order"]}
    return {}


def _with_days_or_formulas(source: NoteSource) -> set[str]:
    """The columns of text in which a workbook holds a day, or a formula without a value."""
    places = {name: one.place for name, one in source.heading.known.items() if one.field and one.field.kind in _OF_TEXT}
    found: set[str] = set()
    for block in rows_below(source) if source.sheets else ():
        found |= {
            name
            for name, place in places.items()
            if any(place < len(row) and isinstance(row[place], (SheetDay, SheetFormula)) for row in block.rows)
        }
    return found


def _meanings(heading: Heading) -> dict[str, str]:
    """The meanings of columns that the cells of a sheet decided, as a person's map has them."""
    count = Counter(folded(column.heading) for column in heading.columns)
    return {
        folded(column.heading): column.field.name if column.field else IGNORED
        for column in heading.columns
        if column.meanings and not column.is_certain and count[folded(column.heading)] == 1
    }


def _over(mine: Settings, said: Settings, by_cells: Settings) -> Settings:
    """The settings of a person over those of the sheet; an option that is given now leaves nothing settled of its
    kind."""
    given = {
        "decimal": mine.decimal,
        "date_order": mine.date_order,
        "temperature_unit": mine.temp_unit,
        "temperature_unknown": mine.temp_unit,
        "five_digits": mine.date_base,
    }
    settled = {
        name: {option: value for option, value in found.items() if given.get(option) is None}
        for name, found in by_cells.settled.items()
    }
    units = said.units
    if mine.temp_unit is not None:
        units = {name: unit for name, unit in units.items() if BY_NAME[name].unit != "°C"}
    by_cells = by_cells._replace(settled={name: found for name, found in settled.items() if found})
    return mine.over(said._replace(units=units)).over(by_cells)
