"""``bevelbook calc NAME --rows FILE``: a calculator for every row of a table, with its results beside the row."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, BinaryIO, Final, NamedTuple

import click

from bevelbook.cli import print_fault, print_text, say_beside
from bevelbook.cli.files import FROM_DASH, TO_DASH, FileToRead, FileToWrite, ReadFrom, StandardOutput, WriteTo, on_disk
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError, InputError, Place, PluginFault
from bevelbook.declare.naming import InWords

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.calculating.calculate import Result
    from bevelbook.calculating.keep import KeptResult
    from bevelbook.calculating.kept_otherwise import KeptOtherwise
    from bevelbook.calculating.known import Subject
    from bevelbook.calculating.table_rows import AddedColumn, TableRows
    from bevelbook.cli.session import Session
    from bevelbook.notes.table import Row, TextTable
    from bevelbook.plugin.registry import Offered

OPTIONS_HEADING: Final = "A whole table"
_ROWS: Final = "rows_file"
_TO: Final = "rows_to"
_REPLACE: Final = "rows_replace"
_DECIMAL: Final = "rows_decimal"
NAMES: Final = frozenset({_ROWS, _TO, _REPLACE, _DECIMAL})
"""The names of these options' values."""
_SPREADS: Final = ("±", "+/-", "+-")
_SAMPLED: Final = 200
"""Rows whose numbers are looked at for the decimal mark of a file."""
_MOST_NAMED: Final = 3
"""Rows that are named, of those that could not be worked out."""
_LINE: Final = "line"


def options(taken: Collection[str]) -> list[click.Parameter]:
    """The options for a whole table, without those whose name an input of the calculator has taken."""
    return [one for one in _options() if one.opts[0] not in taken]


def _options() -> list[click.Option]:
    return [
        click.Option(
            ["--rows", _ROWS],
            type=FileToRead(),
            help="Work out every row of a CSV table and write it with its results. Columns are called as the inputs, "
            "with a unit behind or not: dry_mass_g, dry mass (oz). What is given beside it holds where a row is empty. "
            f"{FROM_DASH}",
        ),
        click.Option(
            ["--to", _TO],
            type=FileToWrite(),
            help=f"With --rows, the file to write, else standard output. {TO_DASH}",
        ),
        click.Option(["--replace", _REPLACE], is_flag=True, help="With --to, replace a file that is there."),
        click.Option(
            ["--decimal", _DECIMAL],
            type=click.Choice([".", ","]),
            help="With --rows, the decimal mark of its numbers, where they do not show it.",
        ),
    ]


def refuse_without_rows(values: Mapping[str, Any]) -> None:
    """Raises UsageError for an option of a whole table where no table is named."""
    for name, option in ((_TO, "--to"), (_REPLACE, "--replace"), (_DECIMAL, "--decimal")):
        if values.get(name):
            raise click.UsageError(f"{option} belongs to --rows FILE: name the table.")


def is_asked(values: Mapping[str, Any]) -> bool:
    """Whether a whole table is to be worked out."""
    return values.get(_ROWS) is not None


class TableRead(NamedTuple):
    """A table, opened: its rows, its heading with its line, and how it is written: between cells, decimal mark, sign at
    its beginning."""

    table: TextTable
    headings: Row
    line: int
    delimiter: str
    mark: str
    has_sign: bool
    has_spreads: bool
    is_guessed: bool


class RowDone(NamedTuple):
    """A row with its line, and its result or what was wrong; neither of an empty row."""

    line: int
    cells: Row
    result: Result | None
    fault: BevelbookError | None
    words: str = ""
    """What was wrong with the row itself, before anything could be worked out."""


def run_rows(
    session: Session,
    offered: Offered,
    values: Mapping[str, Any],
    texts: dict[str, Any],
    known: Mapping[str, tuple[Any, str]],
    subjects: Sequence[Subject],
) -> None:
    """Work out every row and write it; ends with 1 where a row could not be, with 3 where the calculator failed."""
    from bevelbook.notes.source import reading_faults

    source: ReadFrom = values[_ROWS]
    target: WriteTo = values.get(_TO) or StandardOutput()
    if isinstance(source, Path):
        _check(source)
        if isinstance(target, Path) and target.exists() and source.samefile(target):
            raise InputError(
                "the table that is read would be written over",
                code="same_file",
                place=Place(str(target)),
                remedy="Name another file to write.",
            )
    with on_disk(source) as path, _at_file(str(source)), ExitStack() as opened:
        with reading_faults(path):
            file = opened.enter_context(path.open("rb"))
            read = _opened_table(file, offered, values.get(_DECIMAL), texts)
        worked = _prepared(offered, read, texts, known)
        _say_what_is_read(read, worked)
        counts = _Counts()
        with ExitStack() as ends:
            # the file takes its place last: where the rest fails, the same again does not meet it
            into = ends.enter_context(_opened_target(target, replace=bool(values.get(_REPLACE))))
            connection = ends.enter_context(session.writing()) if values["keep"] else None
            keep = _keeper(session, offered, subjects, connection)
            write = (_json_writer if values["as_json"] else _csv_writer)(
                into, read, worked, is_invented=session.invented
            )
            written = _WrittenRows(into, write, is_kept=connection is not None)
            for row in _rows_done(read, worked, path):
                kept = keep(row.result) if row.result is not None else None
                counts.take(row, kept)
                written.row(row, kept)
            written.end()
    counts.say(target)
    if session.invented:
        from bevelbook.store.invented_mark import INVENTED_WORDS

        say_beside(f"bevelbook: {INVENTED_WORDS}")
    if not written.is_read:
        raise BrokenPipeError
    if counts.plugin_fault is not None:
        print_fault(counts.plugin_fault, as_json=False)
        click.get_current_context().exit(counts.plugin_fault.exit_code)
    if counts.faulty or counts.otherwise:
        click.get_current_context().exit(1)


class _WrittenRows:
    """Writes as long as somebody reads it; where results are kept, they are kept to the end all the same."""

    def __init__(self, into: IO[bytes], write: Write, *, is_kept: bool) -> None:
        self._into = into
        self._write = write
        self._is_kept = is_kept
        self.is_read = True

    def row(self, row: RowDone, kept: KeptResult | None) -> None:
        self._try(partial(self._write, row, kept))

    def end(self) -> None:
        self._try(self._into.flush)

    def _try(self, write: Callable[[], object]) -> None:
        if not self.is_read:
            return
        try:
            write()
        except BrokenPipeError:
            if not self._is_kept:
                raise
            self.is_read = False


def _check(path: Path) -> None:
    place = Place(str(path))
    if path.is_dir():
        raise InputError("this is a folder", code="is_folder", place=place, remedy="Name a table in it.")
    if not path.exists():
        raise InputError("no such file", code="no_file", place=place, remedy="Check the name.")


@contextmanager
def _at_file(name: str) -> Iterator[None]:
    """Have what is wrong with the table name its file."""
    try:
        yield
    except InputError as fault:
        if fault.place.file is None and fault.place.field is None:
            fault.place = fault.place._replace(file=name)
        raise


def _opened_table(file: BinaryIO, offered: Offered, mark: str | None, texts: Mapping[str, Any]) -> TableRead:
    """Find encoding, the sign between cells, the heading and the decimal mark. Raises InputError."""
    from bevelbook.calculating.table_inputs import table_inputs
    from bevelbook.notes.decoding import decoding_of, rejected
    from bevelbook.notes.other_files import refuse_other_file
    from bevelbook.notes.table import DELIMITERS, TextTable, hinted_delimiter, sample_of, sample_rows

    if file.read(4) == b"PK\x03\x04":
        raise rejected(
            "not_a_table", "this is a workbook or a packed file", remedy="Save its sheet as CSV, and read that."
        )
    refuse_other_file(file)
    decoding = decoding_of(file)
    sample = sample_of(file, decoding.encoding)
    hinted = hinted_delimiter(sample)
    names = {name: sign for name, sign in DELIMITERS.items() if hinted in (None, sign)} or {"": hinted or ","}

    def known_under(sign: str) -> tuple[int, int]:
        headings = _heading_row(sample_rows(sample, sign), hinted)[1]
        try:
            return len(table_inputs(offered.calculator, headings).columns), len(headings)
        except InputError:
            return 1, len(headings)

    delimiter = max(names.values(), key=known_under)
    rows = sample_rows(sample, delimiter, _SAMPLED)
    place, headings = _heading_row(rows, hinted)
    has_spreads = any(sign in str(text) for text in texts.values() for sign in _SPREADS) or _has_spreads(
        file, decoding.encoding
    )
    if mark is None:
        mark = _mark_shown(table_inputs(offered.calculator, headings).columns, rows[place + 1 :])
    return TableRead(
        TextTable(file, decoding.encoding, delimiter),
        headings,
        place + 1,
        delimiter,
        mark,
        decoding.encoding.startswith("utf-8-sig"),
        has_spreads,
        decoding.warning is not None,
    )


def _heading_row(rows: Sequence[Row], hinted: str | None) -> tuple[int, Row]:
    """The first row with a word in it, behind a line such as ``sep=;``."""
    for place, row in enumerate(rows):
        if any(cell.strip() for cell in row) and not (
            place == 0 and hinted and row[0].strip().lower().startswith("sep")
        ):
            return place, row
    return 0, []


def _has_spreads(file: BinaryIO, encoding: str) -> bool:
    file.seek(0)
    import io

    text = io.TextIOWrapper(file, encoding=encoding, newline="")
    try:
        return any(sign in line for line in text for sign in _SPREADS)
    finally:
        text.detach()


def _mark_shown(columns: Sequence[Any], rows: Sequence[Row]) -> str:
    """The decimal mark that the first rows show; empty where none does, or both do."""
    from bevelbook.reading import ReadingError
    from bevelbook.reading.numbers import parts_of

    shown: set[str] = set()
    for _, place, field in ((one.heading, one.place, one.field) for one in columns if one.field.is_number):
        for row in rows:
            cell = row[place] if place < len(row) else ""
            try:
                parts = parts_of(field, cell) if cell.strip() else None
            except ReadingError:
                continue
            if parts is not None and parts.proof is not None:
                shown.add(parts.proof)
    return shown.pop() if len(shown) == 1 else ""


def _prepared(
    offered: Offered, read: TableRead, texts: dict[str, Any], known: Mapping[str, tuple[Any, str]]
) -> TableRows:
    from bevelbook.calculating.table_rows import TableRows
    from bevelbook.reading import BY_HAND

    options = BY_HAND._replace(decimal=read.mark) if read.mark else BY_HAND
    worked = TableRows(offered.calculator, read.headings, texts, known, options)
    if not worked.inputs.columns:
        raise InputError(
            f"no column of the table is an input of {offered.calculator.name}",
            code="missing_column",
            place=Place(line=read.line),
            found=", ".join(read.headings),
            wanted=", ".join(field.name for field in offered.calculator.inputs),
        )
    return worked


def _say_what_is_read(read: TableRead, worked: TableRows) -> None:
    from bevelbook.calculating.table_rows import inputs_in_words, others_in_words

    others = list(others_in_words(worked.inputs))
    lines = [f"read: {'; '.join(inputs_in_words(worked.inputs))}."]
    if others:
        lines.append(f"passed on as they are: {', '.join(others)}.")
    if read.mark == ",":
        lines.append("numbers have a decimal comma, in the results as well.")
    if read.is_guessed:
        lines.append(f"the table is not in UTF-8; it is read as {read.table.encoding}.")
    for line in lines:
        say_beside(f"bevelbook: {line}")


def _rows_done(read: TableRead, worked: TableRows, path: Path) -> Iterator[RowDone]:
    """Every row below the heading, in order, with its result."""
    from bevelbook.notes.source import reading_faults
    from bevelbook.notes.table import block_rows

    width = len(read.headings)
    blocks = read.table.blocks(block_rows(width))
    while True:
        with reading_faults(path):
            block = next(blocks, None)
        if block is None:
            return
        broken = {one.line: one for one in block.broken if one.line > read.line}
        rows = {line: row for line, row in zip(block.lines, block.rows, strict=True) if line > read.line}
        for line in sorted((*rows, *broken)):
            if line in broken:
                yield RowDone(line, _fitted(broken[line].cells, width), None, None, broken[line].words)
            elif rows[line]:
                yield _row_done(worked, line, rows[line], width)


def _row_done(worked: TableRows, line: int, cells: Row, width: int) -> RowDone:
    behind = [cell for cell in cells[width:] if cell.strip()]
    cells = _fitted(cells, width)
    if behind:
        words = f"it has more cells than there are headings: {', '.join(behind)}"
        return RowDone(line, cells, None, None, words)
    if not any(cell.strip() for cell in cells):
        return RowDone(line, cells, None, None)
    try:
        return RowDone(line, cells, worked.result(cells), None)
    except (InputError, PluginFault) as fault:
        fault.naming = InWords(worked.calculator.inputs)
        return RowDone(line, cells, None, fault, fault.in_words() if isinstance(fault, PluginFault) else str(fault))


def _fitted(cells: Row, width: int) -> Row:
    return [*cells[:width], *[""] * (width - len(cells))]


class _Counts:
    """What became of the rows."""

    def __init__(self) -> None:
        self.done = self.kept = self.new = self.count_otherwise = 0
        self.otherwise: list[KeptOtherwise] = []
        self.faulty: list[tuple[int, str]] = []
        self.count_faulty = 0
        self.plugin_fault: PluginFault | None = None

    def take(self, row: RowDone, kept: KeptResult | None) -> None:
        self.done += row.result is not None
        if kept is not None:
            self.kept += kept.otherwise is None
            self.new += kept.is_new
            self.count_otherwise += kept.otherwise is not None
            if kept.otherwise is not None and len(self.otherwise) < _MOST_NAMED:
                self.otherwise.append(kept.otherwise)
        if row.words:
            self.count_faulty += 1
            if len(self.faulty) < _MOST_NAMED:
                self.faulty.append((row.line, row.words))
        if isinstance(row.fault, PluginFault):
            self.plugin_fault = self.plugin_fault or row.fault

    def say(self, target: WriteTo) -> None:
        """Say it on standard error, which is free whatever is written."""
        where = "" if isinstance(target, StandardOutput) else f", written to {target}"
        say_beside(f"bevelbook: {counted(self.done, 'row')} worked out{where}.")
        if self.kept:
            say_beside(f"bevelbook: {self.kept} kept, {self.new} of them new.")
        for one in self.otherwise:
            print_text(f"bevelbook: {one.sentence()}", err=True)
        if self.count_otherwise > len(self.otherwise):
            print_text(f"bevelbook: the same of {self.count_otherwise - len(self.otherwise)} more.", err=True)
        if self.count_faulty:
            print_text(
                f"bevelbook: {counted(self.count_faulty, 'row')} could not be worked out; the column error says why:",
                err=True,
            )
            for line, words in self.faulty:
                print_text(f"  line {line}: {words}", err=True)
            if self.count_faulty > len(self.faulty):
                print_text(f"  and {self.count_faulty - len(self.faulty)} more", err=True)


Keep = Callable[["Result"], "KeptResult | None"]
Write = Callable[[RowDone, "KeptResult | None"], None]


def _keeper(
    session: Session, offered: Offered, subjects: Sequence[Subject], connection: sqlite3.Connection | None
) -> Keep:
    """Keeps one result; None where nothing is to be kept."""
    if connection is None:
        return lambda result: None
    from bevelbook.calculating.keep import keep_one
    from bevelbook.calculating.rows import RowWriter
    from bevelbook.store.calculation_views import ensure_views
    from bevelbook.store.ids import now_utc

    ensure_views(connection, offered.calculator)
    writer, subject = RowWriter(offered, session.by, now_utc()), subjects[0] if subjects else None
    return lambda result: keep_one(connection, writer, result, subject)


@contextmanager
def _opened_target(target: WriteTo, *, replace: bool) -> Iterator[IO[bytes]]:
    from bevelbook.interchange.written_aside import written_aside

    if not isinstance(target, Path):
        yield target.open(is_text=True)
        return
    with written_aside(target, replace=replace) as file:
        yield file


def _csv_writer(into: IO[bytes], read: TableRead, worked: TableRows, *, is_invented: bool) -> Write:
    """Writes rows as the table was written: the same sign between cells, the same decimal mark. It has no place for the
    mark of invented data."""
    from bevelbook.calculating.table_rows import ERROR, REASONS, VERDICT, added_columns, reasons_in_a_cell, unused
    from bevelbook.interchange.csv_cells import text_cell

    calculator = worked.calculator
    added = added_columns(calculator, read.headings, with_spreads=read.has_spreads)
    held = {*read.headings, *(one.heading for one in added)}
    behind = [unused(name, held, calculator.name) for name in (VERDICT, REASONS, ERROR)]
    import csv
    import io

    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=read.delimiter, lineterminator="\n")
    if read.has_sign:
        into.write(b"\xef\xbb\xbf")

    def flush() -> None:
        into.write(text.getvalue().encode())
        text.seek(0)
        text.truncate()

    def write(row: RowDone, kept: KeptResult | None) -> None:
        found = row.result
        if found is None:
            writer.writerow([*row.cells, *[""] * (len(added) + 2), text_cell(row.words or None)])
        else:
            values = [_cell(one, found, read.mark) for one in added]
            writer.writerow([*row.cells, *values, found.verdict, text_cell(reasons_in_a_cell(found)), ""])
        flush()

    writer.writerow([*read.headings, *(one.heading for one in added), *behind])
    flush()
    return write


def _cell(column: AddedColumn, result: Result, mark: str) -> str:
    from bevelbook.interchange.csv_cells import text_cell

    value = column.value(result)
    if value is None or isinstance(value, str):
        return text_cell(value)
    return repr(value).replace(".", mark or ".")


def _json_writer(into: IO[bytes], read: TableRead, worked: TableRows, *, is_invented: bool) -> Write:
    """Writes a line of JSON for each row: the row as it is, and its result or what was wrong."""
    from json import dumps

    from bevelbook.calculating.table_rows import unused

    held: set[str] = set()
    names = [unused(heading, held, "again") for heading in read.headings]

    def write(row: RowDone, kept: KeptResult | None) -> None:
        said: dict[str, Any] = {_LINE: row.line, "row": dict(zip(names, row.cells, strict=True))}
        if row.result is not None:
            found = row.result.as_dict()
            said |= {name: value for name, value in found.items() if name != "sources"}
            said |= {"invented": True} if is_invented else {}
            said |= {"kept": kept.as_dict()} if kept is not None else {}
        elif row.fault is not None:
            said |= row.fault.as_dict() | {"file": None, _LINE: row.line}
        elif row.words:
            said["error"] = row.words
        into.write(dumps(said, ensure_ascii=False, allow_nan=False).encode() + b"\n")

    return write
