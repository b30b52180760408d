"""OpenDocument sheets (.ods, ISO/IEC 26300) as tables: typed cells need no guessing."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from bevelbook.declare.errors import InputError
from bevelbook.notes.decoding import rejected
from bevelbook.notes.sheet_text import WIDEST
from bevelbook.notes.sheets import SheetOfBook
from bevelbook.notes.table import BLOCK_ROWS, Block, CellFinding, Row
from bevelbook.notes.workbook import LAST_ROW, LONGEST_CELL, LONGEST_GAP, cell_text, check_size

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook


_CONTENT: Final = "content.xml"
_LONGEST_COUNT: Final = 12
MOST_CELLS: Final = 8_000_000
"""Cells of a sheet from its first to its last filled one."""
MOST_BLANKS: Final = 100 * LONGEST_CELL
"""Blanks that are only counted in the file, of all cells together."""


class OpenDocumentTable:
    """A sheet of an OpenDocument file. Rows behind the last filled one are not rows."""

    date_base: int | None = None
    """Days are held as dates."""

    def __init__(self, book: CalamineWorkbook, name: str) -> None:
        self.name = name
        self._book = book
        self._rows: list[Row] | None = None
        self._lines: list[int] = []
        self._found: list[CellFinding] = []

    def progress(self) -> tuple[int, int]:
        return 0, 0

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """Raises FileRejected (workbook_damaged)."""
        if self._rows is None:
            self._rows = self._read()
        for first in range(0, len(self._rows), block_rows):
            rows = self._rows[first : first + block_rows]
            lines = self._lines[first : first + block_rows]
            has_gap = lines[-1] - lines[0] >= len(lines)
            yield Block(rows, lines if has_gap else range(lines[0], lines[-1] + 1), [])

    def outside(self) -> Iterator[tuple[int, Row]]:
        return iter(())

    def findings(self) -> Iterable[CellFinding]:
        return self._found

    def _read(self) -> list[Row]:
        rows: list[Row] = []
        lines: list[int] = []
        for line, row in enumerate(_tried(lambda: self._book.get_sheet_by_name(self.name).iter_rows()), 1):
            text = [cell_text(one) for one in row[:WIDEST]] if any(one != "" for one in row) else []
            if not any(text):
                continue
            if any(one != "" for one in row[WIDEST:]):
                self._found.append(CellFinding("cells_beyond", line, None))
            last = lines[-1] if lines else 0
            blank = range(last + 1, min(line, last + 1 + LONGEST_GAP))
            rows += ([""] * len(text) for _ in blank)
            lines += blank
            rows.append(text)
            lines.append(line)
        self._lines = lines
        return rows


class OpenDocumentFile:
    """An OpenDocument file that was opened."""

    def __init__(self, file: BinaryIO) -> None:
        """Raises FileRejected (workbook_damaged), InputError where the library is missing."""
        try:
            from python_calamine import CalamineWorkbook
        except ImportError:
            raise InputError(
                "OpenDocument sheets need one more library",
                code="needs_calamine",
                remedy="Install it with: pip install 'bevelbook[sheets]'. Or save the sheet as .xlsx or CSV.",
            ) from None
        check_size(file)
        _refuse_expanding(file)
        file.seek(0)
        self._book = _tried(lambda: CalamineWorkbook.from_filelike(file))
        if not self._book.sheet_names:
            raise _damaged()

    def sheets(self) -> list[SheetOfBook]:
        """Its sheets in their order."""
        found = self._book.sheets_metadata
        return [SheetOfBook(one.name, not str(one.visible).endswith(".Visible")) for one in found]

    def charts(self) -> list[str]:
        """None: in such a file a chart lies on a sheet of cells."""
        return []

    def table(self, name: str) -> OpenDocumentTable:
        """The rows of a sheet."""
        return OpenDocumentTable(self._book, name)


def _refuse_expanding(file: BinaryIO) -> None:
    """Raise FileRejected (workbook_damaged) for repeated blanks, rows and cells that are more than any program writes:
    the library makes room for each of them."""
    from xml.parsers import expat

    room = _RoomOfSheet()
    parser = expat.ParserCreate()
    parser.StartElementHandler = room.begin
    file.seek(0)
    try:
        with zipfile.ZipFile(file) as archive, archive.open(_CONTENT) as content:
            parser.ParseFile(content)
    except (expat.ExpatError, zipfile.BadZipFile, zlib.error, OSError, EOFError, KeyError, RuntimeError) as fault:
        raise _damaged() from fault
    except (NotImplementedError, OverflowError, ValueError) as fault:
        raise _damaged() from fault


class _RoomOfSheet:
    """The cells of a sheet as its elements begin, each counted as often as it says that it is repeated."""

    def __init__(self) -> None:
        self.row = self.times = self.column = self.widest = self.last_filled = self.blanks = 0

    def begin(self, name: str, attributes: dict[str, str]) -> None:
        """One element. Raises FileRejected where there is too much."""
        if name == "table:table":
            self.row = self.times = self.widest = self.last_filled = 0
        elif name == "table:table-row":
            self.row += self.times
            self.times, self.column = _repeated(attributes, "table:number-rows-repeated"), 0
        elif name in ("table:table-cell", "table:covered-table-cell"):
            self.column += _repeated(attributes, "table:number-columns-repeated")
            if "office:value-type" in attributes or "calcext:value-type" in attributes:
                self._filled()
        elif name == "text:p":
            self._filled()
        elif name == "text:s":
            self.blanks += _repeated(attributes, "text:c")
            if self.blanks > MOST_BLANKS:
                raise _damaged()

    def _filled(self) -> None:
        self.widest = max(self.widest, self.column)
        self.last_filled = max(self.last_filled, self.row + self.times)
        if self.last_filled > LAST_ROW or self.widest * self.last_filled > MOST_CELLS:
            raise _damaged()


def _repeated(attributes: dict[str, str], name: str) -> int:
    times = attributes.get(name, "1")
    return int(times) if times.isascii() and times.isdigit() and len(times) < _LONGEST_COUNT else 1


def _tried(read: Any) -> Any:
    """What the library reads; its own failures, of any class, are a damaged file."""
    try:
        return read()
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as fault:
        raise _damaged() from fault


def _damaged() -> InputError:
    return rejected("workbook_damaged", "the sheet cannot be opened", remedy="Save it again, or save it as CSV.")
