"""Writing the records of an import in blocks. Each call needs a transaction that the caller opened.

The records of one note row share an id except its last digit, which is the kind of record: the row's day, a hash of its
canonical values and its number among equal rows give the same ids on every import, so a second one adds nothing.
The first version of such a record is named by its id.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from hashlib import blake2b
from operator import itemgetter
from typing import Any, Final, NamedTuple

from bevelbook.facts import rows_to_place
from bevelbook.facts.builds import newest_first
from bevelbook.facts.touched_diffs import look_away
from bevelbook.kept_json import object_in, object_text
from bevelbook.notes.note_columns import LOOSE, REFERRED, STORED, WORKED_OUT, filled
from bevelbook.reading.labels import folded_label, plain_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store import as_written
from bevelbook.store.event_of_day import EventDays, events_by_name, of_day
from bevelbook.store.events_of_texts import event_id
from bevelbook.store.ids import content_id, day_ms
from bevelbook.store.kept_past import keep_past_of_file
from bevelbook.store.lookup import last_number, strays
from bevelbook.store.one_with import stands_for_it
from bevelbook.store.schema import STAMPS, index_sql, literal, quoted, search_fill_sql
from bevelbook.store.triggers import added_sql
from bevelbook.store.versions import after, note_version, removals

BUILD, WEIGHING, RUN, RUN_DIFF = "b", "e", "c", "d"
_ORDER: Final = tuple(WORKED_OUT)
_NAMED: Final = tuple(dict.fromkeys(REFERRED.values()))
_NO_DAY: Final = "1970-01-01"
_REBUILD_SHARE: Final = 0.5
_MANY_ROWS: Final = 10_000
LOOKED_UP_ROWS: Final = 500
"""How many rows are looked up with one statement."""
_LOOKED_UP: Final = ("builds_by_diff_built_on_day_order_created_at_note_line_id", "runs_by_run_on")

Taken = tuple[Any, ...]
"""A record to be written: id, line, then the columns of :data:`~bevelbook.notes.note_columns.STORED`."""


_MAKES: Final = (("builds", BUILD), ("weighings", WEIGHING), ("runs", RUN))
"""Where the records of a note row are, and the last digit of their ids."""


class Current(NamedTuple):
    """The build that a diff has on a day: a note row is compared with it."""

    build: str
    diff: str
    day: str
    fluid: str | None
    viscosity_cst: float | None
    mass_basis: str | None


class Known(NamedTuple):
    """A note row that is in the database already, with the build that it made, if it made one."""

    build: Current | None


def note_id(day_part: str, content: str, occurrence: int) -> str:
    """The id of a note row without its last digit, UUID version 8 (RFC 9562, section 5.8).

    >>> note_id(day_part("2026-05-03"), "rear-a", 0)
    '019deb22-8000-83bf-8aad-ccb68701ea2'
    """
    counted = f"{content}\0{occurrence}" if occurrence else content
    h = blake2b(counted.encode(), digest_size=9).hexdigest()
    return f"{day_part}-8{h[:3]}-8{h[3:6]}-{h[6:17]}"


def note_ids(day_parts: Iterable[str], contents: Iterable[str]) -> list[str]:
    """What :func:`note_id` gives for many rows that each come first of their kind."""
    hashes = [blake2b(content.encode(), digest_size=9).hexdigest() for content in contents]
    return [f"{part}-8{h[:3]}-8{h[3:6]}-{h[6:17]}" for part, h in zip(day_parts, hashes, strict=True)]


def day_part(day: str) -> str:
    """The first 48 bits of an id: its day.

    >>> day_part("2026-05-03")
    '019deb22-8000'
    """
    ms = f"{day_ms(day):012x}"
    return f"{ms[:8]}-{ms[8:]}"


def extra_id(note_file: str, line: int) -> str:
    """The id of the row that keeps cells beside a note row."""
    return content_id(_NO_DAY, f"extra\0{note_file}\0{line}")


def left_id(note_file: str, line: int, number: int) -> str:
    """The id of a line that was left out; ``number`` is its place among all of these in its file, from 0."""
    return content_id(_NO_DAY, f"left\0{note_file}\0{line}\0{number}")


class Names(dict[Any, Any]):
    """The ids of one kind of record by name. An unknown name is added; an empty name has no id."""

    def __init__(self, held: Mapping[str | None, str], make: Callable[[str], str | None]) -> None:
        super().__init__(held)
        self[None] = None
        self._make = make

    def __missing__(self, name: str) -> str | None:
        made = self[name] = self._make(name)
        return made


class BottleNames(Names):
    """The ids of bottles by their mark and the id of their fluid.

    A mark is looked for among the bottles of the fluid, and a bottle of it is added if there is none. Without a fluid
    it has an id only if one bottle alone has that mark.
    """

    def __init__(self, held: Iterable[tuple[str | None, str, str]], make: Callable[[str, str], str]) -> None:
        super().__init__({}, lambda _: None)
        self._make_of_fluid = make
        self._of_mark: dict[str | None, list[str]] = {}
        for lot, fluid, row_id in held:
            self[lot, fluid] = row_id
            self._of_mark.setdefault(lot, []).append(row_id)

    def __missing__(self, key: tuple[str | None, str | None]) -> str | None:  # type: ignore[override]
        lot, fluid = key
        if lot is None:
            return None
        if fluid is None:
            alike = self._of_mark.get(lot, [])
            return alike[0] if len(alike) == 1 else None
        made = self[key] = self._make_of_fluid(lot, fluid)
        return made


class EventNames(Names):
    """The ids of events by their name and the day of the run (``event_of_day``). Where none of that name is meant, one
    without days is added."""

    def __init__(self, held: Mapping[str, list[EventDays]], make: Callable[[str, str], EventDays]) -> None:
        super().__init__({}, lambda _: None)
        self._make_of_day = make
        self._of_name = {name: [*events] for name, events in held.items()}

    def known(self, name: str | None, day: str) -> str | None:
        """The id of the event that is meant, where it is there."""
        found = of_day(self._of_name.get(folded_label(name), ()), day) if name else ()
        return found[0].id if found else None

    def __missing__(self, key: tuple[str | None, str]) -> str | None:  # type: ignore[override]
        name, day = key
        if name is None:
            return None
        found = self.known(name, day)
        if found is None:
            made = self._make_of_day(name, day)
            self._of_name.setdefault(folded_label(name), []).append(made)
            found = made.id
        self[key] = found
        return found


class Bulk:
    """Looks up existing records and, unless ``dry``, writes new ones.

    ``again`` ignores the file's own records, for reading it again. ``line`` is the line whose names are looked up;
    ``other_spellings`` are names that were taken for one that is written with other capitals or blanks.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        *,
        note_file: str,
        stamp: str,
        by: str | None,
        dry: bool = False,
        again: bool = False,
    ) -> None:
        self.connection = connection
        self.note_file = note_file
        self.stamp = stamp
        self.by = by
        self.dry = dry
        self.line = 0
        self.joined_diffs: dict[str, str] = {}
        """The ids of diffs that are one with others, by name (``folded_label``), once their names were looked up."""
        self.new_names: list[tuple[str, Any, int]] = []
        self.other_spellings: list[tuple[str, str, int]] = []
        self._others = f"AND note_file IS NOT {literal(note_file)}" if again else ""
        self.holds_builds = self._holds("builds")
        self.holds_runs = self._holds("runs")
        self.holds_notes = self.holds_builds or self.holds_runs
        self._rows: dict[str, list[Taken]] = {name: [] for name in _ORDER}
        self._names: dict[str, Names] = {}
        self._build_numbers: dict[str, int] = {}
        self._run_numbers: dict[str, int] = {}
        self._strays: dict[str, dict[str, int]] = {}
        self._last_rowids: dict[str, int] = {}
        self._dropped: list[str] = []

    def names(self, kind_name: str) -> Names:
        """The ids of all people, diffs, fluids or venues by their name; unknown ones are added for ``line``."""
        names = self._names.get(kind_name)
        if names is None:
            kind = BY_NAME[kind_name]
            if kind_name == "bottle":
                held = self.connection.execute("SELECT lot, fluid, id FROM bottles ORDER BY created_at DESC, id DESC")
                names = BottleNames(map(tuple, held), lambda lot, fluid: self._make(kind, lot, fluid=fluid))
            elif kind_name == "event":
                names = EventNames(events_by_name(self.connection), self._make_event)
            else:
                names = self._names_by_label(kind)
            self._names[kind_name] = names
        return names

    def ids_of(self, values: Mapping[str, Any], line: int) -> dict[str, str | None]:
        """The ids of all that a row names, by column; what is not there yet is added."""
        self.line = line
        found: dict[str, str | None] = {}
        for name, kind in REFERRED.items():
            found[name] = self.names(kind)[self._key(name, kind, values, found)]
        return found

    def id_known(self, name: str, values: Mapping[str, Any], day: str, ids: Mapping[str, str | None]) -> str | None:
        """The id of what a cell of a column names, where it is there; nothing is added."""
        names = self.names(REFERRED[name])
        if isinstance(names, EventNames):
            return names.known(values[name], day)
        return names.get((values[name], ids.get("fluid")) if REFERRED[name] == "bottle" else values[name])

    @staticmethod
    def _key(name: str, kind: str, values: Mapping[str, Any], ids: Mapping[str, str | None]) -> Any:
        if kind == "bottle":
            return values[name], ids["fluid"]
        return (values[name], values["date"]) if kind == "event" else values[name]

    def name_id(self, kind_name: str, key: Any, line: int) -> str:
        """The id of what a row names, as ``new_names`` has it; what is not there yet is added."""
        self.line = line
        return str(self.names(kind_name)[key])

    def known(self, notes: Sequence[str]) -> list[Known | None]:
        """For each note row whether its records are in the database already, and the build that it made.

        Many rows with one statement: one by one takes six times as long.
        """
        exists = " OR ".join(
            f"EXISTS (SELECT 1 FROM {table} WHERE id = asked.value || '{digit}' {self._others})"
            for table, digit in _MAKES
        )
        found = self.connection.cursor()
        found.row_factory = None
        found.execute(
            f"SELECT {exists}, b.id, b.diff, b.built_on, b.fluid, b.viscosity_cst, b.mass_basis "
            f"FROM json_each(?) asked LEFT JOIN builds b ON b.id = asked.value || '{BUILD}' ORDER BY asked.key",
            (json.dumps(notes),),
        )
        return [Known(Current(*build) if build[0] else None) if is_known else None for is_known, *build in found]

    def owners_of(self, notes: Sequence[str]) -> list[str | None]:
        """The file that has the records of each note row; None if they are not in the database."""
        owners = ", ".join(
            f"(SELECT coalesce(note_file, '') FROM {table} WHERE id = asked.value || '{digit}')"
            for table, digit in _MAKES
        )
        found = self.connection.cursor()
        found.row_factory = None
        found.execute(f"SELECT coalesce({owners}) FROM json_each(?) asked ORDER BY asked.key", (json.dumps(notes),))
        return [owner for (owner,) in found]

    def current(self, diff: str, day: str) -> Current | None:
        """The last build that the database holds of a diff up to a day."""
        if not self.holds_builds:
            return None
        return self._current(
            f"WHERE diff = ? AND built_on <= ? {self._others} ORDER BY {newest_first()} LIMIT 1",
            (diff, day),
        )

    def next_build_label(self, diff: str, label: str) -> str:
        number = self._build_numbers.get(diff)
        if number is None:
            number = self._last_number("builds", diff, label, self.holds_builds)
        self._build_numbers[diff] = number + 1
        return f"{label}/{number + 1}"

    def next_build_labels(self, diffs: Iterable[str], labels: Iterable[str]) -> list[str]:
        """The same for many builds, one after the other."""
        numbers, found = self._build_numbers, []
        for diff, label in zip(diffs, labels, strict=True):
            if diff not in numbers:
                numbers[diff] = self._last_number("builds", diff, label, self.holds_builds)
            numbers[diff] = number = numbers[diff] + 1
            found.append(f"{label}/{number}")
        return found

    def next_run_label(self, day: str) -> str:
        number = self._run_numbers.get(day)
        if number is None:
            number = self._last_number("runs", day, day, self.holds_runs)
        self._run_numbers[day] = number + 1
        return f"{day}/{number + 1}"

    def _last_number(self, table: str, value: str, name: str, holds_any: bool) -> int:
        if table not in self._strays:
            self._strays[table] = strays(self.connection, table)
        given_before = self._strays[table]
        return (
            last_number(self.connection, table, value, name, given_before) if holds_any else given_before.get(name, 0)
        )

    def taker(self, kind_name: str) -> Callable[[Taken], None]:
        """A function that collects records: id, line, then the columns of ``STORED``. They wait for a flush."""
        return self._rows[kind_name].append

    def flush(self) -> None:
        """Write the waiting records, each kind after those it refers to; a dry run only discards them."""
        for name in _ORDER:
            rows = self._rows[name]
            if rows and not self.dry:
                self._start()
                columns = ("id", "note_line", *STORED[name])
                cells = list(zip(*rows, strict=True))
                filled = [place for place, column in enumerate(cells) if column.count(None) < len(column)]
                statement = self._insert(name, [columns[place] for place in filled])
                self.connection.executemany(statement, map(itemgetter(*filled), rows))
            rows.clear()

    def write(self, kind_name: str, columns: Mapping[str, Sequence[Any]]) -> None:
        """Write records that are given as columns; a dry run does not."""
        if self.dry:
            return
        self._start()
        filled = {name: cells for name, cells in columns.items() if cells.count(None) < len(cells)}
        self.connection.executemany(self._insert(kind_name, [*filled]), zip(*filled.values(), strict=True))

    def _insert(self, kind_name: str, columns: Sequence[str]) -> str:
        """The statement for rows of these columns, the id first; values shared by all rows are in it.

        Columns that no waiting row fills are left out, since to write an empty cell takes as long as a filled one.
        """
        shared = {"note_file": self.note_file, **dict.fromkeys(STAMPS[:2], self.stamp)}
        if self.by is not None:
            shared[STAMPS[2]] = self.by
        names = ", ".join(map(quoted, (*columns, "version", *shared)))
        places = (f"?{place}" for place in range(1, len(columns) + 1))
        values = ", ".join((*places, "?1", *map(literal, shared.values())))
        return f"INSERT INTO {BY_NAME[kind_name].table} ({names}) VALUES ({values})"

    def set_indexes_aside(self, rows: int, present: Collection[str] | None = None) -> None:
        """Drop the indexes of tables that grow by a large share; :meth:`finish` recreates them, which is faster.

        Those that this class needs for look-ups stay if the table has rows. So do those that get no row of a file with
        these columns ``present``, as they are of rows with a value in another one. The triggers that fill the search,
        detect other programs or note touched diffs are dropped too for many rows: even one that does nothing costs a
        tenth of the time that a row takes.
        """
        if self.dry:
            return
        self._start()
        if rows > _MANY_ROWS:
            look_away(self.connection, [BY_NAME[name].table for name in _ORDER])
            rows_to_place.look_away(self.connection)
            as_written.look_away(self.connection, [BY_NAME[name].table for name in _ORDER])
        for name in _ORDER:
            kind = BY_NAME[name]
            if rows > _MANY_ROWS:
                for added in added_sql(kind):
                    self.connection.execute(f"DROP TRIGGER IF EXISTS {added.split()[2]}")
                    self._dropped.append(added)
            held = self.connection.execute(f"SELECT count(*) FROM {kind.table}").fetchone()[0]
            if rows > _MANY_ROWS and held < _REBUILD_SHARE * rows:
                empty = () if present is None else _never_filled(kind, present)
                for statement in index_sql(kind):
                    index = statement.split()[2]
                    if (held and index in _LOOKED_UP) or statement.endswith(empty):
                        continue
                    self.connection.execute(f"DROP INDEX IF EXISTS {index}")
                    self._dropped.append(statement)

    def finish(self) -> None:
        """Write what waits, recreate the indexes and fill the search with one statement a table."""
        self.flush()
        for statement in self._dropped:
            self.connection.execute(statement)
        self._dropped.clear()
        if not self._last_rowids:
            return
        for name, last in self._last_rowids.items():
            kind = BY_NAME[name]
            if kind.searched:
                self.connection.execute(search_fill_sql(kind, "WHERE rowid > ?"), (last,))
            self._follow_removals(kind, last)
        self.connection.execute("UPDATE writing SET bulk = NULL")
        self._last_rowids.clear()

    def _start(self) -> None:
        """Make the triggers leave the search to :meth:`finish`, which fills it with the rows from here on."""
        if not self._last_rowids:
            self.connection.execute("UPDATE writing SET bulk = 1")
            self._last_rowids = {name: self._last_rowid(BY_NAME[name]) for name in (*_ORDER, *_NAMED)}

    def _follow_removals(self, kind: Kind, last: int) -> None:
        """A record that was removed and comes back is a version after its removal, not the first one again."""
        cursor = self.connection.cursor()
        cursor.row_factory = None
        found = cursor.execute(
            f"SELECT r.id, {', '.join(f'r.{quoted(name)}' for name in kind.columns)} FROM "
            "(SELECT DISTINCT row_id FROM history WHERE table_name = ? AND content IS NULL) h "
            f"CROSS JOIN {kind.table} r ON r.id = h.row_id WHERE r.rowid > ? ORDER BY r.id",
            (kind.table, last),
        ).fetchall()
        if not found:
            return
        self.connection.execute("UPDATE writing SET placing = 1")
        for row_id, *values in found:
            removed = removals(self.connection, kind, row_id)
            if not removed:
                continue
            parents = after(*removed)
            version = note_version(kind, parents, dict(zip(kind.columns, values, strict=True)))
            cursor.execute(f"UPDATE {kind.table} SET version = ?, parents = ? WHERE id = ?", (version, parents, row_id))
        self.connection.execute("UPDATE writing SET placing = NULL")

    def keep_file(self, *, values: Mapping[str, object], packed: bytes) -> None:
        """Keep the file once: its row (updated when it is read again, except its name and entry) and its bytes."""
        keep_past_of_file(self.connection, self.note_file)
        names = ("id", *values)
        changing = [quoted(name) for name in values if name not in ("name", "entry")]
        renewed = ", ".join(f"{name} = excluded.{name}" for name in changing)
        self.connection.execute(
            f"INSERT INTO note_files ({', '.join(map(quoted, names))}) VALUES ({', '.join('?' * len(names))}) "
            f"ON CONFLICT (id) DO UPDATE SET {renewed}",
            (self.note_file, *values.values()),
        )
        self.connection.execute(
            "INSERT INTO note_bytes (sha256, packed) VALUES (?, ?) ON CONFLICT (sha256) DO NOTHING",
            (values["sha256"], packed),
        )

    def note_entry(self, entry: str) -> None:
        """Note the entry that brought the file's rows in."""
        self.connection.execute("UPDATE note_files SET entry = ? WHERE id = ?", (entry, self.note_file))

    def keep_left(
        self,
        left: Iterable[tuple[int, str, str, str | None, str | None, str | None, str]],
        extras: Iterable[tuple[int, str]],
        *,
        is_known: bool = False,
    ) -> None:
        """Keep the lines left out and the extra cells of accepted rows, in place of those of an earlier reading.

        Which file closed a line stays, and so do, if rows of the file ``is_known`` already, their cells that no record
        takes: placing such a row did not find them again.
        """
        closed = {
            row[0]: (row[1], row[2])
            for row in self.connection.execute(
                "SELECT line, closed_by, closed_line FROM note_rejects WHERE note_file = ? AND closed_by IS NOT NULL "
                "AND reason <> 'changed_later'",
                (self.note_file,),
            )
        }
        if is_known:
            extras = self._with_loose(dict(extras))
        self.connection.execute(
            "DELETE FROM note_rejects WHERE note_file = ? AND reason <> 'changed_later'", (self.note_file,)
        )
        self.connection.execute("DELETE FROM note_extras WHERE note_file = ?", (self.note_file,))
        self.connection.executemany(
            "INSERT INTO note_rejects (id, note_file, line, status, reason, column_name, value, words, raw, "
            "closed_by, closed_line) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                (
                    left_id(self.note_file, one[0], number),
                    self.note_file,
                    *one,
                    *closed.get(one[0], (None, None)),
                )
                for number, one in enumerate(left)
            ),
        )
        self.connection.executemany(
            "INSERT INTO note_extras (id, note_file, line, cells) VALUES (?, ?, ?, ?)",
            ((extra_id(self.note_file, line), self.note_file, line, cells) for line, cells in extras),
        )

    def _with_loose(self, extras: dict[int, str]) -> list[tuple[int, str]]:
        """The extra cells with those of an earlier reading that no record takes."""
        for line, text in self.connection.execute(
            "SELECT line, cells FROM note_extras WHERE note_file = ?", (self.note_file,)
        ):
            loose = {name: value for name, value in (object_in(text) or {}).items() if name in LOOSE}
            if loose:
                extras[line] = object_text(loose | json.loads(extras.get(line, "{}")))
        return list(extras.items())

    def _current(self, where: str, values: tuple[object, ...]) -> Current | None:
        row = self.connection.execute(
            f"SELECT id, diff, built_on, fluid, viscosity_cst, mass_basis FROM builds {where}", values
        ).fetchone()
        return Current(*row) if row else None

    def _names_by_label(self, kind: Kind) -> Names:
        """The ids of records of a kind by their name, as it is written or as people mean it (``folded_label``)."""
        held = self._held_names(kind)
        by_meaning: dict[str, set[str]] = {}
        if kind.name in JOINED_KINDS:
            for name, row_id in held.items():
                if isinstance(name, str):
                    by_meaning.setdefault(folded_label(name), set()).add(row_id)

        def make(label: str) -> str | None:
            meant = by_meaning.get(folded_label(label), set())
            if len(meant) == 1:
                self.other_spellings.append((kind.name, label, self.line))
                return next(iter(meant))
            made = None if kind.needs_more else self._make(kind, label)
            if made is not None and kind.name in JOINED_KINDS:
                by_meaning.setdefault(folded_label(label), set()).add(made)
            return made

        return Names(held, make)

    def _held_names(self, kind: Kind) -> dict[str | None, str]:
        """Names with the ids of what stands for them; of two records with the same name the older.

        A name that was kept with marks that no one sees, or in quotes, is also found without them.
        """
        column = quoted(kind.label or "id")
        found = self.connection.execute(f"SELECT {column}, id FROM {kind.table} ORDER BY created_at DESC, id DESC")
        names: dict[str | None, str] = dict(map(tuple, found))
        others = self.connection.execute("SELECT id, stands FROM one_with WHERE kind = ?", (kind.name,))
        stands: dict[str, str] = dict(map(tuple, others))
        if kind.name == "diff":
            self.joined_diffs = _joined_by_name(names, stands)
        names = {name: stands.get(row_id, row_id) for name, row_id in names.items()}
        for name, row_id in [*names.items()]:
            if isinstance(name, str):
                names.setdefault(plain_label(name), row_id)
        return names

    def _make(self, kind: Kind, label: str, **more: str) -> str:
        made = content_id(_NO_DAY, "\0".join((kind.name, *more.values(), label)))
        if self._is_renamed(kind, made):
            return made
        self._add(kind, made, label, (label, *more.values()) if more else label, **more)
        return made

    def _make_event(self, name: str, day: str) -> EventDays:
        """The event without days that a row names. One that notes made and that got other days since is another."""
        kind, made = BY_NAME["event"], event_id(name)
        asked = "SELECT id, name, first_on, last_on, venue FROM events WHERE id = ?"
        held = self.connection.execute(asked, (made,)).fetchone()
        if held is not None and (found := of_day([EventDays(*held)], day)):
            return found[0]._replace(id=stands_for_it(self.connection, kind, made))
        if held is not None:
            made = event_id(f"{name}\0{day}")
        self._add(kind, made, name, (name, day))
        return EventDays(made, name, None, None, None)

    def _add(self, kind: Kind, made: str, label: str, key: Any, **more: str) -> None:
        """Add a record that a row names, under an id."""
        self.new_names.append((kind.name, key, self.line))
        if not self.dry:
            self._start()
            if kind.name == "fluid":
                more = {"medium": "oil"}
            values: dict[str, object] = {"id": made, "version": made, kind.label or "id": label, **more}
            values |= {"note_file": self.note_file, "note_line": self.line}
            values |= {"created_at": self.stamp, "updated_at": self.stamp, "updated_by": self.by}
            self.connection.execute(
                f"INSERT INTO {kind.table} ({', '.join(map(quoted, values))}) VALUES ({', '.join('?' * len(values))})",
                tuple(values.values()),
            )

    def _is_renamed(self, kind: Kind, made: str) -> bool:
        """Whether notes made this record under another name: a person renamed it since, and sheets still have it."""
        return self.connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (made,)).fetchone() is not None

    def _holds(self, table: str) -> bool:
        return self.connection.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone() is not None

    def _last_rowid(self, kind: Kind) -> int:
        return int(self.connection.execute(f"SELECT coalesce(max(rowid), 0) FROM {kind.table}").fetchone()[0])


def _never_filled(kind: Kind, present: Collection[str]) -> tuple[str, ...]:
    """The ends of the indexes of those rows that have a value in a column which a file with these columns never
    fills."""
    fills = {*WORKED_OUT[kind.name], *(column for column, name in filled(kind.name).items() if name in present)}
    return tuple(f" WHERE {quoted(name)} IS NOT NULL" for name in kind.columns if name not in fills)


def label_in(key: str | tuple[str, str]) -> str:
    """The name in what a record is looked up by: that of a bottle is its mark, of an event its name alone."""
    return key if isinstance(key, str) else key[0]


def _joined_by_name(names: Mapping[str | None, str], stands: Mapping[str, str]) -> dict[str, str]:
    """The ids that are one with others by their name, where the name is theirs alone."""
    joined = {*stands, *stands.values()}
    by_name: dict[str, set[str]] = {}
    for name, row_id in names.items():
        if isinstance(name, str):
            by_name.setdefault(folded_label(name), set()).add(row_id)
    return {name: one for name, ids in by_name.items() if len(ids) == 1 and (one := next(iter(ids))) in joined}
