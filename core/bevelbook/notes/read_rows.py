"""The rows of a file into the stage: every column judged as a whole first, each row then taken or left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from bevelbook.formulas.mass_agreement import HALF_DIGITS
from bevelbook.notes.best_laps import lines_with_odd_best_lap
from bevelbook.notes.column_units import ColumnUnit, column_units, temperature_question
from bevelbook.notes.columns import Cells, Evidence, Settled, UndecidedError, settle, unsettled
from bevelbook.notes.decimal_mark import decimal_questions
from bevelbook.notes.file_warnings import finest_step, heading_warnings, lid_warning, pairs_warning
from bevelbook.notes.note_columns import NAMES
from bevelbook.notes.other_tables import check_one_table, check_units_below
from bevelbook.notes.questions import FileQuestion
from bevelbook.notes.report import SHOWN_OF_A_KIND, Rejection, Report
from bevelbook.notes.rows import RowReader, Watched
from bevelbook.notes.settings import Settings
from bevelbook.notes.source import NoteSource, lines_outside, rows_below
from bevelbook.notes.staging import Stage
from bevelbook.reading import Options

Progress = Callable[[str, int, int], None]
"""Called now and then with what is going on, how many rows are done, how many there are (0: not known yet)."""


def read_into(stage: Stage, source: NoteSource, settings: Settings, report: Report, tell: Progress) -> None:
    """Read the rows into the stage, with every column judged as a whole; fills in the report's counts.

    If no cell has two readings, one pass is enough; else the whole file is read first.
    """
    said = column_units(source.heading, source.layout, settings, source.unit_places)
    units = {name: one.unit for name, one in said.items()}
    evidence = _nothing_seen(source, said, settings)
    before = unsettled(evidence)
    try:
        if before is None:
            raise UndecidedError
        count, settling = _read_rows(stage, source, settings, before, tell, _watched(source, evidence))
        settled, warnings = settle(evidence)
    except UndecidedError:
        stage.clear()
        evidence = _nothing_seen(source, said, settings)
        _look_through(source, evidence, tell)
        settled, warnings = settle(evidence)
        count, settling = _read_rows(stage, source, settings, settled, tell)
    report.settled_by_option = settling
    _show_findings(stage, source, report)
    report.questions += _questions(source, evidence, settled)
    report.questions += source.questions
    report.not_understood = tuple(one.column.heading for one in source.understanding.unclear)
    report.not_looked_at = source.understanding.not_looked_at
    report.warnings += source.warnings + heading_warnings(source) + warnings
    report.warnings += [warning for step in source.reshapes for warning in step.warnings()]
    if count == 0:
        report.warnings.append("no_rows")
    report.columns = {c.heading: c.field.name for c in source.heading.columns if c.field}
    stage.add_left(source.before)
    stage.add_left(lines_outside(source))
    stage.settle_footers()
    step = finest_step(evidence, units, settled)
    lid_warning(stage, step, report)
    pairs_warning(stage, source.heading, report)
    stage.settle_gaps(HALF_DIGITS * step + 1e-9)
    count_rows(stage, report)


def _questions(
    source: NoteSource, evidence: Mapping[str, Evidence], settled: Mapping[str, Settled]
) -> Iterator[FileQuestion]:
    """What a person may say of the columns of days, of temperatures that say no unit, and of numbers."""
    for name, one in evidence.items():
        heading = source.heading.known[name].heading
        yield from one.days.questions(heading)
        if one.wants_unit:
            yield temperature_question(one.field, heading, one.samples, is_needed=bool(settled[name].unit_unknown))
    yield from decimal_questions(evidence, settled)


def options_for(source: NoteSource, settings: Settings) -> Options:
    """The options that a person gave, with the date base that the file itself says where none was given."""
    options = settings.reading_options()
    return options if options.date_base else options._replace(date_base=source.table.date_base)


def _options_of_columns(source: NoteSource, settings: Settings) -> dict[str, Options]:
    """The options for each known column, with what is settled for it."""
    options = options_for(source, settings)
    return {name: options._replace(**settings.settled.get(name, {})) for name in source.heading.known}


def look_at_columns(
    source: NoteSource, settings: Settings
) -> tuple[dict[str, Evidence], dict[str, Settled], list[str]]:
    """What the cells of each column prove, what is settled by that, and the warnings, without reading the rows."""
    evidence = _nothing_seen(
        source, column_units(source.heading, source.layout, settings, source.unit_places), settings
    )
    _look_through(source, evidence, lambda _what, _done, _all: None)
    return evidence, *settle(evidence)


def _show_findings(stage: Stage, source: NoteSource, report: Report) -> None:
    """Add what is odd about how a sheet shows its rows and the cells of known columns."""
    headings = {column.place: column.heading for column in source.heading.known.values()}
    for code, line, place in sorted(source.table.findings(), key=lambda one: (one.code, one.line or 0)):
        if place is not None and place not in headings:
            continue
        if line is None:
            report.warnings.append(f"{code}:{headings[place]}" if place is not None else code)
        elif line >= source.layout.first_line:
            stage.add_finding(line, code)


def _nothing_seen(source: NoteSource, said: Mapping[str, ColumnUnit], settings: Settings) -> dict[str, Evidence]:
    options = _options_of_columns(source, settings)
    return {
        name: Evidence(column.field, said[name].unit, options[name], has_units_beside=bool(said[name].beside))
        for name, column in source.heading.known.items()
        if column.field and column.field.kind != "choice"
    }


def _watched(source: NoteSource, evidence: dict[str, Evidence]) -> list[tuple[Callable[[Sequence[str]], None], int]]:
    """The columns that collect evidence: numbers and days, for what they prove."""
    return [
        (one.look, source.heading.known[name].place)
        for name, one in evidence.items()
        if one.field.is_number or one.field.kind == "date"
    ]


def _look_through(source: NoteSource, evidence: dict[str, Evidence], tell: Progress) -> None:
    """Show every column all of its cells."""
    watched = _watched(source, evidence)
    width = len(source.heading.cells)
    count = 0
    for block in rows_below(source):
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
) -> tuple[int, set[str]]:
    """Read all rows into the stage; returns how many there are, and the reasons that an option or a profile settles.

    Raises UndecidedError if more has to be known.
    """
    options = _options_of_columns(source, settings)
    said = column_units(source.heading, source.layout, settings, source.unit_places)
    cells = {
        name: Cells(
            column.field,
            settled.get(name, Settled()),
            options[name],
            settings.words.get(name, {}),
            settings.allow_out_of_range,
            said[name],
        )
        for name, column in source.heading.known.items()
        if column.field
    }
    reader = RowReader(source.heading, cells, watched, source.layout.units)
    count = 0
    for block in rows_below(source):
        taken = reader.read(block)
        stage.add_rows(taken.lines, taken.columns)
        stage.add_left(taken.left)
        for line, code in taken.findings:
            stage.add_finding(line, code)
        for line in lines_with_odd_best_lap(stage.connection, taken.lines, taken.columns):
            stage.add_finding(line, "best_lap_not_least")
        for line, gap in taken.mass_gaps:
            stage.add_finding(line, "mass_balance", gap)
        stage.add_extras(taken.extras)
        stage.add_corrected(taken.corrected)
        count += len(block.rows) + len(block.broken)
        tell("reading", *source.table.progress())
    if reader.may_be_heading:
        check_one_table(source.table, source.layout)
    check_units_below(reader.units_below, source.table, source.layout)
    return count, set().union(*(one.settled_by_option for one in cells.values()))


def count_rows(stage: Stage, report: Report) -> None:
    """Fill in the report's counts, and the rejected rows that it names."""
    report.rejections.clear()
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
