"""The stage of an import before it is written: temporary tables, gone with the connection.

They live outside the database file, so that a dry run writes nothing at all, and on disk, so that memory does not
grow with the rows.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache
from itertools import chain, islice
from marshal import dumps, loads
from operator import itemgetter
from typing import Any, Final, NamedTuple

from bevelbook.notes.note_columns import LATER
from bevelbook.store.schema import schema_sql

FINDINGS_KEPT: Final = 20
_TABLES: Final = ("staged", "staged_left", "staged_findings", "staged_extras", "staged_corrected")
CACHE_KB: Final = 16_000
_LOOKED_UP_LINES: Final = 500
_ROWS_OF_A_BLOCK: Final = 1_000
_ROWS_OF_A_PIECE: Final = 20
_BYTES_OF_A_BLOCK: Final = 5_000_000
_FULL: Final = ("oil_mass_g",)
"""Columns that make a row a build of its own, if each row has them."""
_FORMAT: Final = 2
"""For packed rows: numbers to the last bit; no search for equal objects, which costs more than it saves."""
FOOTER_WORDS: Final = {
    "too_few_fields": "a single text between the rows. Add the missing cells, or take the line out if it is only "
    "a title or a remark.",
    "date_unparseable": "not a date in any known form; wanted a day such as 2026-05-03.",
}


def make_room(connection: sqlite3.Connection) -> None:
    """Keep temporary tables on disk, with room to sort. Call it outside a transaction: it drops temporary tables."""
    for setting in ("temp_store = FILE", f"cache_size = -{CACHE_KB}", "threads = 2"):
        connection.execute(f"PRAGMA {setting}")


def empty_database() -> sqlite3.Connection:
    """An empty database in memory, for a dry run without a database."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    _template().backup(connection)
    return connection


@cache
def _template() -> sqlite3.Connection:
    """What an empty one is a copy of: to make it takes seven times as long. Any thread may copy it, none writes it."""
    made = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    for statement in schema_sql():
        made.execute(statement)
    return made


class LeftOut(NamedTuple):
    """A line that was rejected or skipped; ``raw`` is its cells as a JSON list."""

    line: int
    status: str
    reason: str
    column: str | None
    value: str | None
    words: str | None
    raw: str


def picker(places: Sequence[int]) -> Callable[[tuple[Any, ...]], tuple[Any, ...]]:
    """A function that picks the values at these places from a row."""
    if len(places) > 1:
        return itemgetter(*places)
    if places:
        only = places[0]
        return lambda row: (row[only],)
    return lambda row: ()


class RowShape:
    """The columns of a note row: ``columns`` are the canonical ones, in order; ``present`` those that a row has."""

    def __init__(self, columns: Sequence[str], present: Collection[str]) -> None:
        self.columns = tuple(columns)
        self.present = tuple(name for name in columns if name in present)

    def picker(self, names: Sequence[str]) -> Callable[[tuple[Any, ...]], tuple[Any, ...]]:
        """A function that picks these columns from a row with a None after its last column; absent ones give that
        None."""
        return picker([self.place(name) for name in names])

    def place(self, name: str) -> int:
        """The place of a column in a row with a None after its last column; that of the None for an absent one."""
        return self.present.index(name) if name in self.present else -1

    def add_finding(self, line: int, code: str, size: float | None = None) -> None:
        """Add one finding about a row; where nothing collects them, it is dropped."""

    def add_extras(self, extras: Iterable[tuple[int, str]]) -> None:
        """Add cells that no record of their row takes, as JSON by line; where nothing collects them, they are
        dropped."""


class Stage(RowShape):
    """The rows of one file before they are written.

    Findings past ``FINDINGS_KEPT``
    of a kind are only counted, unless ``every_finding`` is asked for. A row is stored packed, in one piece: column by
    column would take twice as long.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        columns: Sequence[str],
        present: Sequence[str],
        *,
        every_finding: bool = False,
    ) -> None:
        super().__init__(columns, present)
        self.connection = connection
        self.accepted = 0
        self.with_gaps: set[str] = set()
        """The columns, of those that :data:`_FULL` names, in which a row has no value."""
        self.every_finding = every_finding
        self.finding_counts: Counter[str] = Counter()
        self._pick = self.picker(self.columns)
        self.content = self._contents()
        for table in _TABLES:
            connection.execute(f"DROP TABLE IF EXISTS temp.{table}")
        connection.execute('CREATE TEMP TABLE staged (line INTEGER PRIMARY KEY, "date" TEXT, packed BLOB)')
        connection.execute(
            "CREATE TEMP TABLE staged_left (line INTEGER, status, reason, column_name, value, words, raw)"
        )
        connection.execute("CREATE TEMP TABLE staged_findings (line INTEGER, code, size REAL)")
        connection.execute("CREATE TEMP TABLE staged_extras (line INTEGER, cells)")
        connection.execute("CREATE TEMP TABLE staged_corrected (line INTEGER, of_line INTEGER, raw)")

    def _contents(self) -> Callable[[tuple[Any, ...]], str]:
        """A function that makes the text that a row's id is a hash of."""
        always = [name for name in self.columns if name not in LATER]
        template = "\x1f".join("%s" if name in self.present else "None" for name in always)
        later = [name for name in self.present if name in LATER]
        if not later:
            return template.__mod__
        first = len(self.present) - len(later)

        def content(row: tuple[Any, ...]) -> str:
            more = zip(later, row[first:], strict=True)
            filled = "".join(f"\x1f{name}={value}" for name, value in more if value is not None)
            return template % row[:first] + filled

        return content

    def clear(self) -> None:
        """Empty the stage."""
        for table in _TABLES:
            self.connection.execute(f"DELETE FROM temp.{table}")
        self.finding_counts.clear()
        self.with_gaps.clear()
        self.accepted = 0

    def add_rows(self, lines: Sequence[int], columns: Mapping[str, Sequence[object]]) -> None:
        """Add accepted rows, given as columns."""
        if not lines:
            return
        rows = zip(*(columns[name] for name in self.present), strict=True)
        self.connection.executemany(
            "INSERT INTO staged VALUES (?, ?, ?)",
            [(line, day, dumps(row, _FORMAT)) for line, day, row in zip(lines, columns["date"], rows, strict=True)],
        )
        self.with_gaps.update(name for name in _FULL if name in columns and None in columns[name])
        self.accepted += len(lines)

    def add_left(self, left: Iterable[tuple[int, str, str, str | None, str | None, str | None, Sequence[str]]]) -> None:
        self.connection.executemany(
            "INSERT INTO staged_left VALUES (?, ?, ?, ?, ?, ?, ?)",
            ((*one[:6], json.dumps(list(one[6]), ensure_ascii=False)) for one in left),
        )

    def leave_out(
        self, line: int, left: tuple[int, str, str, str | None, str | None, str | None, Sequence[str]]
    ) -> None:
        """Leave out a row that was accepted, with all that was found about it."""
        for table in ("staged", "staged_extras", "staged_corrected", "staged_findings"):
            self.connection.execute(f"DELETE FROM temp.{table} WHERE line = ?", (line,))
        self.accepted -= 1
        self.add_left([left])

    def set_aside(self, lines: Iterable[int]) -> None:
        """Take accepted rows away as if the file did not have them."""
        self.connection.executemany("DELETE FROM temp.staged WHERE line = ?", [(line,) for line in lines])

    def add_finding(self, line: int, code: str, size: float | None = None) -> None:
        """Add one finding; ``size`` is a mass difference that is judged later."""
        count = self.finding_counts[code] = self.finding_counts[code] + 1
        if count <= FINDINGS_KEPT or self.every_finding or size is not None:
            self.connection.execute("INSERT INTO staged_findings VALUES (?, ?, ?)", (line, code, size))

    def add_extras(self, extras: Iterable[tuple[int, str]]) -> None:
        self.connection.executemany("INSERT INTO staged_extras VALUES (?, ?)", extras)

    def add_corrected(self, rows: Iterable[tuple[int, int, Sequence[str]]]) -> None:
        """Add accepted rows of a file of rejected rows: their line, the line that each had before, and its cells."""
        self.connection.executemany(
            "INSERT INTO staged_corrected VALUES (?, ?, ?)",
            ((line, of_line, json.dumps(list(cells), ensure_ascii=False)) for line, of_line, cells in rows),
        )

    def corrected(self) -> Iterator[tuple[int, int, list[str]]]:
        """What :meth:`add_corrected` added, by line."""
        for line, of_line, raw in self.connection.execute("SELECT * FROM staged_corrected ORDER BY line, rowid"):
            yield line, of_line, json.loads(raw)

    def settle_footers(self) -> None:
        """A single text with accepted rows below it is not a footer but a row without its other cells."""
        last = self.connection.execute("SELECT coalesce(max(line), 0) FROM staged").fetchone()[0]
        for code, test in (("too_few_fields", "="), ("date_unparseable", ">")):
            self.connection.execute(
                "UPDATE staged_left SET status = 'rejected', reason = ?, words = ? "
                f"WHERE reason = 'footer' AND line < ? AND json_array_length(raw) {test} 1",
                (code, FOOTER_WORDS[code], last),
            )

    def take_findings(self, code: str, most: int) -> tuple[list[int], int]:
        """Take the findings of a code off the stage: the first lines, at most so many, and how many there were."""
        found = self.connection.execute(
            "SELECT DISTINCT line FROM staged_findings WHERE code = ? ORDER BY line LIMIT ?", (code, most)
        )
        lines, count = [row[0] for row in found], self.finding_counts.pop(code, 0)
        if count:
            self.connection.execute("DELETE FROM staged_findings WHERE code = ?", (code,))
        return lines, count

    def gaps(self) -> list[tuple[float, str]]:
        """Differences between dry + oil and total with their current codes."""
        return [
            (size, code)
            for size, code in self.connection.execute(
                "SELECT size, code FROM staged_findings WHERE size IS NOT NULL LIMIT 100000"
            )
        ]

    def settle_gaps(self, smallest_g: float) -> None:
        """Keep the differences that the scale does not explain."""
        self.connection.execute(
            "DELETE FROM staged_findings WHERE code = 'mass_mismatch' OR (code = 'mass_balance' AND abs(size) < ?)",
            (smallest_g,),
        )
        for code in ("mass_balance", "mass_mismatch"):
            left = self.connection.execute("SELECT count(*) FROM staged_findings WHERE code = ?", (code,)).fetchone()[0]
            self.finding_counts[code] = left

    def in_order(self, days: Collection[str] | None = None) -> Iterator[tuple[int, tuple[Any, ...]]]:
        """Accepted rows by day, then line: the line and the columns that the file has (see :meth:`spread`).

        Only those of ``days``, if given.
        """
        return chain.from_iterable(self.in_blocks(_ROWS_OF_A_BLOCK, days))

    def in_blocks(self, size: int, days: Collection[str] | None = None) -> Iterator[list[tuple[int, tuple[Any, ...]]]]:
        """The same, so many rows at a time, fewer where they are long."""
        cursor = self.connection.cursor()
        cursor.row_factory = None
        of_days = "" if days is None else 'WHERE "date" IN (SELECT value FROM json_each(?))'
        cursor.execute(
            f'SELECT line, packed FROM staged {of_days} ORDER BY "date", line',
            () if days is None else (json.dumps([*days]),),
        )
        while block := cursor.fetchmany(min(size, _ROWS_OF_A_PIECE)):
            piece, held = block, 0
            while len(block) < size and (held := held + sum(len(row[1]) for row in piece)) < _BYTES_OF_A_BLOCK:
                piece = cursor.fetchmany(min(size - len(block), _ROWS_OF_A_PIECE))
                if not piece:
                    break
                block += piece
            yield [(line, loads(packed)) for line, packed in block]

    def on_lines(self, lines: Iterable[int]) -> Iterator[tuple[int, tuple[Any, ...]]]:
        """The accepted rows on these lines, in their order, as :meth:`in_order` gives them."""
        waiting = iter(lines)
        while some := list(islice(waiting, _LOOKED_UP_LINES)):
            looked_up = "json_each(?) wanted CROSS JOIN staged ON staged.line = wanted.value ORDER BY wanted.key"
            yield from self._unpacked(looked_up, json.dumps(some))

    def spread(self, row: tuple[Any, ...]) -> tuple[Any, ...]:
        """The canonical columns of a row; None for those that the file does not have."""
        found: tuple[Any, ...] = self._pick((*row, None))
        return found

    def rows(self) -> Iterator[tuple[Any, ...]]:
        """Accepted rows by line: the line and the canonical columns."""
        for line, row in self._unpacked("staged ORDER BY line"):
            yield line, *self.spread(row)

    def _unpacked(self, where: str, *values: str) -> Iterator[tuple[int, tuple[Any, ...]]]:
        cursor = self.connection.cursor()
        cursor.row_factory = None
        for line, packed in cursor.execute(f"SELECT line, packed FROM {where}", values):
            yield line, loads(packed)

    def left(self, status: str | None = None) -> Iterator[LeftOut]:
        """Rejected and skipped lines by line."""
        cursor = self.connection.cursor()
        cursor.row_factory = None
        where = "WHERE status = ?" if status else ""
        for row in cursor.execute(
            f"SELECT * FROM staged_left {where} ORDER BY line, rowid", (status,) if status else ()
        ):
            yield LeftOut(*row)

    def left_counts(self) -> dict[tuple[str, str], int]:
        """How many lines were left out by status and reason."""
        found = self.connection.execute(
            "SELECT status, reason, count(*) FROM staged_left GROUP BY 1, 2 ORDER BY 3 DESC, 1, 2"
        )
        return {(status, reason): count for status, reason, count in found}

    def findings(self) -> Iterator[tuple[int, str]]:
        """Line and code of every finding, by line."""
        cursor = self.connection.cursor()
        cursor.row_factory = None
        yield from cursor.execute("SELECT line, code FROM staged_findings ORDER BY line, code")

    def extras(self) -> Iterator[tuple[int, str]]:
        cursor = self.connection.cursor()
        cursor.row_factory = None
        yield from cursor.execute(
            "SELECT line, json_group_object(j.key, j.value) FROM staged_extras, json_each(cells) j GROUP BY line"
        )
