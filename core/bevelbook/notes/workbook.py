"""Workbooks (.xlsx, ISO/IEC 29500) as a table: typed cells need no guessing, formulas give their stored values."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from itertools import islice
from typing import TYPE_CHECKING, Any, BinaryIO, Final

from bevelbook.declare.errors import InputError
from bevelbook.notes.cells import SheetNumber
from bevelbook.notes.decoding import CHUNK, Decoding, rejected
from bevelbook.notes.table import BLOCK_ROWS, Block, Row

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

LARGEST_UNPACKED: Final = 200_000_000
WIDEST: Final = 500
WIDTH_ROWS: Final = 60


class WorkbookTable:
    """The first sheet of a workbook. A sheet does not say where a row ends: short rows are filled up."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file

    def progress(self) -> tuple[int, int]:
        return 0, 0

    def blocks(self, block_rows: int = BLOCK_ROWS) -> Iterator[Block]:
        """Raises FileRejected (workbook_damaged)."""
        book = _opened(self.file)
        try:
            rows = book.worksheets[0].iter_rows(values_only=True, max_col=WIDEST)
            first, width = 1, 0
            while True:
                try:
                    block = [_texts(row) for row in islice(rows, block_rows)]
                except (zipfile.BadZipFile, LookupError, ValueError, SyntaxError, OSError) as fault:
                    raise _damaged() from fault
                if not block:
                    return
                width = max(width, *map(len, block[:WIDTH_ROWS]))
                block = [row + [""] * (width - len(row)) for row in block]
                yield Block(block, range(first, first + len(block)), [])
                first += len(block)
        finally:
            book.close()


def workbook_decoding(file: BinaryIO, *, pack: bool) -> Decoding:
    """Hash and size of a workbook; refuses one over the limit before unpacking it."""
    import hashlib
    import zlib

    _check_size(file)
    file.seek(0)
    digest, count, packed, packer = hashlib.sha256(), 0, [], zlib.compressobj(1)
    while chunk := file.read(CHUNK):
        digest.update(chunk)
        count += len(chunk)
        if pack:
            packed.append(packer.compress(chunk))
    packed.append(packer.flush())
    return Decoding("workbook", None, digest.hexdigest(), count, b"".join(packed) if pack else None)


def _check_size(file: BinaryIO) -> None:
    try:
        with zipfile.ZipFile(file) as archive:
            size = sum(info.file_size for info in archive.infolist())
            names = set(archive.namelist())
    except zipfile.BadZipFile as fault:
        raise _damaged() from fault
    if size > LARGEST_UNPACKED:
        raise rejected(
            "workbook_too_large",
            f"the workbook unpacks to {size / 1e6:,.0f} MB, more than {LARGEST_UNPACKED / 1e6:,.0f} MB",
            remedy="Save the sheet of notes alone as CSV.",
        )
    if "[Content_Types].xml" not in names:
        raise _damaged()


def _opened(file: BinaryIO) -> Workbook:
    try:
        from openpyxl import load_workbook
    except ImportError:
        raise InputError(
            "workbooks need one more library",
            code="needs_openpyxl",
            remedy="Install it with: pip install 'bevelbook[xlsx]'. Or save the sheet as CSV.",
        ) from None
    file.seek(0)
    try:
        book = load_workbook(file, read_only=True, data_only=True, keep_links=False)
    except (zipfile.BadZipFile, LookupError, ValueError, TypeError, SyntaxError, OSError) as fault:
        raise _damaged() from fault
    if not book.worksheets:
        raise _damaged()
    return book


def _damaged() -> InputError:
    return rejected("workbook_damaged", "the workbook cannot be opened", remedy="Save it again, or save it as CSV.")


def _texts(row: tuple[Any, ...]) -> Row:
    cells = [_text(value) for value in row]
    while cells and not cells[-1]:
        cells.pop()
    return cells


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
        return value.date().isoformat() if value.time() == time(0) else value.isoformat(timespec="seconds")
    if isinstance(value, date):
        return value.isoformat()
    return str(value)
