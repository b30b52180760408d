"""A file of notes into the database: read, judge, stage, place, report."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any, BinaryIO, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.facts.renew import renew_touched
from bevelbook.facts.touched import touch
from bevelbook.notes.bulk import Bulk
from bevelbook.notes.columns import Cells, Evidence, Settled, UndecidedError, settle, unsettled
from bevelbook.notes.decoding import Decoding, FileRejected, decoding_of
from bevelbook.notes.headings import Heading, beside, check_heading, find_heading, units_in
from bevelbook.notes.note_columns import MASSES, NAMES
from bevelbook.notes.placing import Placing
from bevelbook.notes.rejects import write_rejects
from bevelbook.notes.report import SHOWN_OF_A_KIND, Rejection, Report, grouped_findings
from bevelbook.notes.rows import LeftRow, RowReader, Watched
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import Stage, make_room
from bevelbook.notes.table import Block, NoteTable, Row, TextTable, sample_of
from bevelbook.reading import Options
from bevelbook.reading.faults import trimmed
from bevelbook.reading.units import UnitError, scale_of
from bevelbook.store.ids import file_id
from bevelbook.store.opening import explained, transaction
from bevelbook.store.writing import now_utc

Progress = Callable[[str, int, int], None]
"""Called now and then with what is going on, how many rows are done, how many there are (0: not known yet)."""

_LID_ROWS: Final = 5
_HALF_DIGITS: Final = 1.5


class NoteSource(NamedTuple):
    """A file with its heading and encoding."""

    name: str
    table: NoteTable
    heading: Heading
    heading_line: int
    units: dict[int, str]
    units_line: int | None
    before: list[LeftRow]
    warnings: list[str]
    decoding: Decoding


def import_notes(
    file: BinaryIO,
    name: str,
    connection: sqlite3.Connection,
    path: Path,
    settings: Settings,
    *,
    dry_run: bool = False,
    want_rows: bool = False,
    by: str | None = None,
    asked: str = "",
    progress: Progress | None = None,
    rejects: Path | None = None,
    also: Callable[[str], None] | None = None,
) -> Report:
    """Import a file of notes. A structural fault gives a report with the outcome ``rejected`` and stores nothing.

    A dry run reads the database, if there is one, and writes nothing at all; its connection may be read-only.
    ``asked`` is the command as typed, kept with the entry; ``rejects`` is where the rejected rows go, if there
    are any. ``also`` is called in the same transaction, after the facts, with the file's id, if it added anything.
    Raises DatabaseError when the database cannot be written.
    """
    report = Report(name, dry_run=dry_run)
    tell = progress or (lambda _what, _done, _all: None)
    try:
        source = source_of(file, name, settings, pack=not dry_run)
        with staging(connection, path, source, every_finding=want_rows) as stage, without_collector():
            read_into(stage, source, settings, report, tell)
    except FileRejected as fault:
        report.outcome, report.file_reason, report.message = "rejected", fault.code, str(fault)
        return report
    decoding = source.decoding

    def opened() -> tuple[Bulk, Placing]:
        bulk = Bulk(connection, note_file=file_id(decoding.sha256), stamp=now_utc(), by=by, dry=dry_run)
        return bulk, Placing(stage, bulk)

    if dry_run:
        _, placing = opened()
        placing.run(lambda done: tell("placing", done, stage.accepted))
    else:
        with without_collector(), transaction(connection, path, asked=asked or f"import {name}", by=by):
            bulk, placing = opened()  # inside, so that it sees what an import that it waited for wrote
            kept = {
                "name": name,
                "sha256": decoding.sha256,
                "byte_count": decoding.byte_count,
                "read_at": bulk.stamp,
                "options": json.dumps(settings.said(), ensure_ascii=False) if settings.said() else None,
                "accepted": report.accepted,
                "rejected": report.rejected,
                "skipped": report.skipped,
            }
            bulk.keep_file(values=kept, packed=decoding.packed or b"")
            bulk.set_indexes_aside(stage.accepted)
            placing.run(lambda done: tell("writing", done, stage.accepted))
            tell("indexing", stage.accepted, stage.accepted)
            bulk.finish()
            bulk.keep_left(stage.left(), stage.extras())
            tell("working out", stage.accepted, stage.accepted)
            touch(connection, placing.diffs)
            if also is not None and placing.added:
                renew_touched(connection)
                also(bulk.note_file)
        report.note_file = file_id(decoding.sha256)
    report.added, report.known, report.made = placing.added, placing.known, placing.counts()
    report.warnings += grouped_findings(stage.findings(), stage.finding_counts)
    if want_rows:
        report.rows = rows_of(stage)
    if rejects is not None and report.rejected:
        report.rejects_file = str(write_rejects(stage, source.heading, rejects))
    return report


@contextmanager
def staging(
    connection: sqlite3.Connection, path: Path, source: NoteSource, *, every_finding: bool = False
) -> Iterator[Stage]:
    """The stage while it is filled: one transaction on temporary tables, which locks nothing.

    Raises DatabaseError if there is no space for them.
    """
    try:
        make_room(connection)
        connection.execute("BEGIN")
        try:
            yield Stage(connection, NAMES, tuple(source.heading.known), every_finding=every_finding)
        except BaseException:
            connection.rollback()
            raise
        connection.execute("COMMIT")
    except sqlite3.Error as fault:
        raise explained(fault, path) from fault


@contextmanager
def without_collector() -> Iterator[None]:
    """Thousands of rows are made and freed without cycles: looking for cycles takes a tenth of the time."""
    import gc

    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@contextmanager
def reading_faults(path: Path) -> Iterator[None]:
    """Turn a file that cannot be read into an InputError."""
    try:
        yield
    except OSError as fault:
        raise InputError(
            "cannot be read", code="not_readable", place=Place(str(path)), found=fault.strerror or str(fault)
        ) from fault


def profile_of(path: Path, settings: Settings) -> str:
    """The text of a profile for a file's headings. Raises FileRejected where no heading is found."""
    from bevelbook.notes.profiles import profile_text

    with reading_faults(path), path.open("rb") as file:
        source = source_of(file, path.name, settings, pack=False, check=False)
    return profile_text(source.heading, settings, {**_units(source, settings), **settings.units})


def source_of(file: BinaryIO, name: str, settings: Settings, *, pack: bool, check: bool = True) -> NoteSource:
    """Find encoding, delimiter and heading. Raises FileRejected."""
    warnings: list[str] = []
    table: NoteTable
    if _is_workbook(file):
        from bevelbook.notes.workbook import WorkbookTable, workbook_decoding

        decoding = workbook_decoding(file, pack=pack)
        table = WorkbookTable(file)
        from bevelbook.notes.headings import heading_in, no_heading

        first = next(table.blocks(60), Block([], range(0), []))
        heading = heading_in(first.rows, own=settings.columns, line=settings.header_line, delimiter=",")
        if heading is None:
            raise no_heading(settings.header_line)
    else:
        decoding = decoding_of(file, settings.encoding, pack=pack)
        sample = sample_of(file, decoding.encoding)
        heading = find_heading(sample, own=settings.columns, delimiter=settings.delimiter, line=settings.header_line)
        table = TextTable(file, decoding.encoding, heading.delimiter)
    if decoding.warning:
        warnings.append(decoding.warning)
    source = _placed(name, table, heading, warnings, decoding)
    if check:
        check_heading(heading, source.heading_line)
    return source


def _placed(name: str, table: NoteTable, heading: Heading, warnings: list[str], decoding: Decoding) -> NoteSource:
    """The source with everything up to the heading and the row of units under it accounted for."""
    before: list[LeftRow] = []
    first = next(table.blocks(heading.row + 2), Block([], range(0), []))
    line = first.lines[heading.row] if heading.row < len(first.lines) else 1
    for row, here in zip(first.rows[: heading.row], first.lines, strict=False):
        text = "".join(row).strip()
        code = "blank" if not trimmed(text) else "sep_hint" if here == 1 and _is_hint(row) else "preamble"
        before.append(LeftRow(here, "skipped", code, None, None, None, row))
    units: dict[int, str] = {}
    units_line = None
    if heading.row + 1 < len(first.rows):
        found = units_in(first.rows[heading.row + 1], heading)
        if found:
            units, units_line = found, first.lines[heading.row + 1]
            row = first.rows[heading.row + 1]
            before.append(LeftRow(units_line, "skipped", "units_row", None, None, None, row))
    return NoteSource(name, table, heading, line, units, units_line, before, warnings, decoding)


def read_into(stage: Stage, source: NoteSource, settings: Settings, report: Report, tell: Progress) -> None:
    """Read the rows into the stage, with every column judged as a whole; fills in the report's counts.

    If no cell has two readings, one pass is enough; else the whole file is read first.
    """
    options = settings.reading_options()
    units = _units(source, settings)
    evidence = _nothing_seen(source, units, options)
    before = unsettled(evidence, options)
    try:
        if before is None:
            raise UndecidedError
        count = _read_rows(stage, source, settings, before, tell, _watched(source, evidence))
        settled, warnings = settle(evidence, options)
    except UndecidedError:
        stage.clear()
        evidence = _nothing_seen(source, units, options)
        _look_through(source, evidence, tell)
        settled, warnings = settle(evidence, options)
        count = _read_rows(stage, source, settings, settled, tell)
    report.warnings += source.warnings + _heading_warnings(source) + warnings + _fluid_warnings(evidence)
    if count == 0:
        report.warnings.append("no_rows")
    report.columns = {c.heading: c.field.name for c in source.heading.columns if c.field}
    stage.add_left(source.before)
    stage.settle_footers()
    step = _finest_step(evidence, units, settled)
    _lid_warning(stage, step, report)
    stage.settle_gaps(_HALF_DIGITS * step + 1e-9)
    _count(stage, report)


def _nothing_seen(source: NoteSource, units: dict[str, str | None], options: Options) -> dict[str, Evidence]:
    return {
        name: Evidence(column.field, units[name], options)
        for name, column in source.heading.known.items()
        if column.field and column.field.kind != "choice"
    }


def _watched(source: NoteSource, evidence: dict[str, Evidence]) -> list[tuple[Callable[[Sequence[str]], None], int]]:
    """The columns that collect evidence: numbers and days for what they prove, fluids for their spelling."""
    return [
        (one.look_at_names if one.field.name == "fluid" else one.look, source.heading.known[name].place)
        for name, one in evidence.items()
        if one.field.is_number or one.field.kind == "date" or one.field.name == "fluid"
    ]


def _look_through(source: NoteSource, evidence: dict[str, Evidence], tell: Progress) -> None:
    """Show every column all of its cells."""
    watched = _watched(source, evidence)
    width = len(source.heading.cells)
    count = 0
    for block in _below(source):
        rows = block.rows
        if set(map(len, rows)) - {width}:
            rows = [(row + [""] * width)[:width] for row in rows]
        turned = list(zip(*rows, strict=True)) or [()] * width
        for look, place in watched:
            look(turned[place])
        count += len(block.rows)
        tell("looking", count, 0)


def _read_rows(
    stage: Stage,
    source: NoteSource,
    settings: Settings,
    settled: dict[str, Settled],
    tell: Progress,
    watched: Watched = (),
) -> int:
    """Read all rows into the stage; returns how many there are. Raises UndecidedError if more has to be known."""
    options = settings.reading_options()
    cells = {
        name: Cells(
            column.field,
            settled.get(name, Settled()),
            options,
            settings.words.get(name, {}),
            settings.allow_out_of_range,
        )
        for name, column in source.heading.known.items()
        if column.field
    }
    reader = RowReader(source.heading, cells, watched)
    count = 0
    for block in _below(source):
        taken = reader.read(block)
        stage.add_rows(taken.lines, taken.columns)
        stage.add_left(taken.left)
        for line, code in taken.findings:
            stage.add_finding(line, code)
        for line, gap in taken.mass_gaps:
            stage.add_finding(line, "mass_balance", gap)
        stage.add_extras(taken.extras)
        count += len(block.rows) + len(block.broken)
        tell("reading", *source.table.progress())
    return count


def _below(source: NoteSource) -> Iterator[Block]:
    """The blocks of rows below the heading and its row of units."""
    skip = source.heading.row + 1 + (source.units_line is not None)
    for block in source.table.blocks():
        if skip:
            cut = min(skip, len(block.rows))
            skip -= cut
            block = Block(block.rows[cut:], block.lines[cut:], block.broken)
            if not block.rows and not block.broken:
                continue
        yield block


def _units(source: NoteSource, settings: Settings) -> dict[str, str | None]:
    """The unit of each column: the profile's, else the units row's, else the heading's; None if there is none."""
    return {
        name: settings.units.get(name) or source.units.get(column.place) or column.unit
        for name, column in source.heading.known.items()
    }


def _heading_warnings(source: NoteSource) -> list[str]:
    warnings = []
    blanks = {column.place for column in source.heading.columns if not column.heading}
    for column in source.heading.columns:
        if column.heading and column.field is None and not beside(column):
            warnings.append(f"unknown_column:{column.heading}")
    if blanks:
        filled: set[int] = set()
        for block in _below(source):
            for place in blanks - filled:
                if any(place < len(row) and trimmed(row[place]) for row in block.rows):
                    filled.add(place)
        warnings += [f"blank_header_column:{place + 1}" for place in sorted(filled)]
    return warnings


def _fluid_warnings(evidence: dict[str, Evidence]) -> list[str]:
    one = evidence.get("fluid")
    if one is None:
        return []
    groups: dict[str, list[str]] = {}
    for name in one.spellings:
        groups.setdefault("".join(c for c in name.casefold() if c.isalnum()), []).append(name)
    return [f"similar_fluid_names:{'|'.join(names)}" for names in groups.values() if len(names) > 1]


def _finest_step(evidence: dict[str, Evidence], units: dict[str, str | None], settled: dict[str, Settled]) -> float:
    """The last digit of the masses in g, in the finest of their columns."""
    steps = []
    for name in MASSES:
        if name in evidence:
            try:
                factor = scale_of("g", units[name] or "").factor
            except UnitError:
                continue
            steps.append(factor * 10.0 ** -evidence[name].decimals_under(settled[name].decimal))
    return min(steps, default=0.01)


def _lid_warning(stage: Stage, step: float, report: Report) -> None:
    gaps = [gap for gap, _ in stage.gaps() if gap > 0]
    if len(gaps) >= _LID_ROWS:
        middle = median(gaps)
        alike = sum(1 for gap in gaps if abs(gap - middle) <= max(2 * step, 0.05 * middle))
        if middle > _HALF_DIGITS * step and alike >= 0.8 * len(gaps) and len(gaps) >= 0.5 * stage.accepted:
            report.warnings.append(f"lid_on_scale:about {middle:.2f} g in {alike} rows")


def _count(stage: Stage, report: Report) -> None:
    report.left = stage.left_counts()
    report.accepted = stage.accepted
    report.rejected = sum(n for (status, _), n in report.left.items() if status == "rejected")
    report.skipped = sum(n for (status, _), n in report.left.items() if status == "skipped")
    report.read = report.accepted + report.rejected + report.skipped
    shown: dict[str, int] = {}
    for one in stage.left("rejected"):
        shown[one.reason] = shown.get(one.reason, 0) + 1
        if shown[one.reason] <= SHOWN_OF_A_KIND:
            report.rejections.append(Rejection(one.line, one.reason, one.column, one.value, one.words))


def rows_of(stage: Stage) -> list[dict[str, Any]]:
    """Every row of the file with its outcome, by line."""
    findings: dict[int, list[str]] = {}
    for line, code in stage.findings():
        findings.setdefault(line, []).append(code)
    rows: list[dict[str, Any]] = []
    for line, *values in stage.rows():
        row: dict[str, Any] = {"line": line, "status": "accepted"}
        row["values"] = dict(zip(NAMES, values, strict=True))
        row["warnings"] = findings.get(row["line"], [])
        rows.append(row)
    for one in stage.left():
        rows.append(
            {"line": one.line, "status": one.status, "reason": one.reason, "column": one.column, "value": one.value}
        )
    rows.sort(key=lambda row: int(row["line"]))
    return rows


def _is_hint(row: Row) -> bool:
    return bool(row) and row[0].strip().lower().startswith("sep=")


def _is_workbook(file: BinaryIO) -> bool:
    file.seek(0)
    return file.read(4) == b"PK\x03\x04"


def check_file(path: Path) -> None:
    """Raise InputError unless the path is a file that can be read."""
    place = Place(str(path))
    if path.is_dir():
        raise InputError("this is a folder", code="is_folder", place=place, remedy="Name a file of notes.")
    if not path.exists():
        raise InputError("no such file", code="no_file", place=place, remedy="Check the name.")
