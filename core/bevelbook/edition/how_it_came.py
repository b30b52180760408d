"""What an edition does not tell of how its records came about: who changed them, when, in which order sheets came in.

The bookkeeping of a record is made from what the record says, so that two laptops, or two orders of import, give
the same. What was written by hand keeps the time of writing, since the order of a day may rest on it; what has an id
made from its content counts as written at the end of its day.
"""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.edition.edition_rows import JSON_COLUMNS, Row, change_rows
from bevelbook.facts.builds import oldest_first
from bevelbook.facts.day_order import time_sql
from bevelbook.facts.views import LATEST_FIRST
from bevelbook.records import BY_NAME, BY_TABLE, Kind
from bevelbook.records.kept_file_names import called_file
from bevelbook.store.calculations import calculation_id
from bevelbook.store.edition_mark import END_OF_DAY
from bevelbook.store.ids import content_id, is_content_id_sql
from bevelbook.store.schema import columns_of, content_json

NO_DAY: Final = "1970-01-01"
_COUNTED: Final = late_pattern(r"(.*/)(\d+)")


def end_of(day: str) -> str:
    """The last moment of a day, as the database writes one."""
    return f"{day}{END_OF_DAY}"


def first_day(aside: sqlite3.Connection, kinds: Sequence[Kind]) -> str:
    """The first day that any record names."""
    days = [
        aside.execute(f"SELECT min({field.name}) FROM {kind.table}").fetchone()[0]
        for kind in kinds
        for field in kind.fields
        if field.kind == "date"
    ]
    return min((day for day in days if day), default=NO_DAY)


def day_of_sql(kind: Kind, row: str = "t") -> str:
    """SQL for the day of a record: its own, else that of a record that it belongs to; NULL where neither has one."""
    days = [f"{row}.{kind.day}"] if kind.day else []
    for field in kind.fields:
        owner = BY_NAME[field.target] if field.kind == "reference" and field.target else None
        if owner is not None and owner.day and field.required:
            days.append(f"(SELECT o.{owner.day} FROM {owner.table} o WHERE o.id = {row}.{field.name})")
    return f"coalesce({', '.join((*days, 'NULL', 'NULL'))})"


def forget_bookkeeping(aside: sqlite3.Connection, kinds: Sequence[Kind], *, keep_times: bool) -> None:
    """Leave out who changed a record, when, and what was there before; with ``keep_times`` when it was made stays, as
    in an edition, where nothing else is left of it."""
    first = first_day(aside, kinds)
    for kind in kinds:
        if kind.own:
            aside.execute(
                f"UPDATE {kind.table} AS t SET updated_by = NULL, parents = NULL, created_at = "
                f"iif({is_content_id_sql('id')} AND ?, coalesce({day_of_sql(kind)}, ?) || '{END_OF_DAY}', created_at)",
                (not keep_times, first),
            )
            aside.execute(f"UPDATE {kind.table} SET updated_at = created_at")
    aside.execute("UPDATE note_files SET options = NULL, entry = NULL, read_at = ?", (end_of(first),))
    aside.execute("UPDATE pictures SET kept_at = ?", (end_of(first),))


def number_again(aside: sqlite3.Connection) -> dict[str, str]:
    """Give the labels that were counted while sheets came in to the same builds and runs in the order of their days.

    Which labels there are stays. Returns the labels that another record has now: the new one by the old one.
    """
    sheets = sheets_in_order(aside)
    counted = "t.note_file IS NOT NULL AND json_extract(t.entered, '$.label') IS NULL"
    builds = aside.execute(
        f"SELECT t.id, t.label, t.diff FROM builds t WHERE {counted} ORDER BY t.diff, {oldest_first('t')}"
    ).fetchall()
    said = f"t.id, t.label, t.run_on, t.day_order, {time_sql('t')}, t.note_file, t.note_line"
    asked = f"SELECT {said} FROM runs t WHERE {counted}"
    runs = sorted(
        aside.execute(f"{asked} ORDER BY t.id").fetchall(),
        key=lambda one: (one[2], one[3] or 0, one[4] or "", sheets.get(one[5], 0), one[6] or 0, one[0]),
    )
    changed: dict[str, str] = {}
    for table, rows in (("builds", builds), ("runs", [row[:3] for row in runs])):
        by_group: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for row_id, label, group in rows:
            if _COUNTED.fullmatch(label):
                by_group[group].append((row_id, label))
        for held in by_group.values():
            labels = sorted((label for _, label in held), key=_place)
            for (row_id, before), label in zip(held, labels, strict=True):
                if before != label:
                    changed[before] = label
                    aside.execute(f"UPDATE {table} SET label = ? WHERE id = ?", (label, row_id))
    return changed


def _place(label: str) -> tuple[str, int]:
    found = _COUNTED.fullmatch(label)
    assert found is not None
    return found[1], int(found[2])


def sheets_in_order(aside: sqlite3.Connection) -> dict[str, int]:
    """The kept files by the first day in them, those of more rows first, then by what they are called."""
    first: dict[str, str] = {}
    for kind in BY_TABLE.values():
        if kind.own and kind.day:
            for file, day in aside.execute(
                f"SELECT note_file, min({kind.day}) FROM {kind.table} WHERE note_file IS NOT NULL GROUP BY 1 ORDER BY 1"
            ):
                first[file] = min(first.get(file, day or ""), day or "")
    files = aside.execute("SELECT id, name, part, sha256, accepted FROM note_files ORDER BY id").fetchall()
    ordered = sorted(
        files, key=lambda one: (first.get(one[0], ""), -one[4], called_file(one[1], one[2]), one[3], one[0])
    )
    return {row[0]: place for place, row in enumerate(ordered)}


def keep_valid_results(aside: sqlite3.Connection, kinds: Sequence[Kind], relabelled: Mapping[str, str]) -> None:
    """Of the results of one calculator and record keep the valid one, without who kept it and when."""
    kind = BY_NAME["calculation"]
    latest = (
        "SELECT id FROM (SELECT id, row_number() OVER (PARTITION BY calculator, subject_table, subject_id "
        f"ORDER BY {LATEST_FIRST}) AS place FROM {kind.table}) WHERE place = 1"
    )
    aside.execute(f"DELETE FROM {kind.table} WHERE id NOT IN ({latest})")
    known = {one.table for one in kinds}
    days: dict[str, dict[str, str]] = {}
    for (table,) in aside.execute(f"SELECT DISTINCT subject_table FROM {kind.table}").fetchall():
        if table in known:
            one = BY_TABLE[table]
            asked = f"SELECT t.id, {day_of_sql(one)} FROM {table} t"
            days[table] = {row[0]: row[1] for row in aside.execute(asked) if row[1]}
    first = first_day(aside, kinds)
    words = in_words_of(relabelled)

    def change(row: Row) -> None:
        day = days.get(row["subject_table"] or "", {}).get(row["subject_id"] or "", first)
        row |= {"calculated_by": None, "entry": None, "calculated_at": end_of(day)}
        if words is not None:
            for column in JSON_COLUMNS[kind.name]:
                row[column] = words(row[column])

    change_rows(aside, kind, change)


def in_words_of(relabelled: Mapping[str, str]) -> Callable[[str | None], str | None] | None:
    """A function that puts new labels in the place of old ones, where a text has them whole."""
    if not relabelled:
        return None
    known = "|".join(re.escape(label) for label in sorted(relabelled, key=len, reverse=True))
    pattern = re.compile(rf"(?<![\w/-])(?:{known})(?![\w/])")
    return lambda text: None if text is None else pattern.sub(lambda found: relabelled[found[0]], text)


def name_results_by_content(aside: sqlite3.Connection) -> None:
    """Give each kept result the id that its calculator, record and inputs make."""
    change_rows(aside, BY_NAME["calculation"], _name_result)


def _name_result(row: Row) -> None:
    given = ("calculator", "version", "subject_table", "subject_id", "given")
    row["id"] = calculation_id(*(row[name] for name in given))


def name_versions_by_content(aside: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
    """Make the version of each record from what it says: it is the first one, with nothing before it."""
    for kind in kinds:
        if kind.own:
            names = [name for name in columns_of(kind) if name not in ("version", "parents")]
            change_rows(aside, kind, _naming_version(kind, names))


def _naming_version(kind: Kind, names: Sequence[str]) -> Callable[[Row], None]:
    def change(row: Row) -> None:
        content: dict[str, Any] = {name: row[name] for name in names if row[name] is not None}
        row["version"] = content_id(NO_DAY, f"edition\0{kind.name}\0{content_json(content)}")

    return change
