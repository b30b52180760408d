"""Rejected rows that come in corrected: the import that takes one closes it, so that it is asked for no more.

A row of the file of rejected rows has the line that it had before, and the cells of that line but for what was
corrected. A row that was corrected in the sheet itself has all cells of the rejected one but the one that was wrong,
which may be its day or its diff; else it is found by day and diff, or by its place. A row that is rejected once more
closes the earlier one too, since it is open in the newer file: it goes on from there, and what is found as it was in
any of its files closes it (``facts.rejected_again`` says what became of it).
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
from bevelbook.facts.rejected_again import EVERY_FORM
from bevelbook.notes.cells import kept_cells
from bevelbook.notes.changed_rows import LOOKS_CHANGED
from bevelbook.notes.corrected_lines import corrected_rows, files_of_rejects, is_of
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
    """A rejected row that nothing closed yet, as it was in one of the files that it was rejected in; ``file`` is what
    that kept file is called. ``open_id`` and ``open_note_file`` are its id and file where it is open, which may be a
    later one than this."""

    open_id: str
    open_note_file: str
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
    def is_open_here(self) -> bool:
        """Whether it is in this file that it is open."""
        return self.open_id == self.id

    @property
    def split_place(self) -> str | None:
        """The place of which the row has the values, if its sheet was split; such a row has it in a column."""
        last = (self.part or "").rpartition(", ")[2]
        return last if last in POSITIONS else None


class _Corrected(NamedTuple):
    """A row of a file of rejected rows: its file and line, the line it had before, the code of why it was rejected
    there and the column that was wrong, its cells, and whether it was taken."""

    note_file: str
    line: int
    of_line: int
    reason: str
    column: str
    cells: Sequence[str]
    is_taken: bool


class _FoundRow(NamedTuple):
    """A rejected row as it was found in a file: on which line, and whether it was taken now."""

    row: _Open
    line: int
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
    forms = _open_ones(connection)
    here = {(one.open_id, one.line) for one in forms if one.note_file == note_file}
    rejects = [one for one in forms if one.note_file != note_file]
    found = {one.open_id: _FoundRow(one, mends[one.id], True) for one in forms if one.is_open_here and one.id in mends}
    known = {*mends.values()}
    for row in _corrected(stage, source.heading, note_file) if rejects else ():
        if row.line in known:
            continue
        still = [one for one in rejects if one.open_id not in found and one.line == row.of_line]
        best = _best(connection, still, row, source.heading, source.name)
        if best is not None and (row.is_taken or (best.open_id, row.line) not in here):
            found[best.open_id] = _FoundRow(best, row.line, row.is_taken)
    same = [one for one in rejects if one.open_id not in found and one.file == source.called]
    for one in _in_the_sheet_itself(connection, stage, source, note_file, same, changing) if same else ():
        if one.is_taken or (one.row.open_id, one.line) not in here:
            found.setdefault(one.row.open_id, one)
    keep_past(
        connection, BY_NAME_OF_KIND["note_reject"], "r.id IN (SELECT value FROM json_each(?))", (json.dumps([*found]),)
    )
    _close(connection, {open_id: (note_file, one.line) for open_id, one in found.items()})
    counts = Counter(one.row.file for one in found.values() if one.is_taken)
    return tuple(Closed(rows, file) for file, rows in counts.items())


def close_by_kept(connection: sqlite3.Connection, source: NoteSource, note_file: str) -> None:
    """Close the rejected rows of a file that another kept file brought in corrected, or rejected once more, before,
    inside the caller's transaction: it is in the database again after it was taken back, or in a later state.
    """
    forms = [one for one in _open_ones(connection) if one.open_note_file == note_file]
    rejects = [one for one in forms if one.is_open_here]
    if not rejects:
        return
    leads_here = {(one.open_id, one.note_file, one.line) for one in forms}
    found = _as_in_earlier_states(connection, source, note_file, rejects, leads_here)
    files = [file for file in files_of_rejects(connection, source.name, source.part) if file.id != note_file]
    for is_taken in (True, False):
        for file in files if is_taken else reversed(files):
            rejected = connection.execute("SELECT line FROM note_rejects WHERE note_file = ?", (file.id,))
            left = {row[0] for row in rejected}
            for line, row in corrected_rows(connection, file.id).items():
                if (line in left) is is_taken:
                    continue
                still = [
                    one
                    for one in rejects
                    if one.line == row.of_line
                    and one.id not in found
                    and (one.id, file.id, line) not in leads_here
                    and (file.is_named or _is_for_same_reason(one, row.reason, row.column))
                ]
                corrected = _Corrected(file.id, line, *row, is_taken)
                best = _best(connection, still, corrected, source.heading, file.name)
                if best is not None:
                    found[best.id] = (file.id, line)
    _close(connection, found)


def taken_now(stage: Stage, again: Mapping[str, int]) -> dict[str, int]:
    """Of rows that were rejected on a line of a file, and once more elsewhere, those of which the file has the line
    taken now that it is read again; by the id of the row where it is open."""
    lines = {line for line, _ in stage.on_lines(sorted({*again.values()}))} if again else set()
    return {open_id: line for open_id, line in again.items() if line in lines}


def _close(connection: sqlite3.Connection, found: Mapping[str, tuple[str, int]]) -> None:
    """Keep the file and line that brought rejected rows in, by their ids."""
    connection.executemany(
        "UPDATE note_rejects SET closed_by = ?, closed_line = ? WHERE id = ?",
        [(file, line, reject) for reject, (file, line) in found.items()],
    )


def _open_ones(connection: sqlite3.Connection) -> list[_Open]:
    """The open rejected rows of all files, each also as it was in the files that it was rejected in before."""
    found = connection.execute(
        f"{EVERY_FORM} SELECT a.open_id, o.note_file, r.id, r.note_file, {called_file_sql('f')}, r.line, r.raw, "
        "r.reason, r.column_name, f.name, f.part FROM form a JOIN note_rejects o ON o.id = a.open_id "
        "JOIN note_rejects r ON r.id = a.id JOIN note_files f ON f.id = r.note_file "
        "ORDER BY r.note_file, r.line, a.open_id, r.id"
    )
    return [_Open._make((*row[:6], kept_cells(row[6]), *row[7:])) for row in found]


def _as_in_earlier_states(
    connection: sqlite3.Connection,
    source: NoteSource,
    note_file: str,
    rejects: Sequence[_Open],
    leads_here: Collection[tuple[str, str, int]],
) -> dict[str, tuple[str, int]]:
    """The rows that are in an earlier state of the sheet with the same cells, and what closed them there."""
    states: dict[tuple[str, ...], dict[str, list[tuple[str, int]]]] = {}
    for file, raw, closed_by, line in connection.execute(
        "SELECT r.note_file, r.raw, r.closed_by, r.closed_line FROM note_rejects r "
        f"JOIN note_files f ON f.id = r.note_file WHERE {called_file_sql('f')} = ? AND r.status = 'rejected' "
        "AND r.reason <> ? AND r.closed_by <> ?3 AND r.closed_line IS NOT NULL AND r.note_file <> ?3 "
        "ORDER BY f.read_at DESC, f.id, r.line, r.id",
        (source.called, LOOKS_CHANGED, note_file),
    ):
        states.setdefault(tuple(kept_cells(raw)), {}).setdefault(file, []).append((closed_by, line))
    found: dict[str, tuple[str, int]] = {}
    for one in rejects:
        for closings in states.get(tuple(one.cells), {}).values():
            if closings and one.reason != LOOKS_CHANGED and (one.id, *closings[0]) not in leads_here:
                found[one.id] = closings.pop(0)
                break
    return found


def _corrected(stage: Stage, heading: Heading, note_file: str) -> Iterator[_Corrected]:
    """The rows that say which line they had before."""
    places = heading.places_of_rejects
    if not places:
        return

    def row(line: int, of_line: int, cells: list[str], *, is_taken: bool) -> _Corrected:
        reason, column = (_cell(cells, places[name]) for name in ("reason", "column"))
        return _Corrected(note_file, line, of_line, reason.partition(":")[0], column, cells, is_taken)

    for line, of_line, cells in stage.corrected():
        yield row(line, of_line, cells, is_taken=True)
    for one in stage.left("rejected"):
        cells = kept_cells(one.raw)
        text = _cell(cells, places["line"]).strip()
        if text.isdecimal():
            yield row(one.line, int(text), cells, is_taken=False)


def _best(
    connection: sqlite3.Connection, rejects: Sequence[_Open], row: _Corrected, heading: Heading, name: str
) -> _Open | None:
    """Which of the rejected rows of its line a row of a file of rejected rows is; ``name`` is that of the file."""
    surest = max(
        (one for one in rejects if _is_it(one, row, heading, name)),
        key=lambda one: (one.is_of_sheet(name), _alike(one.cells, row.cells, heading), one.note_file),
        default=None,
    )
    return surest or _by_reason(connection, rejects, row, heading)


def _by_reason(
    connection: sqlite3.Connection, rejects: Sequence[_Open], row: _Corrected, heading: Heading
) -> _Open | None:
    """The row that was rejected on that line for the reason that the file says, with most cells equal, unless another
    one, open or not, has more of them: so it is known under any name, whatever was corrected in it."""
    found = max(
        (
            one
            for one in rejects
            if _is_for_same_reason(one, row.reason, row.column) and not _is_of_other_place(one, row, heading)
        ),
        key=lambda one: (_alike(one.cells, row.cells, heading), one.note_file),
        default=None,
    )
    if found is None or (share := _alike(found.cells, row.cells, heading)) < _ALIKE_SHARE:
        return None
    others = connection.execute(
        "SELECT raw FROM note_rejects WHERE line = ? AND reason = ? AND column_name IS ? AND note_file <> ? "
        "ORDER BY id",
        (row.of_line, found.reason, found.column, row.note_file),
    )
    return None if any(_alike(kept_cells(raw), row.cells, heading) > share for (raw,) in others) else found


def _is_for_same_reason(one: _Open, reason: str, column: str) -> bool:
    return (one.reason, one.column or "") == (reason, column)


def _is_it(one: _Open, row: _Corrected, heading: Heading, name: str) -> bool:
    """Whether a row is that rejected row: with its day and diff, with all cells but the one that was wrong, or from its
    file with most cells equal. A row of one place is never that of another place, which may have the same cells.
    """
    if _is_of_other_place(one, row, heading):
        return False
    places = [heading.known[field].place for field in ("date", "diff") if field in heading.known]
    if all(_cell(one.cells, place) == _cell(row.cells, place) for place in places):
        return True
    if _without(_wrong(one), heading, one.cells) == _without(_wrong(one), heading, row.cells):
        return True
    return one.is_of_sheet(name) and _alike(one.cells, row.cells, heading) >= _ALIKE_SHARE


def _is_of_other_place(one: _Open, row: _Corrected, heading: Heading) -> bool:
    position = heading.known.get("position")
    if one.split_place is None or not position:
        return False
    return _cell(row.cells, position.place) != one.split_place


def _cell(cells: Sequence[str], place: int) -> str:
    return (read_text(cells[place]) or "") if place < len(cells) else ""


def _alike(one: Sequence[str], other: Sequence[str], heading: Heading | None = None) -> float:
    """The share of equal cells among those that either row has filled; without those of the columns in which a file of
    rejected rows, with this heading, says why."""
    without = frozenset(heading.places_of_rejects.values() if heading else ())
    cells = enumerate(zip(one, other, strict=False))
    pairs = [(a.strip(), b.strip()) for place, (a, b) in cells if place not in without]
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
) -> Iterator[_FoundRow]:
    """Rejected rows of an earlier state of the same sheet: once more in it as they were, or corrected in it. One that
    was rejected in another file since, and is as it was here, stays open there."""
    again: dict[tuple[str, ...], list[int]] = {}
    for one in stage.left("rejected"):
        again.setdefault(tuple(kept_cells(one.raw)), []).append(one.line)
    waiting: list[_Open] = []
    for reject in rejects:
        lines = again.get(tuple(reject.cells))
        if not lines:
            waiting.append(reject)
        elif reject.is_open_here:
            yield _FoundRow(reject, lines[0], False)
    free = _new_lines(connection, note_file) | set(changing) if waiting else set()
    if free:
        yield from _RejectSearch(stage, source, free, changing).found(waiting)


class _RejectSearch:
    """Looks for rejected rows among the new lines of their sheet: the surest ways to know one first."""

    def __init__(self, stage: Stage, source: NoteSource, free: set[int], changing: Collection[int]) -> None:
        self.stage = stage
        self.heading = source.heading
        self.free = free
        self.changing = changing
        self.rows = cells_on(source, free)

    def found(self, waiting: Sequence[_Open]) -> Iterator[_FoundRow]:
        """Each rejected row that was found, with the new line that it is on."""
        met: set[str] = set()
        for lines_of in (self._equal_otherwise(waiting), self._of_the_day(), self._near):
            left: list[_Open] = []
            for one in waiting:
                if one.open_id in met:
                    continue
                lines = [line for line in lines_of(one) if line in self.free]
                if lines:
                    best = min(lines, key=lambda line: (abs(line - one.line), line))
                    self.free.remove(best)
                    met.add(one.open_id)
                    yield _FoundRow(one, best, True)
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
