"""Workbooks (.xlsx, ISO/IEC 29500) as tables: typed cells need no guessing, formulas give their stored values."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any, BinaryIO, Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.notes.cells import SheetDay, SheetFormula, SheetNumber
from bevelbook.notes.decoding import CHUNK, Decoding, FileRejected, rejected
from bevelbook.notes.number_format import PLAIN, NumberFormat, number_format
from bevelbook.notes.sheet_text import WIDEST, SheetText
from bevelbook.notes.sheets import SheetOfBook
from bevelbook.notes.table import BLOCK_ROWS, Block, CellFinding, Row

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

LARGEST_UNPACKED: Final = 200_000_000
LAST_ROW: Final = 1_048_576
LONGEST_CELL: Final = 32_767
"""Rows of a sheet and characters of a cell: more than the programs that write workbooks can hold."""
LONGEST_GAP: Final = 5_000
"""Blank rows between two filled ones past these are not rows."""
MOST_BLANK: Final = 100_000
"""Blank rows in a run that are looked at one by one; those that say their number are cut out before."""
TIGHTEST: Final = 150
"""So many times its packed size a part of a workbook is, at most: what programs write is 5 to 30 times."""
_SMALL_PART: Final = 1_000_000
"""Bytes up to which a part may be packed more tightly."""
_LARGEST_BESIDE: Final = 60_000_000
"""Bytes of a part that is held in memory: the texts that cells share, the styles, the lists of parts."""
_IMAGES: Final = (".bmp", ".emf", ".wmf", ".png", ".jpg", ".jpeg", ".gif", ".tif", ".tiff", ".svg")
"""Endings of parts that are not read, and may be packed as tightly as they like."""
WIDTH_ROWS: Final = 60
_YES: Final = ("1", "true")
_UNREADABLE: Final = (zipfile.BadZipFile, OSError, EOFError, ValueError, NotImplementedError, OverflowError)
"""What looking into a spoilt archive raises."""


class _Look(NamedTuple):
    """How the cells of one style look."""

    format: NumberFormat
    is_struck: bool


class WorkbookTable:
    """A sheet of a workbook, the first one if none is named. A sheet does not say where a row ends: short rows are
    filled up, and rows behind the last filled one are not rows.
    """

    def __init__(self, file: BinaryIO, name: str = "", book: Workbook | None = None) -> None:
        self.file = file
        self.name = name
        self._book = book
        self._looks: dict[int, _Look] = {}
        self._found: dict[CellFinding, None] = {}
        self._hidden_columns: set[int] = set()

    @property
    def date_base(self) -> int | None:
        """1904 where the workbook counts its days from then."""
        return 1904 if self._opened().epoch.year == 1904 else None

    def progress(self) -> tuple[int, int]:
        return 0, 0

    def outside(self) -> Iterator[tuple[int, Row]]:
        return iter(())

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """Raises FileRejected (workbook_damaged)."""
        book = self._opened()
        sheet = next(one for one in book.worksheets if self.name in ("", one.title))
        rows = self._rows(book, sheet)
        width = 0
        while True:
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("ignore")
                    block = list(islice(rows, block_rows))
            except FileRejected:
                raise
            except Exception as fault:
                raise _damaged() from fault
            if not block:
                return
            width = max(width, *(len(row) for _, row in block[:WIDTH_ROWS]))
            filled = [row + [""] * (width - len(row)) for _, row in block]
            first, last = block[0][0], block[-1][0]
            has_gap = last - first >= len(block)
            yield Block(filled, [line for line, _ in block] if has_gap else range(first, last + 1), [])

    def findings(self) -> Iterator[CellFinding]:
        """What is odd about the rows and cells that were read; asked after all of them were."""
        yield from self._found
        for column in sorted(self._hidden_columns):
            yield CellFinding("hidden_column", None, column)

    def _opened(self) -> Workbook:
        if self._book is None:
            self._book = _opened(self.file)
        return self._book

    def _rows(self, book: Any, sheet: Any) -> Iterator[tuple[int, Row]]:
        """The rows with their lines, from the first on, up to the last filled one."""
        commented = _commented_lines(book, sheet)
        with sheet._get_source() as text:
            parser = _parser()(
                SheetText(text),
                sheet._shared_strings,
                data_only=True,
                epoch=book.epoch,
                date_formats=book._date_formats,
                timedelta_formats=book._timedelta_formats,
            )
            last = blank_in_a_run = 0
            for line, cells in parser.parse():
                sizes = parser.row_dimensions.pop(str(line), None)
                row = self._row(book, line, cells)
                if not row:
                    blank_in_a_run += 1
                    if blank_in_a_run > MOST_BLANK:
                        raise _damaged(f"the sheet has more than {MOST_BLANK} blank rows in a run")
                    continue
                blank_in_a_run = 0
                if line <= last:
                    raise _damaged(f"row {line} of the sheet comes again behind row {last}")
                if line > LAST_ROW:
                    raise _damaged(f"a row says it is number {line}, and a sheet has {LAST_ROW} rows at most")
                for blank in range(last + 1, min(line, last + 1 + LONGEST_GAP)):
                    yield blank, []
                last = line
                if sizes is not None and sizes.get("hidden") in _YES:
                    self._found[CellFinding("hidden_row", line, None)] = None
                if line in commented:
                    self._found[CellFinding("cell_comment", line, None)] = None
                yield line, row
            self._hidden_columns = {
                place
                for one in parser.column_dimensions.values()
                if one.get("hidden") in _YES
                for place in range(int(one["min"]) - 1, min(int(one["max"]), WIDEST))
            }

    def _row(self, book: Any, line: int, cells: Sequence[Mapping[str, Any]]) -> Row:
        row: Row = []
        width = 0
        for cell in cells:
            value = cell["value"]
            if value is None:
                continue
            place = cell["column"] - 1
            style = cell["style_id"]
            text = self._looking(book, line, place, style, value) if style else _text(value)
            if not text:
                continue
            if len(text) > LONGEST_CELL:
                raise _damaged(
                    f"a cell of row {line} has {len(text)} characters, and a cell has {LONGEST_CELL} at most"
                )
            if place >= WIDEST:
                self._found[CellFinding("cells_beyond", line, None)] = None
                break
            if place > width:
                row.extend([""] * (place - width))
            if place >= width:
                row.append(text)
                width = place + 1
            elif row[place]:
                raise _damaged(f"row {line} of the sheet has two cells in column {place + 1}")
            else:
                row[place] = text
        return row

    def _looking(self, book: Any, line: int, place: int, style: int, value: Any) -> str:
        """The text of a cell with a style of its own, and what is odd about how it looks."""
        look = self._looks.get(style)
        if look is None:
            look = self._looks[style] = _look(book, style)
        text = _text(value)
        if look.is_struck and text:
            self._found[CellFinding("struck_through", line, place)] = None
        if look.format is not PLAIN and isinstance(text, SheetNumber):
            if look.format.shows_otherwise(text):
                self._found[CellFinding("shown_otherwise", line, place)] = None
            return SheetNumber(str(text), look.format.unit) if look.format.unit else text
        return text


class WorkbookFile:
    """A workbook that was opened. Sheets that are a chart are not counted as sheets."""

    def __init__(self, file: BinaryIO) -> None:
        """Raises FileRejected (workbook_damaged), InputError where the library is missing."""
        self.file = file
        self._book = _opened(file)

    def sheets(self) -> list[SheetOfBook]:
        """Its sheets in their order."""
        return [SheetOfBook(one.title, one.sheet_state != "visible") for one in self._book.worksheets]

    def charts(self) -> list[str]:
        """The names of its sheets that are a chart, and have no cells."""
        with_cells = {id(one) for one in self._book.worksheets}
        return [one.title for one in self._book._sheets if id(one) not in with_cells]

    def table(self, name: str) -> WorkbookTable:
        """The rows of a sheet."""
        return WorkbookTable(self.file, name, self._book)


def workbook_decoding(file: BinaryIO, *, pack: bool) -> Decoding:
    """Hash and size of a workbook; refuses one over the limit before unpacking it."""
    import hashlib
    import zlib

    check_size(file)
    file.seek(0)
    digest, count, packed, packer = hashlib.sha256(), 0, [], zlib.compressobj(1)
    while chunk := file.read(CHUNK):
        digest.update(chunk)
        count += len(chunk)
        if pack:
            packed.append(packer.compress(chunk))
    packed.append(packer.flush())
    return Decoding("workbook", None, digest.hexdigest(), count, b"".join(packed) if pack else None)


def check_size(file: BinaryIO) -> None:
    """Raise FileRejected for a workbook that unpacks to more than the limit, or is not a workbook."""
    try:
        with zipfile.ZipFile(file) as archive:
            parts = archive.infolist()
    except _UNREADABLE as fault:
        raise _damaged() from fault
    size = sum(part.file_size for part in parts)
    names = {part.filename for part in parts}
    if size > LARGEST_UNPACKED:
        raise rejected(
            "workbook_too_large",
            f"the workbook unpacks to {size / 1e6:,.0f} MB, more than {LARGEST_UNPACKED / 1e6:,.0f} MB",
            remedy="Save the sheet of notes alone as CSV.",
        )
    for part in parts:
        is_read = not part.filename.lower().endswith(_IMAGES)
        if is_read and part.file_size > max(_SMALL_PART, TIGHTEST * part.compress_size):
            raise _damaged("a part of the workbook is packed more tightly than a program does it")
        if is_read and part.file_size > _LARGEST_BESIDE and not part.filename.startswith("xl/worksheets/"):
            raise _damaged(f"{part.filename} in the workbook is {part.file_size / 1e6:,.0f} MB")
    if not names & {"[Content_Types].xml", "content.xml"}:
        raise _damaged()


def _opened(file: BinaryIO) -> Workbook:
    try:
        import openpyxl  # noqa: F401
    except ImportError:
        raise InputError(
            "workbooks need one more library",
            code="needs_openpyxl",
            remedy="Install it with: pip install 'bevelbook[xlsx]'. Or save the sheet as CSV.",
        ) from None
    check_size(file)  # before the library goes through a sheet that does not say how large it is
    file.seek(0)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            reader = _reader()(file, read_only=True, data_only=True, keep_links=False)
            reader.read()
    except Exception as fault:
        raise _damaged() from fault
    book: Workbook = reader.wb
    if not book.worksheets:
        raise _damaged()
    return book


@lru_cache(1)
def _reader() -> Any:
    """The library's reader of workbooks, without the sheets that are a chart, which it cannot read row by row."""
    from types import SimpleNamespace

    from openpyxl.reader.excel import ExcelReader

    class SheetsReader(ExcelReader):  # type: ignore[misc]
        def read_chartsheet(self, sheet: Any, rel: Any) -> None:
            self.wb._sheets.append(SimpleNamespace(title=sheet.name, defined_names={}))

    return SheetsReader


@lru_cache(1)
def _parser() -> Any:
    """The library's parser of a sheet, with formulas that have no stored value: it gives nothing for them."""
    from openpyxl.worksheet._reader import FORMULA_TAG, WorkSheetParser

    class FormulaParser(WorkSheetParser):  # type: ignore[misc]
        def parse_cell(self, element: Any) -> Any:
            cell = super().parse_cell(element)
            if cell["value"] is None and (formula := element.find(FORMULA_TAG)) is not None:
                cell["value"] = SheetFormula(f"={formula.text or ''}")
            return cell

    return FormulaParser


def _look(book: Any, style: int) -> _Look:
    from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE

    of_cell = book._cell_styles[style]
    number = of_cell.numFmtId
    if number < BUILTIN_FORMATS_MAX_SIZE:
        code = BUILTIN_FORMATS.get(number, "General")
    else:
        code = book._number_formats[number - BUILTIN_FORMATS_MAX_SIZE]
    found = number_format(code)
    return _Look(PLAIN if found == PLAIN else found, bool(book._fonts[of_cell.fontId].strike))


def _commented_lines(book: Any, sheet: Any) -> frozenset[int]:
    """The lines with a cell that has a comment."""
    from openpyxl.packaging.relationship import get_dependents, get_rels_path
    from openpyxl.utils.cell import coordinate_to_tuple
    from openpyxl.xml.constants import COMMENTS_NS
    from openpyxl.xml.functions import fromstring

    path = get_rels_path(sheet._worksheet_path)
    archive = book._archive
    if path not in archive.namelist():
        return frozenset()
    found = set()
    for one in get_dependents(archive, path).find(COMMENTS_NS):
        for element in fromstring(archive.read(one.target)).iter():
            if element.tag.rpartition("}")[2] == "comment" and element.get("ref"):
                found.add(coordinate_to_tuple(element.get("ref"))[0])
    return frozenset(found)


def _damaged(what: str = "the workbook cannot be opened") -> InputError:
    return rejected("workbook_damaged", what, remedy="Save it again, or save it as CSV.")


def cell_text(value: Any) -> str:
    """The text of a typed cell, marked for what it is if it is a number or a day."""
    return _text(value)


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int):
        return SheetNumber(str(value))
    if isinstance(value, float):
        return SheetNumber(str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value))
    if isinstance(value, datetime):
        return SheetDay(value.date().isoformat() if value.time() == time(0) else value.isoformat(timespec="seconds"))
    if isinstance(value, date):
        return SheetDay(value.isoformat())
    if isinstance(value, time | timedelta):
        return _time_text(value)
    return str(value)


def _time_text(value: time | timedelta) -> str:
    """A time of day, or a span of time with all its hours, without decimals of seconds that it does not have."""
    if isinstance(value, time):
        return value.isoformat().rstrip("0") if value.microsecond else value.isoformat()
    sign = "-" if value < timedelta() else ""
    whole, rest = divmod(abs(value), timedelta(seconds=1))
    decimals = f".{rest.microseconds:06}".rstrip("0").rstrip(".")
    return f"{sign}{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}{decimals}"
