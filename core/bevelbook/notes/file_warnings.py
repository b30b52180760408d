"""What is odd about a file as a whole: columns nobody knows, a lid left on the scale."""

from __future__ import annotations

from statistics import median
from typing import Final

from bevelbook.formulas.mass_agreement import HALF_DIGITS
from bevelbook.notes.columns import Evidence, Settled
from bevelbook.notes.headings import Heading, beside
from bevelbook.notes.note_columns import MASSES
from bevelbook.notes.pairs_in_cells import OIL_LABEL, PAIRS_IN_CELLS
from bevelbook.notes.report import LINES_PER_REASON, Report
from bevelbook.notes.source import NoteSource, rows_below
from bevelbook.notes.staging import Stage
from bevelbook.reading.faults import trimmed
from bevelbook.reading.units import UnitError, scale_of

_LID_ROWS: Final = 5
_MANY_PAIRS: Final = 3
"""The fewest rows with such a cell that are named; fewer where they are half of the rows."""
NAMED_COLUMNS: Final = 40
"""Unknown columns past these are only counted."""


def heading_warnings(source: NoteSource) -> list[str]:
    warnings = []
    blanks = {column.place for column in source.heading.columns if not column.heading} - source.unit_places.keys()
    unknown = [
        column.heading
        for column in source.heading.columns
        if column.heading
        and column.field is None
        and not (column.is_ignored or beside(column) or column.place in source.unit_places)
    ]
    warnings += [f"unknown_column:{heading}" for heading in unknown[:NAMED_COLUMNS]]
    if len(unknown) > NAMED_COLUMNS:
        warnings.append(f"unknown_column:{len(unknown) - NAMED_COLUMNS} more columns")
    if blanks:
        filled: set[int] = set()
        for block in rows_below(source):
            for place in blanks - filled:
                if any(place < len(row) and trimmed(row[place]) for row in block.rows):
                    filled.add(place)
        warnings += [f"blank_header_column:{place + 1}" for place in sorted(filled)]
    return warnings


def finest_step(evidence: dict[str, Evidence], units: dict[str, str | None], settled: dict[str, Settled]) -> float:
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


def lid_warning(stage: Stage, step: float, report: Report) -> None:
    gaps = [gap for gap, _ in stage.gaps() if gap > 0]
    if len(gaps) >= _LID_ROWS:
        middle = median(gaps)
        alike = sum(1 for gap in gaps if abs(gap - middle) <= max(2 * step, 0.05 * middle))
        if middle > HALF_DIGITS * step and alike >= 0.8 * len(gaps) and len(gaps) >= 0.5 * stage.accepted:
            report.warnings.append(f"lid_on_scale:about {middle:.2f} g in {alike} rows")


def pairs_warning(stage: Stage, heading: Heading, report: Report) -> None:
    """Name the column and the lines where many labels of oil look like two."""
    lines, count = stage.take_findings(PAIRS_IN_CELLS, LINES_PER_REASON)
    if count < _MANY_PAIRS and 2 * count < max(stage.accepted, 1):
        return
    named = ", ".join(map(str, lines)) + (f" and {count - len(lines)} more" if count > len(lines) else "")
    report.warnings.append(f"{PAIRS_IN_CELLS}:{heading.known[OIL_LABEL].heading} (lines {named})")
