"""Placing the note rows of a diff again, over all files: after an import, and after rows were taken away.

All rows of a diff are gone through in order (``note_order``), with its builds in between; each weighing and run goes to
the build that was the diff's current one. A row may become a build, where its oil differs from that of the build now
before it, or stop being one. What a person wrote by hand stays: records without a file, typed fields of a record that a
row made, and builds that such a record or a kept result refers to.
"""

from __future__ import annotations

import json
import sqlite3
from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.kept_json import object_in, object_text
from bevelbook.notes.bulk import RUN, Current, extra_id
from bevelbook.notes.changes import Change, Planned, change_record
from bevelbook.notes.note_columns import LOOSE, NAMES, STORED, WORKED_OUT
from bevelbook.notes.note_order import NoteOrder
from bevelbook.notes.placing import RowMaker, other_oil
from bevelbook.notes.row_read_back import DIGITS, cells_beside, cells_of
from bevelbook.notes.staging import RowShape
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.ids import now_utc
from bevelbook.store.kept_past import keep_past_of
from bevelbook.store.schema import quoted
from bevelbook.store.take_back import SetAside
from bevelbook.store.versions import after, note_version, removals
from bevelbook.store.writing import Writer, placing

_PLACED: Final = ("weighing", "run_diff")
_FOLLOWS: Final = {
    name: {*columns} - {"mass_basis", "basis_from", "temp_place"} for name, columns in WORKED_OUT.items()
}
"""The columns of a record that do not come from its own row."""
_RECORDS: Final = """
SELECT 'build' AS kind, id, note_file, note_line, created_at, built_on AS day, entered, id AS build,
       label, fluid, viscosity_cst, mass_basis, coalesce(dry_mass_g, oil_mass_g, kind) IS NOT NULL, day_order,
       NULL AS basis_from
FROM builds WHERE diff = ?1
UNION ALL
SELECT 'weighing', w.id, w.note_file, w.note_line, w.created_at, coalesce(w.weighed_on, ''), w.entered, w.build,
       NULL, NULL, NULL, w.mass_basis, NULL, NULL, w.basis_from
FROM builds b CROSS JOIN weighings w ON w.build = b.id WHERE b.diff = ?1 AND w.note_file IS NOT NULL
UNION ALL
SELECT 'run_diff', x.id, x.note_file, x.note_line, x.created_at, r.run_on, x.entered, x.build,
       NULL, NULL, NULL, NULL, NULL, r.day_order, NULL
FROM builds b CROSS JOIN run_diffs x ON x.build = b.id CROSS JOIN runs r ON r.id = x.run
WHERE b.diff = ?1 AND x.note_file IS NOT NULL
"""
"""Everything that the order of a diff is made of: all its builds, and its weighings and runs from notes."""


class Moved(NamedTuple):
    """Rows that went from one build to another, by label."""

    rows: int
    before: str
    after: str

    def line(self) -> str:
        """The same for people."""
        return f"{counted(self.rows, 'row')} moved from {self.before} to {self.after}"


class Turned(NamedTuple):
    """A row that became a build or stopped being one, with its file and line, and why."""

    build: str
    is_build: bool
    file: str
    line: int
    why: str

    def words(self) -> str:
        """The same for people."""
        now = "is a build of its own now" if self.is_build else "is not a build any more"
        return f"{self.build} {now}: {self.why} ({self.file}, line {self.line})"


class PlacedAgain(NamedTuple):
    """What placing rows again changed; ``of_new`` is how many more records of each table the new rows have by it."""

    moved: tuple[Moved, ...] = ()
    turned: tuple[Turned, ...] = ()
    of_new: Mapping[str, int] = {}

    def lines(self) -> Iterator[str]:
        """The same for people."""
        yield from (one.line() for one in self.moved)
        yield from (one.words() for one in self.turned)

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "moved": [{"rows": one.rows, "from": one.before, "to": one.after} for one in self.moved],
            "builds_changed": [one._asdict() for one in self.turned],
        }


class NewRows(NamedTuple):
    """The rows that an import has just added, by its file and the time of its stamp: they are placed, not moved."""

    note_file: str
    stamp: str


def place_again(
    connection: sqlite3.Connection,
    diffs: Iterable[str],
    *,
    by: str | None = None,
    new: NewRows | None = None,
    aside: Mapping[str, SetAside] = MappingProxyType({}),
    turn: bool = True,
) -> PlacedAgain:
    """Place all note rows of these diffs (by id) again, inside the caller's transaction; returns what moved.

    ``aside`` are records, by id, that the caller has put on any build: they moved from the build that they were on.
    Without ``turn`` no row becomes a build or stops being one, which would be a version of it: rows before the first
    build of their diff are then put on that one.

    The build of a weighing or a run is set without a version. Records that a row now makes or no longer makes are added
    or removed, and history has what they were.
    """
    again = Remaking(connection, by, new, aside, turn=turn)
    for diff in sorted(set(diffs)):
        again.place(diff)
    return again.found()


class HeldRecord(NamedTuple):
    """A record of a note row, or any build of the diff."""

    kind: str
    id: str
    note_file: str | None
    note_line: int | None
    created_at: str
    day: str
    entered: str | None
    build: str
    label: str | None
    fluid: str | None
    viscosity_cst: float | None
    mass_basis: str | None
    is_filled: int | None
    day_order: int | None
    basis_from: str | None

    @property
    def is_of_a_row(self) -> bool:
        """Whether a note row made it."""
        return self.note_file is not None and self.note_line is not None and self.id[-1] == DIGITS[self.kind]

    def is_typed(self, column: str) -> bool:
        """Whether a person set a column by hand."""
        return self.entered is not None and column in (object_in(self.entered) or {})

    def as_current(self, diff: str) -> Current:
        """A build as the current one of its diff."""
        return Current(self.id, diff, self.day, self.fluid, self.viscosity_cst, self.mass_basis)


Row = Mapping[str, HeldRecord]
"""A note row: its records by kind, without the run itself, which comes with the diff in it."""


class RowStep(NamedTuple):
    """A note row in the order of its diff, or what of it is under a day of its own, and then not whole."""

    day: str
    place: tuple[Any, ...]
    row: Row
    is_whole: bool = True

    @property
    def first(self) -> HeldRecord:
        return next(iter(self.row.values()))


class _Shape(RowShape):
    """All note columns; collects the cells that no record of a row takes."""

    def __init__(self) -> None:
        super().__init__(NAMES, NAMES)
        self.beside: dict[str, Any] = {}

    def add_extras(self, extras: Iterable[tuple[int, str]]) -> None:
        for _, cells in extras:
            self.beside |= json.loads(cells)


class Remaking:
    """Places the rows of one diff after the other, and makes the records of a row again."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        by: str | None,
        new: NewRows | None = None,
        aside: Mapping[str, SetAside] = MappingProxyType({}),
        *,
        turn: bool = True,
    ) -> None:
        self.turns = turn
        self.connection = connection
        self.by = by
        self.new = new
        self.aside = aside
        self.order = NoteOrder(connection)
        self.writer = Writer(connection, by)
        self.planned = Planned(connection, note_file="", stamp=now_utc(), by=by)
        self.shape = _Shape()
        self.maker = RowMaker(self.shape, self.planned)
        self.labels: dict[str, str] = {one.build: one.label for one in aside.values()}
        self.moved: dict[tuple[str, str], set[str]] = defaultdict(set)
        self.turned: list[Turned] = []
        self.of_new: Counter[str] = Counter()
        self.goes: list[tuple[HeldRecord, Current]] = []
        self.gone: list[tuple[str, str]] = []

    def found(self) -> PlacedAgain:
        """What changed so far."""
        labels = self.labels
        moved = [Moved(len(rows), labels[old], labels[now]) for (old, now), rows in self.moved.items()]
        return PlacedAgain(tuple(moved), tuple(self.turned), {table: n for table, n in self.of_new.items() if n})

    def place(self, diff: str) -> None:
        """Go through the builds and rows of a diff, then write what changed."""
        builds = self.gone_through(diff)
        self.write()
        self._order_days(diff, builds)

    def gone_through(self, diff: str) -> list[str]:
        """Go through the builds and rows of a diff, and note what goes where; the ids of its builds in their order."""
        steps = self._steps(diff)
        current = None if self.turns else _first_build(steps, diff)
        builds: list[str] = []
        for step in steps:
            current = step.as_current(diff) if isinstance(step, HeldRecord) else self._after(step, diff, current)
            if current is not None and current.build not in builds[-1:]:
                builds.append(current.build)
        return builds

    def _order_days(self, diff: str, builds: list[str]) -> None:
        """Number the builds of a day whose order does not follow from when and where they were written."""
        days: dict[str, list[tuple[str, bool, int | None]]] = defaultdict(list)
        unnumbered = "built_on, created_at, note_line, id"
        for row_id, day, is_fixed, number in self.connection.execute(
            "SELECT id, built_on, note_file IS NULL OR json_extract(entered, '$.day_order') IS NOT NULL, day_order "
            f"FROM builds WHERE diff = ? ORDER BY {unnumbered}",
            (diff,),
        ):
            days[day].append((row_id, bool(is_fixed), number))
        places = {build: place for place, build in enumerate(builds)}
        with placing(self.connection):
            for held in days.values():
                if len(held) == 1 and held[0][2] is None:
                    continue
                wanted = sorted(held, key=lambda one: places.get(one[0], -1))
                numbers = range(1, len(wanted) + 1) if wanted != held else [None] * len(wanted)
                for (row_id, is_fixed, old), number in zip(wanted, numbers, strict=True):
                    if old != number and not is_fixed:
                        self.connection.execute("UPDATE builds SET day_order = ? WHERE id = ?", (number, row_id))

    def _steps(self, diff: str) -> list[RowStep | HeldRecord]:
        """The rows of a diff in order, with the builds that no row made in between."""
        rows: dict[str, dict[str, HeldRecord]] = defaultdict(dict)
        by_hand: list[HeldRecord] = []
        for found in self.connection.execute(_RECORDS, (diff,)):
            record = HeldRecord(*found)
            if record.kind == "build":
                self.labels[record.id] = str(record.label)
            if record.is_of_a_row:
                rows[record.id[:-1]][record.kind] = record
            elif record.kind == "build":
                by_hand.append(record)
        steps = sorted(self._in_order(rows.values()))
        return _with_builds(steps, by_hand)

    def _in_order(self, rows: Iterable[Row]) -> Iterator[RowStep]:
        placed = []
        building = set()
        for row in rows:
            first = next(iter(row.values()))
            name, line, sha256 = self.order.of(first.note_file or "", first.note_line or 0)
            placed.append((row, first, name, line, sha256))
            if "build" in row and row["build"].is_filled:
                building.add((first.day, name))
        orders = _orders([(row, first.day, name, line) for row, first, name, line, _ in placed])
        for (row, first, name, line, sha256), order in zip(placed, orders, strict=True):
            days = {one.day for one in row.values()}
            for day in days:
                place = (order, (day, name) not in building, name, line, sha256, first.id)
                yield RowStep(day, place, {kind: one for kind, one in row.items() if one.day == day}, len(days) == 1)

    def _after(self, step: RowStep, diff: str, current: Current | None) -> Current | None:
        """The current build after a row; its weighing and run are noted under the one that they belong to."""
        build = step.row.get("build")
        if self.turns and step.is_whole:
            fluid, viscosity = (build.fluid, build.viscosity_cst) if build else self.oil_beside(step.first)
            has_mass = build is not None and bool(build.is_filled)
            builds = has_mass or current is None or other_oil(current, fluid, viscosity)
            if builds != (build is not None):
                turned = self.turned_row(step, diff, current)
                if turned is not None:
                    return turned
        if build is not None:
            current = build.as_current(diff)
        if current is not None:
            self.goes += [(step.row[kind], current) for kind in _PLACED if kind in step.row]
        return current

    def oil_beside(self, record: HeldRecord) -> tuple[str | None, float | None]:
        """The oil that a row names without making a build, as kept beside it: the fluid's id, and the viscosity."""
        cells = cells_beside(self.connection, str(record.note_file), record.note_line or 0)
        return self.planned.names("fluid").get(cells.get("fluid")), cells.get("viscosity_cst")

    def is_used(self, kind_name: str, row_id: str) -> bool:
        """Whether a person typed a field of a record, or a record by hand, a typed field or a kept result refers to
        it."""
        asked = [(BY_NAME[kind_name].table, "id = ?1 AND entered IS NOT NULL"), ("calculations", "subject_id = ?1")]
        for kind in KINDS:
            for field in kind.fields:
                if field.kind == "reference" and field.target == kind_name:
                    typed = f"json_extract(entered, '$.{field.name}') IS NOT NULL"
                    by_hand = f" AND (note_file IS NULL OR {typed})" if kind.own else ""
                    asked.append((kind.table, f"{quoted(field.name)} = ?1{by_hand}"))
        return any(
            self.connection.execute(f"SELECT 1 FROM {table} WHERE {where} LIMIT 1", (row_id,)).fetchone()
            for table, where in asked
        )

    def turned_row(self, step: RowStep, diff: str, before: Current | None) -> Current | None:
        """Make the records of a row again, since it becomes a build or stops being one.

        None if it would lose a record that a person typed or that something else refers to: then it stays.
        """
        first = step.first
        file, line = str(first.note_file), first.note_line or 0
        cells = cells_of(self.planned, self._held_of(step.row), diff, first.day, file, line)
        current = self._remake(step.row, first, cells.staged(self.maker.named), before)
        if current is not None and not self._is_new(first):
            self.say_turned(step.row.get("build"), current, first, before)
        return current

    def remake_row(
        self, held: Mapping[str, str], cells: tuple[Any, ...], before: Current | None, note_file: str, line: int
    ) -> bool:
        """Make the records of a row from new cells; ``held`` are the ids of its records, which keep them.

        False if it would lose a record that a person typed or that something else refers to: then nothing changes.
        :meth:`write` ends it.
        """
        row: dict[str, HeldRecord] = {}
        for kind, row_id in held.items():
            if kind != "run":
                on = "id" if kind == "build" else "build"
                created_at, entered, build = self.connection.execute(
                    f"SELECT created_at, entered, {on} FROM {BY_NAME[kind].table} WHERE id = ?", (row_id,)
                ).fetchone()
                nothing = (None,) * 7
                row[kind] = HeldRecord(kind, row_id, note_file, line, created_at, cells[0], entered, build, *nothing)
                label = self.connection.execute("SELECT label FROM builds WHERE id = ?", (build,)).fetchone()[0]
                self.labels[build] = label
        return self._remake(row, next(iter(row.values())), cells, before) is not None

    def _remake(self, row: Row, first: HeldRecord, cells: tuple[Any, ...], before: Current | None) -> Current | None:
        """Make the records of a row again from its cells; None if that is not possible, as for :meth:`turned_row`.

        ``first`` has the file, the line and the time that new records get.
        """
        held = self._held_of(row)
        current = self.maker.make(first.note_line or 0, first.id[:-1], cells[0], cells, before)
        self.maker.keep_extras()
        self.planned.flush()
        made = {kind: next(iter(records.items()), None) for kind, records in self.planned.records.items()}
        beside, self.shape.beside = self.shape.beside, {}
        for records in self.planned.records.values():
            records.clear()
        lost = [kind for kind in held if made[kind] is None]
        if any(self.is_used(kind, held[kind]) for kind in lost):
            return None
        for kind, record in made.items():
            if record is None:
                continue
            row_id, (line, values) = record
            if kind == "build":
                self.labels[row_id] = str(values[0])
            if kind in held:
                self._settle(kind, row_id, line, values)
            else:
                self._add(kind, row_id, values, first)
        for kind in lost:
            self.gone.append((kind, held[kind]))
            self._count(kind, first, -1)
        self.goes += [(row[kind], current) for kind in _PLACED if kind in row and kind not in lost]
        self._keep_beside(first, beside)
        return current

    @staticmethod
    def _held_of(row: Row) -> dict[str, str]:
        """The ids of a row's records by kind; a diff in a run comes with its run."""
        held = {kind: one.id for kind, one in row.items()}
        if "run_diff" in held:
            held["run"] = held["run_diff"][:-1] + RUN
        return held

    def say_turned(self, build: HeldRecord | None, current: Current, first: HeldRecord, before: Current | None) -> None:
        label = self.labels[build.id if build else current.build]
        if build is None:
            why = "no build comes before it" if before is None else "its oil is not that of the build before it"
        else:
            has_oil = build.fluid is not None or build.viscosity_cst is not None
            why = "the build before it has the same oil" if has_oil else "there is a build before it"
        file = self.order.files[first.note_file or ""].called
        self.turned.append(Turned(label, build is None, file, first.note_line or 0, why))

    def _add(self, kind_name: str, row_id: str, values: tuple[Any, ...], first: HeldRecord) -> None:
        """Add a record of a row, with the row's own file, time and author: placing is nobody's change."""
        kind = BY_NAME[kind_name]
        stored: dict[str, Any] = dict(zip(STORED[kind_name], values, strict=True))
        removed = removals(self.connection, kind, row_id)
        parents = after(*removed) if removed else None
        version = row_id if parents is None else note_version(kind, parents, stored)
        of_row: dict[str, Any] = {"id": row_id, "version": version, "parents": parents}
        of_row |= {"note_file": first.note_file, "note_line": first.note_line}
        of_row |= {"created_at": first.created_at, "updated_at": first.created_at, **stored}
        of_row |= {"updated_by": self._who_wrote(first)}
        self.connection.execute(
            f"INSERT INTO {kind.table} ({', '.join(map(quoted, of_row))}) VALUES ({', '.join('?' * len(of_row))})",
            tuple(of_row.values()),
        )
        self._count(kind_name, first, 1)

    def _who_wrote(self, first: HeldRecord) -> str | None:
        asked = f"SELECT updated_by FROM {BY_NAME[first.kind].table} WHERE id = ?"
        found: str | None = self.connection.execute(asked, (first.id,)).fetchone()[0]
        return found

    def _settle(self, kind_name: str, row_id: str, line: int, values: tuple[Any, ...]) -> None:
        """Give a record of a row the values that go into it now; typed fields stay."""
        kind, columns = BY_NAME[kind_name], STORED[kind_name]
        asked = ", ".join(map(quoted, columns))
        entered, *held = self.connection.execute(
            f"SELECT entered, {asked} FROM {kind.table} WHERE id = ?", (row_id,)
        ).fetchone()
        typed = object_in(entered) or {} if entered else {}
        other = tuple(
            column
            for column, old, new in zip(columns, held, values, strict=True)
            if old != new and column not in _FOLLOWS[kind_name] and column not in typed
        )
        if other:
            change_record(self.writer, Change("changed", kind_name, row_id, line, values, other))

    def _keep_beside(self, first: HeldRecord, beside: Mapping[str, Any]) -> None:
        """Keep the cells that no record of a row takes now, beside those of columns that nobody knows."""
        held = cells_beside(self.connection, str(first.note_file), first.note_line or 0)
        cells = {name: value for name, value in held.items() if name not in LOOSE}
        cells |= beside
        row_id = extra_id(str(first.note_file), first.note_line or 0)
        keep_past_of(self.connection, BY_NAME["note_extra"], row_id)
        self.connection.execute("DELETE FROM note_extras WHERE id = ?", (row_id,))
        if cells:
            self.connection.execute(
                "INSERT INTO note_extras (id, note_file, line, cells) VALUES (?, ?, ?, ?)",
                (row_id, first.note_file, first.note_line, object_text(cells)),
            )

    def write(self) -> None:
        """Move what belongs to another build, then remove what no row makes."""
        with placing(self.connection):
            for record, current in self.goes:
                if not record.is_typed("build"):
                    self._move(record, current)
        for kind in reversed(tuple(DIGITS)):
            table = BY_NAME[kind].table
            gone = [(row_id,) for name, row_id in self.gone if name == kind]
            self.connection.executemany(f"DELETE FROM {table} WHERE id = ?", gone)
        self.goes.clear()
        self.gone.clear()

    def _move(self, record: HeldRecord, current: Current) -> None:
        sets: dict[str, str | None] = {"build": current.build} if record.build != current.build else {}
        if record.kind == "weighing" and record.mass_basis != current.mass_basis and not record.is_typed("mass_basis"):
            self.connection.execute(
                "UPDATE weighings SET mass_basis = ? WHERE id = ? AND basis_from IS NULL",
                (current.mass_basis, record.id),
            )
        if sets:
            self.connection.execute(
                f"UPDATE {BY_NAME[record.kind].table} SET {', '.join(f'{name} = ?' for name in sets)} WHERE id = ?",
                (*sets.values(), record.id),
            )
        before = self.aside[record.id].build if record.id in self.aside else record.build
        if before != current.build and not self._is_new(record):
            self.moved[before, current.build].add(record.id[:-1])

    def _is_new(self, record: HeldRecord) -> bool:
        return self.new is not None and (record.note_file, record.created_at) == self.new

    def _count(self, kind_name: str, first: HeldRecord, change: int) -> None:
        if kind_name != "run_diff" and self._is_new(first):
            self.of_new[BY_NAME[kind_name].table] += change


def _first_build(steps: Sequence[RowStep | HeldRecord], diff: str) -> Current | None:
    builds = (step if isinstance(step, HeldRecord) else step.row.get("build") for step in steps)
    return next((build.as_current(diff) for build in builds if build is not None), None)


def _orders(rows: Sequence[tuple[Row, str, str, int]]) -> list[int]:
    """The place in its day of each row, given with its day, file and line: that of its run. A row without a run keeps
    its place in the sheet, below the numbered run above it; 0 where nothing says."""
    numbers = [row["run_diff"].day_order if "run_diff" in row else None for row, *_ in rows]
    found = [number or 0 for number in numbers]
    if any(numbers):
        above: dict[tuple[str, str], int] = {}
        for place in sorted(range(len(rows)), key=lambda place: rows[place][3]):
            row, day, name, _ = rows[place]
            if "run_diff" in row:
                above[day, name] = found[place]
            else:
                found[place] = above.get((day, name), 0)
    return found


def _with_builds(steps: list[RowStep], by_hand: list[HeldRecord]) -> list[RowStep | HeldRecord]:
    """Put the builds that no row made among the rows: in their day before the first row that was written later."""
    if not by_hand:
        return list(steps)
    days = [step.day for step in steps]
    before: dict[int, list[HeldRecord]] = defaultdict(list)
    for build in sorted(by_hand, key=lambda one: (one.day, one.created_at, one.note_line or -1, one.id)):
        start, end = bisect_left(days, build.day), bisect_right(days, build.day)
        later = (place for place in range(start, end) if steps[place].first.created_at > build.created_at)
        before[next(later, end)].append(build)
    found: list[RowStep | HeldRecord] = []
    for place, step in enumerate(steps):
        found += [*before[place], step]
    return found + before[len(steps)]
