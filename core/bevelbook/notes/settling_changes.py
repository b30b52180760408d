"""What happens to rows that look changed, as a person or an option says; without an answer they are rejected."""

from __future__ import annotations

from collections.abc import Sequence

from bevelbook.notes.changed_rows import LOOKS_CHANGED, ChangedRow, Decide
from bevelbook.notes.read_rows import count_rows
from bevelbook.notes.report import Report, SettledChange
from bevelbook.notes.source import NoteSource, cells_on
from bevelbook.notes.staging import Stage


def settle_changes(
    stage: Stage, source: NoteSource, report: Report, found: Sequence[ChangedRow], decide: Decide | None
) -> list[ChangedRow]:
    """The rows that are to change an earlier one; those that are not taken leave the stage."""
    if not found:
        return []
    answers = decide(found) if decide else {}
    report.changed = [SettledChange(one, answers.get(one.line, "reject")) for one in found]
    left = {one.row.line: one for one in report.changed if one.answer in ("leave", "reject")}
    cells = cells_on(source, left)
    for line, one in left.items():
        status = "skipped" if one.answer == "leave" else "rejected"
        first = (*one.row.differences, *one.row.stays)[0]
        column, value = first.column, first.now
        stage.leave_out(
            line,
            (line, status, LOOKS_CHANGED, column, None if value is None else str(value), one.row.words(), cells[line]),
        )
    if left:
        count_rows(stage, report)
        report.settled_by_option.add(LOOKS_CHANGED)
    return [one.row for one in report.changed if one.answer == "change"]
