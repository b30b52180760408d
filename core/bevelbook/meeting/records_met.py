"""The records of two databases become one: what only the other has comes in by SQL, and where both know a record and
differ, all its versions are put together and what follows from them is written.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final, TypeVar

from bevelbook.meeting.labels_met import may_be_counted_sql
from bevelbook.meeting.many_rows import many_rows
from bevelbook.meeting.other_database import OTHER
from bevelbook.meeting.versions_met import Apart, VersionsMet
from bevelbook.records import Kind
from bevelbook.store.heads import Content, may_be_derived
from bevelbook.store.ids import is_content_id_sql
from bevelbook.store.known_versions import past_rows
from bevelbook.store.schema import BOOKKEEPING, columns_of, literal, quoted
from bevelbook.store.showing import held_rows, show
from bevelbook.store.versions import LABELLED, PLACED

BLOCK: Final = 500
"""Records that are worked out at a time, so that memory stays flat."""
_BOOKS: Final = tuple(BOOKKEEPING)[2:]
"""The bookkeeping columns that belong to the content."""
_HISTORY: Final = ("version", "parents", "content", "replaced_in", "replaced_at")
_MOST_NAMED: Final = 200
"""The most records that were changed or removed of which it is kept how they were: only a few are named."""
Item = TypeVar("Item")


def blocks(items: Sequence[Item]) -> Iterator[Sequence[Item]]:
    """A list in blocks."""
    for start in range(0, len(items), BLOCK):
        yield items[start : start + BLOCK]


class RecordsMet:
    """Brings the records of the other database in, kind by kind; counts what came and changed, and notes what went."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.came: Counter[str] = Counter()
        self.changed: Counter[str] = Counter()
        self.behind: set[tuple[str, str]] = set()
        """The records that are shown as before, and of which the past, or who wrote them first, is another now."""
        self.apart: list[Apart] = []
        """The versions that have two contents, of which the own one stays."""
        self.last_rowids: dict[str, int] = {}
        self.met: dict[str, list[str]] = {}
        self.gone: set[tuple[str, str]] = set()
        self.diffs_before: dict[str, str] = {}
        """The diff that builds had which are shown otherwise now, or not any more."""
        self.rows_before: dict[tuple[str, str], tuple[str, str]] = {}
        """The version and the build of rows of notes which are shown otherwise now, or not any more, by kind and id."""
        self.otherwise: dict[tuple[str, str], Content] = {}
        connection.execute("CREATE TEMP TABLE IF NOT EXISTS met (id TEXT PRIMARY KEY NOT NULL) WITHOUT ROWID")

    def bring_in(self, kind: Kind, *, is_held: bool = True) -> None:
        """Bring in the records of a kind that only the other database knows, and set aside those that differ; nothing
        of a kind of which it holds none."""
        if not is_held:
            self.last_rowids[kind.table] = self._last_rowid(kind.table)
            return
        self.connection.execute("DELETE FROM temp.met")
        self._find_differing(kind)
        self.met[kind.name] = [row[0] for row in self.connection.execute("SELECT id FROM temp.met ORDER BY id")]
        self._take_earlier(kind)
        with many_rows(self.connection, kind, OTHER):
            self._add_new(kind)

    def with_new_rows(self) -> dict[str, int]:
        """The tables that have rows which were not there, with the last row before those."""
        return {table: last for table, last in self.last_rowids.items() if self._last_rowid(table) > last}

    def settle(self, kind: Kind) -> None:
        """Work out the records of a kind that both databases know and that differ, in blocks."""
        for ids in blocks(self.met.get(kind.name, ())):
            self.work_out(kind, ids)

    def work_out(self, kind: Kind, ids: Sequence[str]) -> None:
        """Put all versions of these records together and write what follows from them."""
        met = VersionsMet(self.connection, self.last_rowids)
        known = met.records(kind, ids)
        self.apart += met.apart
        here = held_rows(self.connection, kind, ids)
        past = past_rows(self.connection, kind, ids)
        for row_id in ids:
            record = known.get(row_id)
            if record is None:
                continue
            held = here.get(row_id)
            written = self.connection.total_changes
            outcome = show(self.connection, record, row_id, held, past.get(row_id, []))
            if outcome is None and self.connection.total_changes > written:
                self.behind.add((kind.name, row_id))
            if kind.name == "build" and held is not None and outcome is not None:
                self.diffs_before[row_id] = str(held["diff"])
            if held is not None and held["note_file"] and "build" in PLACED.get(kind.name, ()):
                self.rows_before[kind.name, row_id] = str(held["version"]), str(held["build"])
            if held is not None and outcome is not None and len(self.otherwise) < _MOST_NAMED:
                self.otherwise[kind.name, row_id] = held
            if outcome == "removed":
                self.gone.add((kind.name, row_id))
            elif outcome is not None:
                (self.changed if row_id in here or row_id in past else self.came)[kind.name] += 1

    def _find_differing(self, kind: Kind) -> None:
        """Note the records that both databases know and that differ in more than when they were written, and those of
        which the table shows a version that was removed."""
        table, name = kind.table, literal(kind.table)
        derived = may_be_derived(kind)
        plain = [column for column in ("parents", *kind.columns) if column not in derived]
        placed = sorted(derived)
        differs = f"o.version IS NOT t.version OR {_tuple('o', plain)} IS NOT {_tuple('t', plain)}"
        if placed:
            typed = " OR ".join(f"instr(o.entered, {literal(quoted(column))})" for column in placed)
            differs += (
                f" OR ((o.note_file IS NULL OR t.note_file IS NULL OR {typed}) "
                f"AND {_tuple('o', placed)} IS NOT {_tuple('t', placed)})"
            )
        if kind.name in LABELLED:
            label = quoted(kind.label or "id")
            differs += f" OR (o.{label} IS NOT t.{label} AND NOT {may_be_counted_sql(kind, f'o.{label}')})"
        has_past = " OR ".join(
            f"EXISTS (SELECT 1 FROM {schema}.history h WHERE h.table_name = {name} AND h.row_id = o.id)"
            for schema in ("main", OTHER)
        )
        same = "h.version = o.version AND h.parents IS o.parents AND h.content IS o.content"
        same += " AND h.replaced_in IS o.replaced_in AND h.replaced_at IS o.replaced_at"
        is_here = (
            f"(EXISTS (SELECT 1 FROM main.{table} t WHERE t.id = o.{{}}) OR EXISTS "
            f"(SELECT 1 FROM main.history k WHERE k.table_name = {name} AND k.row_id = o.{{}}))"
        )
        for statement in (
            f"SELECT o.id FROM {OTHER}.{table} o JOIN main.{table} t ON t.id = o.id WHERE {differs} "
            f"OR ({_tuple('o', _BOOKS)} IS NOT {_tuple('t', _BOOKS)} "
            f"AND (o.created_at = t.created_at OR NOT {is_content_id_sql('t.version')} OR {has_past}))",
            f"SELECT o.row_id FROM {OTHER}.history o WHERE o.table_name = {name} AND NOT EXISTS (SELECT 1 FROM "
            f"main.history h WHERE h.table_name = o.table_name AND h.row_id = o.row_id AND {same}) "
            f"AND {is_here.replace('{}', 'row_id')}",
            f"SELECT o.id FROM {OTHER}.{table} o WHERE NOT EXISTS (SELECT 1 FROM main.{table} t WHERE t.id = o.id) "
            f"AND EXISTS (SELECT 1 FROM main.history k WHERE k.table_name = {name} AND k.row_id = o.id)",
            *(
                f"SELECT t.id FROM {schema}.history h CROSS JOIN {schema}.{table} t ON t.id = h.row_id "
                f"AND t.version = h.version WHERE h.table_name = {name}"
                for schema in ("main", OTHER)
            ),
        ):
            self.connection.execute(f"INSERT OR IGNORE INTO temp.met {statement}")

    def _take_earlier(self, kind: Kind) -> None:
        """Where an import wrote the same version earlier in the other database, and neither knows another: take from
        there when, by whom and from which file."""
        earlier = "o.id = t.id AND o.created_at < t.created_at AND t.id NOT IN (SELECT id FROM temp.met)"
        if self._is_any(f"main.{kind.table} t JOIN {OTHER}.{kind.table} o ON {earlier}"):
            sets = ", ".join(f"{name} = o.{name}" for name in _BOOKS)
            taken = self.connection.execute(
                f"UPDATE main.{kind.table} AS t SET {sets} FROM {OTHER}.{kind.table} o WHERE {earlier} RETURNING id"
            ).fetchall()
            self.behind |= {(kind.name, str(row[0])) for row in taken}

    def _add_new(self, kind: Kind) -> None:
        """Add the records that only the other database knows, with their history."""
        table, name = kind.table, literal(kind.table)
        last = self.last_rowids[table] = self._last_rowid(table)
        columns = ", ".join(map(quoted, columns_of(kind)))
        known = f"EXISTS (SELECT 1 FROM main.history k WHERE k.table_name = {name} AND k.row_id = o.{{}})"
        new = (
            f"{OTHER}.{table} o WHERE NOT EXISTS (SELECT 1 FROM main.{table} t WHERE t.id = o.id) "
            f"AND NOT {known.format('id')} AND o.id NOT IN (SELECT id FROM temp.met)"
        )
        if self._is_any(new):
            self.came[kind.name] += self.connection.execute(
                f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM {new} ORDER BY o.rowid"
            ).rowcount
        self.connection.execute(
            f"INSERT INTO main.history (table_name, row_id, {', '.join(_HISTORY)}) "
            f"SELECT o.table_name, o.row_id, {', '.join(f'o.{one}' for one in _HISTORY)} FROM {OTHER}.history o "
            f"WHERE o.table_name = {name} AND NOT {known.format('row_id')} AND NOT EXISTS "
            f"(SELECT 1 FROM main.{table} t WHERE t.id = o.row_id AND t.rowid <= ?) "
            "AND o.row_id NOT IN (SELECT id FROM temp.met) ORDER BY o.row_id, o.id",
            (last,),
        )

    def _is_any(self, rows: str) -> bool:
        """Whether there is a row of those after FROM: to compile a statement that writes, with all its triggers, takes
        far longer than to see that there is none, as of most kinds."""
        return bool(self.connection.execute(f"SELECT EXISTS (SELECT 1 FROM {rows})").fetchone()[0])

    def _last_rowid(self, table: str) -> int:
        return int(self.connection.execute(f"SELECT coalesce(max(rowid), 0) FROM main.{table}").fetchone()[0])


def _tuple(row: str, names: Sequence[str]) -> str:
    return f"({', '.join(f'{row}.{quoted(name)}' for name in names)})"
