"""Builds, runs and bottles of one name stay two: each shows who wrote it: ``rear-a/12 of anna``.

Two members may both make a build of that name on a weekend. What was written is kept in ``as_written``, as with
references; that a name shows more is nobody's change. It follows from the records and their entries alone.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from typing import Final, NamedTuple

from bevelbook.facts.temporary_triggers import make_where_missing
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import TOLD_APART_KINDS
from bevelbook.store.schema import literal, quoted

_TABLE: Final = "names_touched"
KINDS_TOLD_APART: Final = tuple(BY_NAME[name] for name in TOLD_APART_KINDS)
_TAIL: Final = 6
_UNKNOWN: Final = "somebody"
NO_DAY: Final = "no day"
"""What tells an event without days from others of its name."""


class OneOfTwo(NamedTuple):
    """A record whose name others have too: what to type for it, its id, who wrote it, and its day."""

    shown: str
    row_id: str
    who: str | None
    day: str | None

    @property
    def words(self) -> str:
        """For a list from which to choose: what to type, and what it does not say yet of who wrote it and when."""
        parts = (f"of {self.who}" if self.who else None, self.day)
        more = [part for part in parts if part and part not in self.shown]
        return f"{self.shown} ({', '.join(more)})" if more else self.shown


class _Written(NamedTuple):
    """A record with the name that was written, the one that it shows, who wrote it, and its day."""

    row_id: str
    written: str
    shown: str
    who: str | None
    day: str | None


_WAYS: Final[tuple[Callable[[_Written], str], ...]] = (
    lambda one: one.who or "",
    lambda one: " ".join(part for part in (one.who, one.day) if part),
    lambda one: f"{one.who or _UNKNOWN} {one.row_id[-_TAIL:]}",
    lambda one: one.row_id,
)
"""What a name may show behind ``of``: who wrote the record, if that tells it from others, else more."""
_WAYS_OF_EVENTS: Final[tuple[Callable[[_Written], str], ...]] = (lambda one: one.day or NO_DAY, *_WAYS)
"""What tells an event from others of its name first is its first day."""


def watch(connection: sqlite3.Connection) -> None:
    """Start noting which names of builds, runs and bottles are written or go."""
    connection.execute(f"CREATE TEMP TABLE IF NOT EXISTS {_TABLE} (kind TEXT NOT NULL, name TEXT, UNIQUE (kind, name))")
    connection.execute(f"DELETE FROM temp.{_TABLE}")
    make_where_missing(connection, _triggers())


@cache
def _triggers() -> dict[str, str]:
    """The SQL of each trigger behind its name."""
    triggers = {}
    for kind in KINDS_TOLD_APART:
        label = quoted(_label(kind))
        columns = f"{label}, fluid" if kind.name == "bottle" else label
        for event, rows in (("INSERT", ("NEW",)), (f"UPDATE OF {columns}", ("OLD", "NEW")), ("DELETE", ("OLD",))):
            noted = " ".join(
                f"INSERT OR IGNORE INTO {_TABLE} VALUES ({literal(kind.name)}, {row}.{label});" for row in rows
            )
            triggers[_trigger(event.split()[0], kind.table)] = f"AFTER {event} ON main.{kind.table} BEGIN {noted} END"
    return triggers


def look_away(connection: sqlite3.Connection) -> None:
    """Stop noting new records until the transaction ends: an import gives them names that nothing has."""
    for kind in KINDS_TOLD_APART:
        connection.execute(f"DROP TRIGGER IF EXISTS temp.{_trigger('INSERT', kind.table)}")


def tell_apart(connection: sqlite3.Connection, *, all_of_them: bool = False) -> bool:
    """Have each record of a name that others have too show who wrote it, and each other one what was written.

    Only names that this transaction touched, or all of them. Runs inside the caller's transaction, with ``placing``
    set. Returns whether anything changed.
    """
    changed = False
    for kind in KINDS_TOLD_APART:
        touched = None if all_of_them else _touched(connection, kind)
        if touched != []:
            for one, shown in _differing(connection, kind, touched):
                _show(connection, kind, one, shown)
                changed = True
    if not all_of_them:
        connection.execute(f"DELETE FROM temp.{_TABLE}")
    return changed


def not_told_apart(connection: sqlite3.Connection) -> int:
    """How many records show another name than follows from the records."""
    return sum(len(list(_differing(connection, kind, None))) for kind in KINDS_TOLD_APART)


def shown_and_not_kept(connection: sqlite3.Connection, kind: Kind) -> list[tuple[str, str, str]]:
    """The records that show just what they would if others had their name too, while nothing says that it was written
    shorter: the id of each, what it shows, and what was written by all appearance."""
    label = quoted(_label(kind))
    found = connection.execute(
        f"SELECT t.id FROM main.{kind.table} t WHERE t.{label} LIKE '%_ of _%' AND NOT EXISTS (SELECT 1 FROM "
        f"main.as_written w WHERE {_of_it(kind, 'w')} AND w.row_id = t.id) ORDER BY t.id"
    ).fetchall()
    shorter: dict[str, _Written] = {}
    for row in _rows(connection, kind, (), [row_id for (row_id, *_) in found]) if found else ():
        ends = sorted({f" of {way(row)}" for way in _ways(kind) if way(row)}, key=len, reverse=True)
        end = next((one for one in ends if row.shown.endswith(one) and len(row.shown) > len(one)), None)
        if end is not None:
            shorter[row.row_id] = row._replace(written=row.shown.removesuffix(end))
    fluids = _fluids(connection) if kind.name == "bottle" else {}
    groups: dict[tuple[str, str | None], dict[str, _Written]] = {}
    alike = _rows(connection, kind, {one.written for one in shorter.values()}) if shorter else []
    for one in (*alike, *shorter.values()):
        groups.setdefault((one.written.casefold(), fluids.get(one.row_id)), {})[one.row_id] = one
    return sorted(
        (one.row_id, one.shown, one.written)
        for group in groups.values()
        for one, shown in zip(group.values(), _shown(kind, [*group.values()]), strict=True)
        if one.row_id in shorter and one.shown == shown
    )


def of_one_name(connection: sqlite3.Connection, kind: Kind, name: str) -> list[OneOfTwo]:
    """The records of which this name was written and that show more, by what they show; none for other kinds."""
    if kind.name not in TOLD_APART_KINDS:
        return []
    rows = [row for row in _rows(connection, kind, [name]) if row.written != row.shown]
    return sorted(OneOfTwo(row.shown, row.row_id, row.who, row.day) for row in rows)


def one_of_two(connection: sqlite3.Connection, kind: Kind, row_id: str) -> OneOfTwo:
    """What to type for one of several records that have a name: the name where it tells them apart, else the id.

    Raises LookupError for an unknown record.
    """
    label = quoted(_label(kind))
    (name,) = connection.execute(f"SELECT {label} FROM main.{kind.table} WHERE id = ?", (row_id,)).fetchone() or (None,)
    found = [row for row in _rows(connection, kind, [name or ""]) if row.row_id == row_id]
    if not found:
        raise LookupError(row_id)
    one = found[0]
    return OneOfTwo(one.shown if one.shown != one.written else row_id, row_id, one.who, one.day)


def parted_by(connection: sqlite3.Connection, kind: Kind, row_ids: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """What tells each of some records from the others of its name, behind ``of``, by their ids: who wrote it, that with
    the day, that with a bit of the id, the id."""
    rows = _rows(connection, kind, (), row_ids)
    return {row.row_id: tuple(way(row) for way in _ways(kind) if way(row)) for row in rows}


def of_one_thing_each(connection: sqlite3.Connection, kind: Kind, row_ids: Iterable[str]) -> list[OneOfTwo]:
    """Records of one name that are several things, each with what to type for it."""
    rows = _rows(connection, kind, (), row_ids)
    names = {folded_label(row.written) for row in rows}
    shown = _shown(kind, rows) if len(names) == 1 else [row.row_id for row in rows]
    return [OneOfTwo(name, row.row_id, row.who, row.day) for row, name in zip(rows, shown, strict=True)]


def written_name_sql(kind: Kind, row: str) -> str:
    """SQL of the name that was written of a record."""
    written = f"SELECT w.written FROM main.as_written w WHERE {_of_it(kind, 'w')} AND w.row_id = {row}.id"
    return f"coalesce(({written}), {row}.{quoted(_label(kind))})"


def written_by_sql(kind: Kind, row: str) -> str:
    """SQL of who wrote a record first, as far as that is known."""
    first = (
        "coalesce((SELECT h.version FROM main.history h WHERE h.table_name = "
        f"{literal(kind.table)} AND h.row_id = {row}.id AND h.parents IS NULL AND h.content IS NOT NULL "
        f"ORDER BY h.version, h.id LIMIT 1), {row}.version)"
    )
    return (
        f"coalesce((SELECT e.made_by FROM main.entries e WHERE e.id = {first}), (SELECT e.made_by FROM main.entries e "
        f"WHERE e.made_at = {row}.created_at ORDER BY e.id LIMIT 1), {row}.updated_by)"
    )


def names_in(connection: sqlite3.Connection, kind: Kind) -> list[str]:
    """The names of a kind that several records have."""
    found = connection.execute(f"SELECT DISTINCT written FROM as_written w WHERE {_of_it(kind, 'w')} ORDER BY 1")
    return [str(row[0]) for row in found]


def is_touched(connection: sqlite3.Connection) -> bool:
    """Whether any name was written or went since :func:`watch`; no if nobody watches."""
    found = connection.execute("SELECT 1 FROM temp.sqlite_master WHERE type = 'table' AND name = ?", (_TABLE,))
    if found.fetchone() is None:
        return False
    return bool(connection.execute(f"SELECT count(*) FROM temp.{_TABLE}").fetchone()[0])


def _touched(connection: sqlite3.Connection, kind: Kind) -> list[str]:
    """The names that were touched, with those that several have, since what they show may be what was touched."""
    found = connection.execute(f"SELECT name FROM temp.{_TABLE} WHERE kind = ?", (kind.name,)).fetchall()
    touched = [row[0] for row in found if isinstance(row[0], str)]
    return [*touched, *names_in(connection, kind)] if touched else []


def _differing(
    connection: sqlite3.Connection, kind: Kind, names: Sequence[str] | None
) -> Iterator[tuple[_Written, str]]:
    """The records that are to show another name, with that name; of some names or of all."""
    if names is None:
        label = quoted(_label(kind))
        found = connection.execute(
            f"SELECT min({label}) FROM main.{kind.table} GROUP BY {label} COLLATE NOCASE HAVING count(*) > 1"
        ).fetchall()
        names = [*(row[0] for row in found if isinstance(row[0], str)), *names_in(connection, kind)]
    groups: dict[tuple[str, str | None], list[_Written]] = {}
    fluids = _fluids(connection) if kind.name == "bottle" else {}
    for row in _rows(connection, kind, names):
        groups.setdefault((row.written.casefold(), fluids.get(row.row_id)), []).append(row)
    for alike in groups.values():
        for one, shown in zip(alike, _shown(kind, alike), strict=True):
            if one.shown != shown:
                yield one, shown


def _ways(kind: Kind) -> tuple[Callable[[_Written], str], ...]:
    return _WAYS_OF_EVENTS if kind.name == "event" else _WAYS


def _shown(kind: Kind, alike: Sequence[_Written]) -> list[str]:
    """What records of one name show: who wrote it, if that tells them apart, else the day too, else a bit of the id."""
    if len(alike) == 1:
        return [alike[0].written]
    for way in _ways(kind):
        said = [way(one) for one in alike]
        if all(said) and len({text.casefold() for text in said}) == len(said):
            break
    return [f"{one.written} of {text}" for one, text in zip(alike, said, strict=True)]


def _rows(
    connection: sqlite3.Connection, kind: Kind, names: Iterable[str], row_ids: Iterable[str] = ()
) -> list[_Written]:
    """The records of these names, and those of these ids."""
    label, day = quoted(_label(kind)), f"r.{quoted(kind.day)}" if kind.day else "substr(r.created_at, 1, 10)"
    by = written_by_sql(kind, "r")
    names_asked = "SELECT value FROM json_each(:names)"
    asked = (
        f"SELECT t.id FROM json_each(:names) n CROSS JOIN main.{kind.table} t ON t.{label} = n.value COLLATE NOCASE "
        f"UNION SELECT w.row_id FROM main.as_written w WHERE {_of_it(kind, 'w')} "
        f"AND w.written COLLATE NOCASE IN ({names_asked}) UNION SELECT value FROM json_each(:ids)"
    )
    rows = connection.execute(
        f"SELECT r.id, {written_name_sql(kind, 'r')}, r.{label}, {by}, {day} FROM ({asked}) a "
        f"CROSS JOIN main.{kind.table} r ON r.id = a.id ORDER BY r.id",
        {"names": json.dumps(sorted(set(filter(None, names)))), "ids": json.dumps(sorted(row_ids))},
    )
    return sorted(_Written(*row) for row in rows)


def _fluids(connection: sqlite3.Connection) -> dict[str, str]:
    return {row[0]: row[1] for row in connection.execute("SELECT id, fluid FROM main.bottles")}


def _show(connection: sqlite3.Connection, kind: Kind, one: _Written, shown: str) -> None:
    label = _label(kind)
    connection.execute(f"UPDATE main.{kind.table} SET {quoted(label)} = ? WHERE id = ?", (shown, one.row_id))
    if shown == one.written:
        connection.execute(f"DELETE FROM as_written WHERE {_of_it(kind, 'as_written')} AND row_id = ?", (one.row_id,))
    else:
        connection.execute(
            "INSERT OR IGNORE INTO as_written (table_name, row_id, column_name, written) VALUES (?, ?, ?, ?)",
            (kind.table, one.row_id, label, one.written),
        )


def _of_it(kind: Kind, row: str) -> str:
    return f"{row}.table_name = {literal(kind.table)} AND {row}.column_name = {literal(_label(kind))}"


def _label(kind: Kind) -> str:
    return kind.label or "id"


def _trigger(event: str, table: str) -> str:
    return f"name_by_{event.lower()}_of_{table}"
