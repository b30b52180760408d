"""Rejected rows that come in corrected: the import that takes one closes it, so that it is asked for no more.

A row of the file of rejected rows has the line that it had before, and the cells of that line but for what was
corrected. A row that was corrected in the sheet itself has all cells of the rejected one but the one that was wrong,
which may be its day or its diff; else it is found by day and diff, or by its place. A row that is rejected once more
closes the earlier one too, since it is open in the newer file.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.notes.cells import kept_cells
from bevelbook.notes.changed_rows import LOOKS_CHANGED
from bevelbook.notes.corrected_lines import corrected_rows, is_of, is_of_rejects
from bevelbook.notes.headings import Heading
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.source import NoteSource, cells_on
from bevelbook.notes.staging import Stage
from bevelbook.reading import ReadingError, read_text
from bevelbook.reading.date_forms import DayForms
from bevelbook.reading.dates import days_of
from bevelbook.records import BY_NAME as BY_NAME_OF_KIND
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store.kept_past import keep_past

_ALIKE_SHARE: Final = 0.5
"""The least share of equal cells for a row that is recognised by its line and the name of its file alone."""
_NEAR_LINES: Final = 3
"""How far a row may have moved in its sheet where only its place and most of its cells say which it is."""


class Closed(NamedTuple):
    """How many rejected rows of a file came in corrected, and by which file."""

    rows: int
    file: str

    def line(self) -> str:
        """The same for people."""
        return f"closes {counted(self.rows, 'rejected row')} of {self.file}"


class _Open(NamedTuple):
    """A rejected row that nothing closed yet; ``file`` is what its kept file is called."""

    id: str
    note_file: str
    file: str
    line: int
    cells: list[str]
    reason: str
    column: str | None
    name: str
    part: str | None

    def is_of_sheet(self, name: str) -> bool:
        """Whether a file is, by its name, the one of the rejected rows of this row's sheet."""
        return is_of(name, self.name, self.part)

    @property
    def split_place(self) -> str | None:
        """The place of which the row has the values, if its sheet was split; such a row has it in a column."""
        last = (self.part or "").rpartition(", ")[2]
        return last if last in POSITIONS else None


class _Corrected(NamedTuple):
    """A row of a file of rejected rows: its line, the line it had before, its cells, and whether it was taken now."""

    line: int
    of_line: int
    cells: list[str]
    is_taken: bool


def close_rejects(
    connection: sqlite3.Connection,
    stage: Stage,
    source: NoteSource,
    note_file: str,
    changing: Collection[int] = (),
    mends: Mapping[str, int] = MappingProxyType({}),
) -> tuple[Closed, ...]:
    """Close the rejected rows that a file brings in corrected, inside the caller's transaction; says how many of which
    file. ``changing`` are the lines of the file that change an earlier row, ``mends`` the rejected rows of which it is
    known which line of the file they are, by id: those are not looked for.
    """
    heading, name = source.heading, source.name
    rejects = _open_ones(connection, note_file)
    if not rejects:
        return ()
    found: dict[str, tuple[int, bool]] = {}
    open_ones = {one.id: one for one in rejects}
    for reject in mends.keys() & open_ones.keys():
        found[reject] = (mends[reject], True)
        del open_ones[reject]
    known = {*mends.values()}
    for row in _corrected(stage, heading):
        if row.line in known:
            continue
        best = max(
            (one for one in open_ones.values() if one.line == row.of_line and _is_it(one, row, heading, name)),
            key=lambda one: (one.is_of_sheet(name), _alike(one.cells, row.cells), one.note_file),
            default=None,
        )
        if best is not None:
            found[best.id] = (row.line, row.is_taken)
            del open_ones[best.id]
    same = [one for one in open_ones.values() if one.file == source.called]
    if same:
        found |= _in_the_sheet_itself(connection, stage, source, note_file, same, changing)
    keep_past(
        connection, BY_NAME_OF_KIND["note_reject"], "r.id IN (SELECT value FROM json_each(?))", (json.dumps([*found]),)
    )
    connection.executemany(
        "UPDATE note_rejects SET closed_by = ?, closed_line = ? WHERE id = ?",
        [(note_file, line, reject) for reject, (line, _) in found.items()],
    )
    files = {one.id: one.file for one in rejects}
    counts = Counter(files[reject] for reject, (_, is_taken) in found.items() if is_taken)
    return tuple(Closed(rows, file) for file, rows in counts.items())


def close_by_kept(connection: sqlite3.Connection, source: NoteSource, note_file: str) -> None:
    """Close the rejected rows of a file that a kept file of its rejected rows brought in corrected before, inside the
    caller's transaction: it is in the database again after it was taken back, or in a later state.
    """
    rejects = _open_ones(connection, note_file, of_others=False)
    kept = connection.execute("SELECT id, name FROM note_files WHERE id <> ? ORDER BY read_at, id", (note_file,))
    files = (
        [row[0] for row in kept if is_of_rejects(row[1]) and is_of(row[1], source.name, source.part)] if rejects else []
    )
    found: dict[str, tuple[str, int]] = {}
    for file in files:
        left = {row[0] for row in connection.execute("SELECT line FROM note_rejects WHERE note_file = ?", (file,))}
        for line, (of_line, cells) in corrected_rows(connection, file).items():
            row = _Corrected(line, of_line, list(cells), True)
            for one in rejects if line not in left else ():
                if one.line == of_line and one.id not in found and _is_it(one, row, source.heading, one.name):
                    found[one.id] = (file, line)
    connection.executemany(
        "UPDATE note_rejects SET closed_by = ?, closed_line = ? WHERE id = ?",
        [(file, line, reject) for reject, (file, line) in found.items()],
    )


def closed_since(connection: sqlite3.Connection, note_file: str) -> int:
    """How many rejected rows of a file another one closed."""
    row = connection.execute(
        "SELECT count(*) FROM note_rejects WHERE note_file = ? AND status = 'rejected' AND closed_by IS NOT NULL",
        (note_file,),
    ).fetchone()
    return int(row[0])


def _open_ones(connection: sqlite3.Connection, note_file: str, *, of_others: bool = True) -> list[_Open]:
    """The open rejected rows of all other files, or those of this one."""
    found = connection.execute(
        f"SELECT r.id, r.note_file, {called_file_sql('f')}, r.line, r.raw, r.reason, r.column_name, f.name, f.part "
        "FROM note_rejects r JOIN note_files f ON f.id = r.note_file "
        "WHERE r.status = 'rejected' AND r.closed_by IS NULL "
        f"AND r.note_file {'<>' if of_others else '='} ? ORDER BY r.note_file, r.line, r.id",
        (note_file,),
    )
    return [_Open(row[0], row[1], row[2], row[3], kept_cells(row[4]), *row[5:]) for row in found]


def _corrected(stage: Stage, heading: Heading) -> Iterator[_Corrected]:
    """The rows that say which line they had before."""
    for line, of_line, cells in stage.corrected():
        yield _Corrected(line, of_line, cells, True)
    place = heading.line_before
    if place is None:
        return
    for one in stage.left("rejected"):
        cells = kept_cells(one.raw)
        if place < len(cells) and cells[place].strip().isdecimal():
            yield _Corrected(one.line, int(cells[place]), cells, False)


def _is_it(one: _Open, row: _Corrected, heading: Heading, name: str) -> bool:
    """Whether a row is that rejected row: with its day and diff, with all cells but the one that was wrong, or from its
    file with most cells equal. A row of one place is never that of another place, which may have the same cells.
    """
    position = heading.known.get("position")
    if one.split_place is not None and position and _cell(row.cells, position.place) != one.split_place:
        return False
    places = [heading.known[field].place for field in ("date", "diff") if field in heading.known]
    if all(_cell(one.cells, place) == _cell(row.cells, place) for place in places):
        return True
    if _without(_wrong(one), heading, one.cells) == _without(_wrong(one), heading, row.cells):
        return True
    return one.is_of_sheet(name) and _alike(one.cells, row.cells) >= _ALIKE_SHARE


def _cell(cells: Sequence[str], place: int) -> str:
    return (read_text(cells[place]) or "") if place < len(cells) else ""


def _alike(one: Sequence[str], other: Sequence[str]) -> float:
    """The share of equal cells among those that either row has filled."""
    pairs = [(a.strip(), b.strip()) for a, b in zip(one, other, strict=False)]
    filled = [pair for pair in pairs if any(pair)]
    return sum(a == b for a, b in filled) / len(filled) if filled else 0.0


def _wrong(one: _Open) -> str | None:
    """The column of a rejected row that was wrong; in a row that looked changed none was."""
    return None if one.reason == LOOKS_CHANGED else one.column


def _without(column: str | None, heading: Heading, cells: Sequence[str]) -> tuple[str, ...]:
    """The cells of a row in known columns, without one of them."""
    return tuple(_cell(cells, one.place) for name, one in heading.known.items() if name != column)


def _in_the_sheet_itself(
    connection: sqlite3.Connection,
    stage: Stage,
    source: NoteSource,
    note_file: str,
    rejects: Sequence[_Open],
    changing: Collection[int],
) -> dict[str, tuple[int, bool]]:
    """Rejected rows of an earlier state of the same sheet: once more in it as they were, or corrected in it."""
    found: dict[str, tuple[int, bool]] = {}
    again: dict[tuple[str, ...], list[int]] = {}
    for one in stage.left("rejected"):
        again.setdefault(tuple(kept_cells(one.raw)), []).append(one.line)
    waiting: list[_Open] = []
    for reject in rejects:
        lines = again.get(tuple(reject.cells))
        if lines:
            found[reject.id] = (lines[0], False)
        else:
            waiting.append(reject)
    free = _new_lines(connection, note_file) | set(changing) if waiting else set()
    if free:
        closed = _RejectSearch(stage, source, free, changing).found(waiting)
        found |= {reject_id: (line, True) for reject_id, line in closed}
    return found


class _RejectSearch:
    """Looks for rejected rows among the new lines of their sheet: the surest ways to know one first."""

    def __init__(self, stage: Stage, source: NoteSource, free: set[int], changing: Collection[int]) -> None:
        self.stage = stage
        self.heading = source.heading
        self.free = free
        self.changing = changing
        self.rows = cells_on(source, free)

    def found(self, waiting: Sequence[_Open]) -> Iterator[tuple[str, int]]:
        """The id of each rejected row that was found, with the new line that it is on."""
        for lines_of in (self._equal_otherwise(waiting), self._of_the_day(), self._near):
            left: list[_Open] = []
            for one in waiting:
                lines = [line for line in lines_of(one) if line in self.free]
                if lines:
                    best = min(lines, key=lambda line: (abs(line - one.line), line))
                    self.free.remove(best)
                    yield one.id, best
                else:
                    left.append(one)
            waiting = left

    def _equal_otherwise(self, waiting: Sequence[_Open]) -> Callable[[_Open], Collection[int]]:
        """The lines with all cells of a rejected row but the one that was wrong."""
        by_cells: dict[str | None, dict[tuple[str, ...], list[int]]] = {_wrong(one): {} for one in waiting}
        for column, lines in by_cells.items():
            for line, cells in self.rows.items():
                lines.setdefault(_without(column, self.heading, cells), []).append(line)
        return lambda one: by_cells[_wrong(one)].get(_without(_wrong(one), self.heading, one.cells), [])

    def _of_the_day(self) -> Callable[[_Open], Collection[int]]:
        """The lines with the day and diff of a rejected row; for one that looked changed those that change a row."""
        by_day: dict[tuple[str | None, str], list[int]] = {}
        place = self.stage.place("diff")
        for line, row in self.stage.on_lines(sorted(self.free)):
            by_day.setdefault((row[0], row[place]), []).append(line)

        def lines_of(one: _Open) -> Collection[int]:
            lines = by_day.get((_day(one, self.heading), _cell(one.cells, self.heading.known["diff"].place)), [])
            return [line for line in lines if line in self.changing or one.reason != LOOKS_CHANGED]

        return lines_of

    def _near(self, one: _Open) -> Collection[int]:
        """The lines about the place of a rejected row without a day or diff, with most other cells equal."""
        if _wrong(one) not in ("date", "diff"):
            return []
        lines = range(one.line - _NEAR_LINES, one.line + _NEAR_LINES + 1)
        cells = _without(one.column, self.heading, one.cells)
        return [
            line
            for line in lines
            if line in self.rows and _alike(cells, _without(one.column, self.heading, self.rows[line])) >= _ALIKE_SHARE
        ]


def _new_lines(connection: sqlite3.Connection, note_file: str) -> set[int]:
    """The lines of a file that made records: the others were in the database already."""
    tables = ("builds", "weighings", "runs")
    return {
        row[0]
        for table in tables
        for row in connection.execute(
            f"SELECT note_line FROM {table} WHERE note_file = ? AND note_line > 0", (note_file,)
        )
    }


def _day(one: _Open, heading: Heading) -> str | None:
    """The day of a rejected row, if it has only one reading."""
    try:
        days = days_of(BY_NAME["date"], _cell(one.cells, heading.known["date"].place) or "-", DayForms(joined=True))
    except ReadingError:
        return None
    return None if days is None or days.ambiguous else next(iter(days.readings.values()), None)
