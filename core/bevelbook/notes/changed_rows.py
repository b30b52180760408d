"""Rows of a sheet that look like an earlier row of it, changed: a remark completed, a number corrected.

A row is looked for only among those that the sheet had before and no longer has, of the same day and diff; or, where
the day itself was corrected, at its place in the sheet, with all other cells equal. The sheet is known by its name, or
because most of its rows are in the database from one or more other files.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import groupby, islice
from typing import Any, Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import shown
from bevelbook.notes.bulk import LOOKED_UP_ROWS, Bulk
from bevelbook.notes.note_columns import NAMES, REFERRED
from bevelbook.notes.notes_of_stage import notes_of
from bevelbook.notes.row_read_back import DIGITS, HeldCells, cells_of
from bevelbook.notes.staging import Stage
from bevelbook.reading.labels import plain_label
from bevelbook.records import BY_NAME
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store.ids import content_id
from bevelbook.store.lookup import labels_of

CHANGED_LATER: Final = "changed_later"
"""The reason code of a row that was taken, and that a later file changed."""
LOOKS_CHANGED: Final = "looks_changed"
_FEW_ROWS: Final = 3
"""A sheet of at most this many rows is known by its name alone."""
_FEW_CELLS: Final = 2
_ALIKE_SHARE: Final = 0.5
_MOST: Final = 0.5
_IN_WORDS: Final = 3
"""How many cells that differ are named."""
_ROW_OF_A_LINE: Final = """
SELECT 'build', b.id, b.diff, b.built_on FROM builds b WHERE b.note_file = ?1 AND b.note_line = ?2
UNION ALL
SELECT 'weighing', w.id, b.diff, w.weighed_on FROM weighings w JOIN builds b ON b.id = w.build
WHERE w.note_file = ?1 AND w.note_line = ?2
UNION ALL
SELECT 'run_diff', x.id, b.diff, r.run_on FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build
WHERE x.note_file = ?1 AND x.note_line = ?2
"""
_OF_A_DAY: Final = (
    ("build", "b", "builds b", "built_on", "b"),
    ("weighing", "w", "weighings w JOIN builds b ON b.id = w.build", "weighed_on", "w"),
    ("run_diff", "x", "runs r JOIN run_diffs x ON x.run = r.id JOIN builds b ON b.id = x.build", "run_on", "r"),
)
"""The records of a row: kind, table, where they are found, the day, and the table that has the day."""
_ROWS_OF_A_DAY: Final = " UNION ALL ".join(
    f"SELECT '{kind}', {one}.id, {one}.note_file, {one}.note_line FROM {found} WHERE {of_day} "
    f"AND {no_index}b.diff = ?1 AND {no_index}{one}.note_file IN (SELECT value FROM json_each(?3))"
    for kind, one, found, day, dated in _OF_A_DAY
    for by_hand in [f"json_extract({dated}.entered, '$.{day}') IS NOT NULL"]
    for of_day, no_index in (
        (f"{dated}.{day} = ?2 AND NOT ({by_hand} AND substr({dated}.id, 1, 13) <> ?4)", ""),
        (f"{dated}.id >= ?4 AND {dated}.id < ?4 || '~' AND {dated}.{day} <> ?2 AND {by_hand}", "+"),
    )
)
"""The records of a diff and day in the sheet: one whose day a person set is of the day that its id begins with, and
looked for by that, not through all rows of the diff or the file."""


class CellDifference(NamedTuple):
    """A cell that differs: its column, what it was, and what it is now."""

    column: str
    before: Any
    now: Any

    def words(self) -> str:
        """The same for people."""
        was, is_now = (shown(str(value)) if value is not None else "empty" for value in (self.before, self.now))
        return f"{self.column} was {was}, is {is_now}"


class ChangedRow(NamedTuple):
    """A row that looks like an earlier one, changed.

    ``note`` is the id of the earlier row without its last digit, ``held`` the ids of its records by kind, ``stays`` the
    cells that differ from what a person set by hand, which no sheet changes.
    """

    line: int
    note: str
    held: dict[str, str]
    diff: str
    day: str
    file_id: str
    file: str
    line_before: int
    differences: tuple[CellDifference, ...]
    stays: tuple[CellDifference, ...] = ()

    def words(self) -> str:
        """What it looks like and what differs, for people."""
        named = "; ".join(one.words() for one in self.differences[:_IN_WORDS])
        stays = f"stays as a person set it: {', '.join(one.column for one in self.stays)}" if self.stays else ""
        more = len(self.differences) - _IN_WORDS
        return f"looks like line {self.line_before} of {self.file}, changed: {named}" + (
            (f", and {counted(more, 'more cell')}" if more > 0 else "") + ("; " if named and stays else "") + stays
        )

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "line": self.line,
            "file": self.file,
            "line_before": self.line_before,
            "differences": [one._asdict() for one in self.differences],
            "stays": [one.column for one in self.stays],
        }


Answer = Literal["change", "new", "leave", "reject"]
"""What is to be done with a row that looks changed: change the earlier one, take it as a new one, leave it out because
somebody said so, or reject it because nobody did."""
Decide = Callable[[Sequence[ChangedRow]], Mapping[int, Answer]]
"""Answers for rows by their line; a row without one is rejected."""


class FoundChanges(NamedTuple):
    """What was found: rows that look changed, and lines whose row the database holds under another id, with it."""

    changed: tuple[ChangedRow, ...] = ()
    same: Mapping[int, str] = {}


class _HeldRow(NamedTuple):
    note: str
    note_file: str
    line: int
    held: dict[str, str]
    cells: HeldCells


class _NewRow(NamedTuple):
    line: int
    values: dict[str, Any]


def look_for_changes(stage: Stage, bulk: Bulk, name: str) -> FoundChanges:
    """The staged rows that look like earlier rows, changed; ``name`` is what the file is called. Writes nothing."""
    if not bulk.holds_notes:
        return FoundChanges()
    is_settled = _is_settled(bulk)
    if is_settled and not _holds_marked_names(bulk):
        return FoundChanges()
    unknown, known = array("Q"), array("Q")
    owners: Counter[str] = Counter()
    rows = notes_of(stage)
    while some := list(islice(rows, LOOKED_UP_ROWS)):
        for one, owner in zip(some, bulk.owners_of([one.note for one in some]), strict=True):
            if owner is None:
                unknown.append(one.line)
            else:
                owners[owner] += 1
                known.append(one.line)
    if not unknown:
        return FoundChanges()
    if is_settled:
        return FoundChanges(same=same_rows(stage, bulk, {bulk.note_file: name}, unknown))
    files, is_certain = _same_sheet(bulk, name, owners, stage.accepted)
    elsewhere = same_rows(stage, bulk, _changing_files(bulk, files), unknown)
    unknown = array("Q", (line for line in unknown if line not in elsewhere))
    if not files or not unknown:
        return FoundChanges(same=elsewhere)
    search = _Search(stage, bulk, files)
    search.look_on_days(unknown)
    held = search.rows_held()
    if not is_certain and len(search.changed) + len(search.same) < _MOST * min(held, len(unknown)):
        return FoundChanges(same={**elsewhere, **search.same})
    if held > sum(owners[file] for file in files) + len(search.changed) + len(search.same):
        search.look_for_corrected_days(unknown, known)
    return FoundChanges(tuple(sorted(search.changed, key=lambda one: one.line)), {**elsewhere, **search.same})


def same_rows(stage: Stage, bulk: Bulk, files: dict[str, str], lines: Sequence[int]) -> Mapping[int, str]:
    """Of these lines, in the order of the stage, those whose row one of these files (names by id) has under another id,
    with that."""
    search = _Search(stage, bulk, files, only_equal=True)
    if files and lines:
        search.look_on_days(lines)
    return search.same


def _changing_files(bulk: Bulk, but: Mapping[str, str]) -> dict[str, str]:
    """The files that changed earlier rows, by id with their name: those rows are not found by their own id, which is
    of what they were first."""
    found = bulk.connection.execute(
        f"SELECT id, {called_file_sql('note_files')} FROM note_files WHERE id <> ? "
        "AND id IN (SELECT closed_by FROM note_rejects WHERE reason = ?)",
        (bulk.note_file, CHANGED_LATER),
    )
    return {file: name for file, name in found if file not in but}


def _is_settled(bulk: Bulk) -> bool:
    """Whether this very file was imported before, nothing in it waits for an answer, and no row ever changed: then
    its rows are in the database, each under its own id."""
    row = bulk.connection.execute(
        "SELECT EXISTS (SELECT 1 FROM note_files WHERE id = ?1) AND NOT EXISTS (SELECT 1 FROM note_rejects "
        "WHERE reason = ?3 OR (reason = ?2 AND note_file = ?1))",
        (bulk.note_file, LOOKS_CHANGED, CHANGED_LATER),
    ).fetchone()
    return bool(row[0])


def _holds_marked_names(bulk: Bulk) -> bool:
    """Whether a name was kept with what is no longer read as part of it, as by version 0.1.0: rows with that name have
    other ids than they would have now."""
    kinds = dict.fromkeys(REFERRED.values())
    labels = (label for kind in kinds for label in labels_of(bulk.connection, BY_NAME[kind]))
    return any(plain_label(label) != label for label in labels)


def _same_sheet(bulk: Bulk, name: str, owners: Counter[str], accepted: int) -> tuple[dict[str, str], bool]:
    """The files that are earlier states of a sheet, by id with their name, and whether that is certain.

    It is not where only the name says so: every row may have another cell now, such as one of a new column, or it is
    another sheet with that name. Then most rows have to look alike.
    """
    kept = bulk.connection.execute(
        f"SELECT id, {called_file_sql('note_files')}, accepted FROM note_files WHERE id <> ?", (bulk.note_file,)
    )
    named: dict[str, str] = {}
    others: dict[str, str] = {}
    few = False
    for file, own_name, rows in kept:
        if own_name == name:
            named[file] = own_name
            few |= min(rows, accepted) <= _FEW_ROWS
        elif owners[file]:
            others[file] = own_name
    is_certain = few or any(owners[file] for file in named)
    if owners and owners.total() >= _MOST * accepted:
        return (named if is_certain else {}) | others, True
    return named, is_certain


class _Search:
    """Looks only at days of which an earlier state of the sheet has a row beside a new one; day by day, so that memory
    does not grow with the rows.

    With ``only_equal`` a row is found only if all its cells are equal.
    """

    def __init__(self, stage: Stage, bulk: Bulk, files: dict[str, str], *, only_equal: bool = False) -> None:
        self.stage = stage
        self.bulk = bulk
        self.files = files
        self.only_equal = only_equal
        self.listed = "[" + ", ".join(f'"{file}"' for file in files) + "]"
        self.changed: list[ChangedRow] = []
        self.same: dict[int, str] = {}

    def look_on_days(self, unknown: Sequence[int]) -> None:
        """Match the lines of ``unknown``, which are in the order of the stage, with rows of their day and diff."""
        days = self._days(unknown)
        if not days:
            return
        waiting = (line for line, row in self.stage.on_lines(unknown) if row[0] in days)
        line_awaited = next(waiting, None)
        day = ""
        notes: set[str] = set()
        new: dict[str, list[_NewRow]] = defaultdict(list)
        for line, row, note, _ in notes_of(self.stage, days):
            if row[0] != day:
                self._match(day, new, notes)
                day = row[0]
                notes.clear()
                new.clear()
            notes.add(note)
            if line == line_awaited:
                values = dict(zip(NAMES, self.stage.spread(row), strict=True))
                new[values["diff"]].append(_NewRow(line, values))
                line_awaited = next(waiting, None)
        self._match(day, new, notes)

    def rows_held(self) -> int:
        """How many rows the database has from the earlier states of the sheet."""
        asked = " UNION ".join(
            f"SELECT note_file, note_line FROM {table} WHERE note_file IN (SELECT value FROM json_each(?1))"
            for table in ("builds", "weighings", "runs")
        )
        found = self.bulk.connection.execute(f"SELECT count(*) FROM ({asked})", (self.listed,)).fetchone()
        return int(found[0])

    def look_for_corrected_days(self, unknown: Sequence[int], known: Sequence[int]) -> None:
        """Match the lines of ``unknown`` that are left with the row at their place in an earlier state of the sheet,
        if only the day differs and that row is gone. ``known`` are the lines whose row the database has.
        """
        matched = {one.line for one in self.changed} | self.same.keys()
        last = self._last_lines()
        candidates: dict[int, list[tuple[str, int]]] = {}
        for line, before in self._lines_before([one for one in unknown if one not in matched], sorted(known)):
            at = [(file, one) for one in sorted(before) for file in self.files if 0 < one <= last[file]]
            if at:
                candidates[line] = at
        found: list[ChangedRow] = []
        for line, row in self.stage.on_lines(candidates):
            values = dict(zip(NAMES, self.stage.spread(row), strict=True))
            one = next((one for at in candidates[line] if (one := self._with_another_day(line, values, *at))), None)
            if one is not None and one.note not in {other.note for other in found}:
                found.append(one)
        if found:
            there = {one.note for one in notes_of(self.stage, {one.day for one in found})}
            self.changed += [one for one in found if one.note not in there]

    def _lines_before(self, lines: Sequence[int], known: Sequence[int]) -> Iterator[tuple[int, set[int]]]:
        """Each of ``lines`` with the lines that it may have had before: its own, and those beside the old lines of the
        rows above and below it that did not change.
        """
        beside: dict[int, list[int]] = {}
        for line in lines:
            place = bisect_left(known, line)
            beside[line] = [*known[max(place - 1, 0) : place], *known[place : place + 1]]
        wanted = {one for neighbours in beside.values() for one in neighbours}
        before = {
            one.line: self._line_of(one.note)
            for one in notes_of(self.stage, {row[0] for _, row in self.stage.on_lines(sorted(wanted))})
            if one.line in wanted
        }
        for line, neighbours in beside.items():
            yield line, {line, *(before[one] + line - one for one in neighbours)}

    def _line_of(self, note: str) -> int:
        """The line of a row that the database has."""
        lines = ", ".join(
            f"(SELECT note_line FROM {table} WHERE id = '{note}{DIGITS[kind]}')"
            for kind, table in (("build", "builds"), ("weighing", "weighings"), ("run", "runs"))
        )
        return int(self.bulk.connection.execute(f"SELECT coalesce({lines}, 0)").fetchone()[0])

    def _last_lines(self) -> dict[str, int]:
        """The last line of each earlier state of the sheet that made a record."""
        asked = "SELECT max(coalesce((SELECT max(note_line) FROM builds WHERE note_file = ?1), 0), " + (
            "coalesce((SELECT max(note_line) FROM weighings WHERE note_file = ?1), 0), "
            "coalesce((SELECT max(note_line) FROM run_diffs WHERE note_file = ?1), 0))"
        )
        return {file: self.bulk.connection.execute(asked, (file,)).fetchone()[0] for file in self.files}

    def _with_another_day(self, line: int, values: dict[str, Any], file: str, line_before: int) -> ChangedRow | None:
        """The earlier row on a line of a file as changed to these values, if only its day differs."""
        held: dict[str, str] = {}
        diff = day = ""
        for kind, row_id, *of_row in self.bulk.connection.execute(_ROW_OF_A_LINE, (file, line_before)):
            if row_id[-1] == DIGITS[kind]:
                held[kind] = row_id
                diff, day = of_row
                if kind == "run_diff":
                    held["run"] = row_id[:-1] + DIGITS["run"]
        if not held or diff != self.bulk.names("diff").get(values["diff"]):
            return None
        before = cells_of(self.bulk, held, diff, day, file, line_before)
        differences, stays = _differences(before, values)
        if [one.column for one in differences] != ["date"]:
            return None
        note = next(iter(held.values()))[:-1]
        return ChangedRow(line, note, held, diff, day, file, self.files[file], line_before, differences, stays)

    def _days(self, unknown: Sequence[int]) -> set[str]:
        """The days on which a diff has a row from an earlier state of the sheet beside one of ``unknown``."""
        place, names = self.stage.place("diff"), self.bulk.names("diff")
        found: set[str] = set()
        for day, rows in groupby(self.stage.on_lines(unknown), lambda one: one[1][0]):
            diffs = (names.get(label) for label in {row[place] for _, row in rows})
            if any(diff and self._has_rows(diff, day) for diff in diffs):
                found.add(day)
        return found

    def _has_rows(self, diff: str, day: str) -> bool:
        found = self.bulk.connection.execute(
            f"{_ROWS_OF_A_DAY} LIMIT 1", (diff, day, self.listed, _id_of(day))
        ).fetchone()
        return found is not None

    def _match(self, day: str, new: dict[str, list[_NewRow]], notes: set[str]) -> None:
        for label, rows in new.items():
            diff = self.bulk.names("diff").get(label)
            gone = self._gone(diff, day, notes) if diff else []
            pairs = sorted(
                ((share, -abs(row.line - held.line), -row.line, -held.line), row, held, differences, stays)
                for row in rows
                for held in gone
                for differences, stays in [_differences(held.cells, row.values)]
                for share in [_share(held.cells, row.values, differences)]
                if not (differences or stays)
                or (not self.only_equal and (len(differences) <= _FEW_CELLS or share >= _ALIKE_SHARE))
            )
            taken: set[int | str] = set()
            for _, row, held, differences, stays in reversed(pairs):
                if row.line in taken or held.note in taken:
                    continue
                taken |= {row.line, held.note}
                if differences or stays:
                    self.changed.append(
                        ChangedRow(
                            *(row.line, held.note, held.held, str(diff), day),
                            *(held.note_file, self.files[held.note_file], held.line, differences, stays),
                        )
                    )
                else:
                    self.same[row.line] = held.note

    def _gone(self, diff: str, day: str, notes: set[str]) -> list[_HeldRow]:
        """The rows of a diff and day that an earlier state of the sheet had and this one has not."""
        rows: dict[str, tuple[str, int, dict[str, str]]] = {}
        for kind, row_id, note_file, line in self.bulk.connection.execute(
            _ROWS_OF_A_DAY, (diff, day, self.listed, _id_of(day))
        ):
            note = row_id[:-1]
            if row_id[-1] == DIGITS[kind] and note not in notes:
                held = rows.setdefault(note, (note_file, line, {}))[2]
                held[kind] = row_id
                if kind == "run_diff":
                    held["run"] = note + DIGITS["run"]
        return [
            _HeldRow(note, file, line, held, cells_of(self.bulk, held, diff, day, file, line))
            for note, (file, line, held) in rows.items()
        ]


def _id_of(day: str) -> str:
    """How the ids of the rows of a day begin."""
    return content_id(day, "")[:13]


def _differences(before: HeldCells, now: dict[str, Any]) -> tuple[tuple[CellDifference, ...], ...]:
    """The cells that differ, and those that differ only from what a person set."""
    held = before.values
    found = tuple(
        CellDifference(name, held.get(name), now[name])
        for name in NAMES
        if _as_read_now(name, held.get(name)) != now[name]
        and not (name == "runs" and held.get(name) == 0 and now[name] is None)
    )
    return (
        tuple(one for one in found if one.column not in before.by_hand),
        tuple(one for one in found if one.column in before.by_hand),
    )


def _as_read_now(column: str, value: Any) -> Any:
    """A value of a row that was read before: a name without what is no longer read as part of it."""
    return plain_label(value) if column in REFERRED and isinstance(value, str) else value


def _share(before: HeldCells, now: dict[str, Any], differences: Sequence[CellDifference]) -> float:
    """The share of equal cells among those that either row has filled, day, diff and what a person set left out."""
    filled = {name for name in NAMES if before.values.get(name) is not None or now[name] is not None}
    filled -= {"date", "diff", *before.by_hand}
    return 1 - len(differences) / len(filled) if filled else 0.0


def lines_elsewhere(bulk: Bulk) -> dict[int, str]:
    """The lines of a file that changed an earlier row, with the id (without its last digit) of that row; and those that
    a later file changed, with an empty id.
    """
    connection, note_file = bulk.connection, bulk.note_file
    later = connection.execute(
        "SELECT line FROM note_rejects WHERE note_file = ? AND reason = ?", (note_file, CHANGED_LATER)
    )
    found = {row[0]: "" for row in later}
    for kind, table in (("build", "builds"), ("weighing", "weighings"), ("run", "runs")):
        rows = connection.execute(
            f"SELECT x.note_line, x.id FROM note_rejects r JOIN {table} x ON x.note_file = r.closed_by "
            "AND x.note_line = r.closed_line WHERE r.closed_by = ? AND r.reason = ?",
            (note_file, CHANGED_LATER),
        )
        found |= {line: row_id[:-1] for line, row_id in rows if row_id[-1] == DIGITS[kind]}
    return found
