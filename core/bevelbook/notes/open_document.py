"""OpenDocument sheets (.ods, ISO/IEC 26300) as tables: typed cells need no guessing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, BinaryIO

from bevelbook.declare.errors import InputError
from bevelbook.notes.decoding import rejected
from bevelbook.notes.sheet_text import WIDEST
from bevelbook.notes.sheets import SheetOfBook
from bevelbook.notes.table import BLOCK_ROWS, Block, CellFinding, Row
from bevelbook.notes.workbook import cell_text

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook


class OpenDocumentTable:
    """A sheet of an OpenDocument file. Rows behind the last filled one are not rows."""

    date_base: int | None = None
    """Days are held as dates."""

    def __init__(self, book: CalamineWorkbook, name: str) -> None:
        self.name = name
        self._book = book
        self._rows: list[Row] | None = None
        self._found: list[CellFinding] = []

    def progress(self) -> tuple[int, int]:
        return 0, 0

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """Raises FileRejected (workbook_damaged)."""
        if self._rows is None:
            self._rows = self._read()
        for first in range(0, len(self._rows), block_rows):
            rows = self._rows[first : first + block_rows]
            yield Block(rows, range(first + 1, first + 1 + len(rows)), [])

    def outside(self) -> Iterator[tuple[int, Row]]:
        return iter(())

    def findings(self) -> Iterable[CellFinding]:
        return self._found

    def _read(self) -> list[Row]:
        cells = _tried(lambda: self._book.get_sheet_by_name(self.name).to_python(skip_empty_area=False))
        rows = [[*map(cell_text, row[:WIDEST])] for row in cells]
        self._found = [
            CellFinding("cells_beyond", line, None)
            for line, row in enumerate(cells, 1)
            if any(one != "" for one in row[WIDEST:])
        ]
        while rows and not any(rows[-1]):
            rows.pop()
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
        file.seek(0)
        self._book = _tried(lambda: CalamineWorkbook.from_filelike(file))
        if not self._book.sheet_names:
            raise _damaged()

    def sheets(self) -> list[SheetOfBook]:
        """Its sheets in their order."""
        found = self._book.sheets_metadata
        return [SheetOfBook(one.name, not str(one.visible).endswith(".Visible")) for one in found]

    def table(self, name: str) -> OpenDocumentTable:
        """The rows of a sheet."""
        return OpenDocumentTable(self._book, name)


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
