"""A file of notes opened: its encoding, its delimiter, its heading, and the rows below."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.notes.cells import typed_cells
from bevelbook.notes.column_units import column_units
from bevelbook.notes.columns_of_units import check_unit_columns, unit_columns, with_units_beside
from bevelbook.notes.decoding import Decoding, FileRejected, decoding_of, rejected
from bevelbook.notes.heading_faults import check_heading, check_likely, whose_sheet
from bevelbook.notes.headings import Heading
from bevelbook.notes.layout import (
    LIKELY_ROWS,
    SEARCHED_ROWS,
    Layout,
    find_heading,
    heading_in,
    layout_of,
    likely_in,
    no_heading,
    no_heading_within,
)
from bevelbook.notes.line_range import LineRange
from bevelbook.notes.meanings import SAMPLED_ROWS, Understanding, is_plain, understood
from bevelbook.notes.named_headings import absent, absent_of_profile, check_named, not_there
from bevelbook.notes.near_headings import likely_heading
from bevelbook.notes.note_columns import REQUIRED_COLUMNS
from bevelbook.notes.other_files import is_open_document, refuse_other_archive, refuse_other_file
from bevelbook.notes.other_tables import HeadingTest, check_one_table, is_table_above
from bevelbook.notes.questions import FileQuestion
from bevelbook.notes.quotes import blanks_go_before
from bevelbook.notes.reads_as_row import row_test
from bevelbook.notes.reshaping import Reshape, reshaped
from bevelbook.notes.row_words import filled_cells
from bevelbook.notes.rows import LeftRow
from bevelbook.notes.settings import Settings
from bevelbook.notes.sheets import (
    BookInParts,
    OpenBook,
    SheetSeen,
    all_of_notes,
    choose_sheet,
    look_at_sheets,
    refuse_sheet_of_text,
    sheet_as_diff,
    sheet_words,
)
from bevelbook.notes.splitting import POSITION, SplitTable
from bevelbook.notes.table import (
    Block,
    NoteTable,
    RecordShape,
    Row,
    RowsWithin,
    TextTable,
    block_rows,
    line_count,
    sample_of,
)
from bevelbook.notes.tables_beside import check_beside
from bevelbook.notes.transposing import DELIMITER, ENCODING, refuse_transposing, transposed
from bevelbook.reading.faults import trimmed
from bevelbook.records.kept_file_names import called_file

ROW_ABOVE: Final = "it reads as a row of the table and is above the heading. Move it below the heading."


class NoteSource(NamedTuple):
    """A file, or the part of it that is read, with its heading and encoding; ``part`` is empty for the whole file."""

    name: str
    part: str
    table: NoteTable
    layout: Layout
    before: list[LeftRow]
    warnings: list[str]
    decoding: Decoding
    understanding: Understanding
    reshapes: tuple[Reshape, ...] = ()
    sheets: tuple[SheetSeen, ...] = ()
    """All sheets of a workbook; none for a text file."""
    unit_places: Mapping[int, int] = {}
    """The places of columns that hold the units of another, with the place of that one."""

    @property
    def questions(self) -> tuple[FileQuestion, ...]:
        """What may be asked about the columns of a file that can be read without an answer."""
        questions = self.understanding.questions()
        if not questions:
            return ()
        from bevelbook.notes.shape_and_language import asked_in_languages

        return asked_in_languages(questions, self.understanding.heading.known)

    @property
    def called(self) -> str:
        """What the kept file is called."""
        return called_file(self.name, self.part)

    @property
    def heading(self) -> Heading:
        return self.layout.heading


def check_file(path: Path) -> None:
    """Raise InputError unless the path is a file that can be read."""
    place = Place(str(path))
    if path.is_dir():
        raise InputError("this is a folder", code="is_folder", place=place, remedy="Name a file of notes.")
    if not path.exists():
        raise InputError("no such file", code="no_file", place=place, remedy="Check the name.")


@contextmanager
def reading_faults(path: Path) -> Iterator[None]:
    """Turn a file that cannot be read into an InputError."""
    try:
        yield
    except OSError as fault:
        raise InputError(
            "cannot be read", code="not_readable", place=Place(str(path)), found=fault.strerror or str(fault)
        ) from fault


def source_of(
    file: BinaryIO, name: str, settings: Settings, *, pack: bool, check: bool = True, book: BookInParts | None = None
) -> NoteSource:
    """Find encoding, delimiter and heading; ``book`` is the file, if it is a workbook of which several parts are read.
    Raises FileRejected."""
    warnings: list[str] = []
    start = ""
    seen: tuple[SheetSeen, ...] = ()
    table: NoteTable
    lines = settings.line_range
    first_line = lines.first if lines else 1
    required = required_columns(settings)
    is_likely = False
    if _is_archive(file):
        if settings.transpose:
            raise refuse_transposing("a workbook is read row by row")
        book = book or book_in_parts(file, pack=pack)
        decoding = book.decoding
        wanted = settings.sheet
        if settings.all_sheets:
            wanted = next(iter(all_of_notes(_look_at_sheets(book, settings))), None)
        chosen = choose_sheet(book, wanted, _headings(book, settings), required)
        seen = chosen.seen
        table = _within(book.table(chosen.name), lines)
        found = _heading_of_sheet(table, settings)
        if found is None and (len(seen) == 1 or chosen.is_said):
            found, is_likely = _likely_in_sheet(table, settings), True
        if found is None and lines and (len(seen) == 1 or chosen.is_said):
            whole = book.table(chosen.name)
            raise no_heading_within(lines, max((block.lines[-1] for block in whole.blocks() if block.lines), default=0))
        if found is None:
            raise no_heading(settings.header_line) if len(seen) == 1 else _no_sheet_with_heading(settings, seen)
        heading = found
        if chosen.is_said:
            settings = settings._replace(sheet=chosen.name)
        if settings.sheet_as_diff and "diff" not in heading.known:
            settings = settings._replace(constants={"diff": chosen.name, **settings.constants})
    else:
        refuse_other_file(file)
        if settings.sheet is not None or settings.sheet_as_diff:
            raise refuse_sheet_of_text(settings.sheet)
        decoding = decoding_of(file, settings.encoding, pack=pack)
        encoding = decoding.encoding
        if settings.transpose:
            if lines:
                raise refuse_transposing("lines of the file cannot be chosen as well")
            file, encoding = transposed(file, encoding, settings.columns, settings.delimiter), ENCODING
            settings = settings._replace(delimiter=DELIMITER)
        sample = sample_of(file, encoding, header_line=settings.header_line or 0, lines=lines)
        try:
            text_heading, is_likely = _heading_of_text(sample, settings, first_line)
        except FileRejected as fault:
            if fault.code == "no_heading" and lines:
                raise no_heading_within(lines, line_count(file, encoding)) from None
            raise
        start = sample
        heading = text_heading._replace(row=text_heading.row + first_line - 1)
        shape = RecordShape(heading.row, len(heading.cells), heading.width, row_test(heading))
        blanks = blanks_go_before(heading.cells)
        table = TextTable(file, encoding, heading.delimiter, shape, blanks_go_before=blanks, lines=lines)
    if decoding.warning:
        warnings.append(decoding.warning)
    rule, place = settings.split_rule, settings.split_place
    split = SplitTable(table, heading, rule, place) if rule and place else None
    if rule and place:
        diffs = {"diff": rule.diffs[place]} if place in rule.diffs else {}
        settings = settings._replace(constants={**settings.constants, **diffs, POSITION: place})
    source, rows = _placed(name, split or table, heading, warnings, decoding, settings)
    source = source._replace(sheets=seen)
    line = source.layout.heading_lines[-1]
    if split and check:
        warnings += split.settle(source.heading, line)
    check_named(source.heading, settings, line)
    if check:
        warnings += absent_of_profile(source.heading, settings)
    heading, reshapes = reshaped(source.heading, settings, line, rows)
    source = source._replace(layout=source.layout._replace(heading=heading), reshapes=reshapes)
    beside = unit_columns(heading.columns, rows)
    if check:
        try:
            if is_likely:
                check_likely(source.understanding._replace(heading=heading), line)
            check_heading(source.understanding._replace(heading=heading), line)
        except FileRejected as fault:
            if "diff" not in heading.known and fault.code == "missing_required":
                titles = [
                    cell for one in source.before if one.reason == "preamble" for cell in map(str, one.raw) if cell
                ]
                asked = (sheet_as_diff(seen),) if seen else ()
                fault.questions = (*fault.questions, *asked, whose_sheet(source.name, titles))
            from bevelbook.notes.shape_and_language import with_language, with_other_shape

            fault = with_language(fault, heading.cells, settings.columns)
            if start and not settings.transpose:
                fault = with_other_shape(fault, start, heading.delimiter, settings.columns)
            raise
        if is_table_above([[*one.raw] for one in source.before if one.reason != "units_row"], HeadingTest(heading).own):
            check_one_table(source.table, source.layout)
        check_beside(heading, settings.columns, _rows_as_written(source), line)
        check_unit_columns(beside, heading.columns, settings.units, line)
    by_place = {column.place: column for column in heading.columns}
    for of_units in beside.by_cells:
        field = by_place[beside.places[of_units]].field
        called = by_place[of_units].heading or f"column {of_units + 1}"
        warnings.append(f"units_by_cells:{called}={field.name if field else ''}")
    return source._replace(unit_places=beside.places)


def _placed(
    name: str, table: NoteTable, heading: Heading, warnings: list[str], decoding: Decoding, settings: Settings
) -> tuple[NoteSource, list[Row]]:
    """The source with everything up to the heading and the row of units under it accounted for, and the meanings of
    its columns; and the first rows below the heading."""
    before: list[LeftRow] = []
    lines = settings.line_range
    first_line = lines.first if lines else 1
    sampled = 1 if is_plain(heading) else SAMPLED_ROWS
    first = next(table.blocks(heading.row + 1 + SAMPLED_ROWS), Block([], range(0), []))
    sample = first.rows[heading.row + 1 :]
    if heading.row >= len(first.rows):
        raise no_heading(None)
    understanding = understood(
        heading,
        first.rows[heading.row + 1 : heading.row + 1 + sampled],
        given=settings.constants,
        accept=settings.accept_map,
    )
    heading = understanding.heading
    warnings += understanding.warnings
    layout = layout_of(heading, first.rows, first.lines)
    day, is_row = heading.known.get("date"), row_test(heading)
    for row, here in zip(first.rows, first.lines, strict=False):
        if here >= layout.first_line:
            break
        if here == layout.units_line:
            before.append(LeftRow(here, "skipped", "units_row", None, None, None, row))
        elif first_line <= here < layout.heading_lines[0]:
            text = "".join(row).strip()
            code = "blank" if not trimmed(text) else "sep_hint" if here == 1 and _is_hint(row) else "preamble"
            cells = filled_cells(row)
            if code == "preamble" and day and day.place in cells and len(cells) > 1 and is_row(row):
                before.append(LeftRow(here, "rejected", code, None, None, ROW_ABOVE, row))
            else:
                before.append(LeftRow(here, "skipped", code, None, None, None, row))
        elif here > layout.heading_lines[-1]:
            before.append(LeftRow(here, "skipped", "blank", None, None, None, row))
    for one in first.broken:
        if one.line < layout.heading_lines[0]:
            before.append(LeftRow(one.line, "skipped", "preamble", None, None, None, one.cells))
    return NoteSource(name, settings.part, table, layout, before, warnings, decoding, understanding), sample


def rows_below(source: NoteSource) -> Iterator[Block]:
    """The blocks of rows below the heading and its row of units, in the shape that the settings give them."""
    blocks = _rows_as_written(source)
    for step in source.reshapes:
        blocks = step.blocks(blocks)
    for block in blocks:
        if source.unit_places:
            with_units_beside(block.rows, source.unit_places)
        yield block


def _rows_as_written(source: NoteSource) -> Iterator[Block]:
    first_line = source.layout.first_line
    for block in source.table.blocks(block_rows(len(source.heading.cells))):
        broken = [one for one in block.broken if one.line > source.layout.heading_lines[0]]
        if len(broken) < len(block.broken) or (block.lines and block.lines[0] < first_line):
            cut = bisect_left(block.lines, first_line)
            block = Block(block.rows[cut:], block.lines[cut:], broken)
            if not block.rows and not broken:
                continue
        yield block


def lines_outside(source: NoteSource) -> Iterator[LeftRow]:
    """The lines that are not read, since they are not among those asked for."""
    for line, row in source.table.outside():
        yield LeftRow(line, "skipped", "outside_lines", None, None, None, row)


def cells_on(source: NoteSource, lines: Collection[int]) -> dict[int, list[str]]:
    """The rows of a file on these lines, cell by cell as rejected rows are kept."""
    found: dict[int, list[str]] = {}
    for block in rows_below(source) if lines else ():
        found |= {
            line: [*typed_cells(row, source.heading.numbers)]
            for row, line in zip(block.rows, block.lines, strict=False)
            if line in lines
        }
    return found


def profile_of(file: BinaryIO, name: str, settings: Settings) -> str:
    """The text of a profile for a file's headings. Raises FileRejected where no heading is found."""
    from bevelbook.notes.profiles import profile_text

    source = source_of(file, name, settings.for_each_place()[0], pack=False, check=False)
    said = column_units(source.heading, source.layout, settings, source.unit_places)
    units = {name: one.unit for name, one in said.items()}
    return profile_text(source.heading, settings, {**units, **settings.units}, source.understanding.unclear)


def _is_hint(row: Row) -> bool:
    return bool(row) and row[0].strip().lower().startswith("sep=")


def open_book(file: BinaryIO) -> OpenBook:
    """A workbook, opened. Raises FileRejected, InputError where the library for it is missing."""
    if is_open_document(file):
        from bevelbook.notes.open_document import OpenDocumentFile

        return OpenDocumentFile(file)
    from bevelbook.notes.workbook import WorkbookFile

    return WorkbookFile(file)


def _within(table: NoteTable, lines: LineRange | None) -> NoteTable:
    return RowsWithin(table, lines) if lines else table


def book_in_parts(file: BinaryIO, *, pack: bool) -> BookInParts:
    """A workbook of which several sheets are read: opened once. Raises FileRejected."""
    from bevelbook.notes.workbook import workbook_decoding

    refuse_other_archive(file)
    return BookInParts(open_book(file), workbook_decoding(file, pack=pack))


def sheets_of_notes(file: BinaryIO, settings: Settings, *, pack: bool) -> tuple[list[str], BookInParts]:
    """The names of the sheets that are imported where all are wanted, and the workbook. Raises FileRejected where there
    are none."""
    if not _is_archive(file):
        refuse_other_file(file)
        raise refuse_sheet_of_text(settings.sheet)
    book = book_in_parts(file, pack=pack)
    seen = _look_at_sheets(book, settings)
    headings = [one for one in book.found.values() if isinstance(one, Heading)]
    for named in absent(settings.named_headings, headings) if headings else ():
        raise not_there(named, headings)
    names = all_of_notes(seen)
    if not names:
        raise _no_sheet_with_heading(settings, seen)
    return names, book


def _look_at_sheets(book: BookInParts, settings: Settings) -> tuple[SheetSeen, ...]:
    return look_at_sheets(book, _headings(book, settings), required_columns(settings))


def _headings(book: BookInParts, settings: Settings) -> Mapping[str, Heading | bool | None]:
    lines = settings.line_range
    return book.headings(lambda one: _heading_of_sheet(_within(one, lines), settings))


def _heading_of_sheet(table: NoteTable, settings: Settings) -> Heading | None:
    lines = settings.line_range
    before = lines.first - 1 if lines else 0
    first = next(table.blocks(max(before + SEARCHED_ROWS, settings.header_line or 0) + 2), Block([], range(0), []))
    found = heading_in(
        first.rows[before:],
        own=settings.columns,
        line=settings.header_line,
        delimiter=",",
        required=required_columns(settings),
        first_line=before + 1,
    )
    return found._replace(row=found.row + before) if found else None


def required_columns(settings: Settings) -> list[str]:
    """The columns that a heading has to name: those whose cells nothing else says."""
    is_diff_said = settings.sheet_as_diff or settings.split.get("diffs")
    said = {*settings.constants, *(["diff"] if is_diff_said else [])}
    return [name for name in REQUIRED_COLUMNS if name not in said]


def _heading_of_text(sample: str, settings: Settings, first_line: int) -> tuple[Heading, bool]:
    """The heading of a text that begins at a line, and whether it is only the row that looks most like one."""
    own, delimiter, line = settings.columns, settings.delimiter, settings.header_line
    required = required_columns(settings)
    try:
        found = find_heading(sample, own=own, delimiter=delimiter, line=line, required=required, first_line=first_line)
    except FileRejected as fault:
        if fault.code != "no_heading":
            raise
        likely = likely_in(sample, own=own, delimiter=delimiter, line=line, first_line=first_line)
        if likely is None:
            raise
        return likely, True
    return found, False


def _likely_in_sheet(table: NoteTable, settings: Settings) -> Heading | None:
    before = settings.line_range.first - 1 if settings.line_range else 0
    first = next(table.blocks(max(before + LIKELY_ROWS, settings.header_line or 0) + 2), Block([], range(0), []))
    likely = likely_heading(first.rows[before:], settings.columns, settings.header_line, ",", first_line=before + 1)
    return likely.heading._replace(row=likely.heading.row + before) if likely else None


def _no_sheet_with_heading(settings: Settings, seen: Sequence[SheetSeen]) -> FileRejected:
    fault = no_heading(settings.header_line)
    return rejected(
        fault.code, f"{fault.what}; sheets: {sheet_words(seen)}", line=settings.header_line, remedy=fault.remedy or ""
    )


def _is_archive(file: BinaryIO) -> bool:
    file.seek(0)
    return file.read(4) in (b"PK\x03\x04", b"PK\x05\x06")  # of an empty one there is only the end
