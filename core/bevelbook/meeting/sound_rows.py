"""Whether each row of a database that came from outside is one that this tool may have written: ids and times in their
forms, numbers that a diff can have, JSON where JSON is, references that lead somewhere, files that are what their
hashes say.

What a declaration already says (choices, bounds, dates, types) the tables themselves have refused by then.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cache, lru_cache, partial
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import shown
from bevelbook.declare.fields import LARGEST, SMALLEST, Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.unseen import without_unseen
from bevelbook.meeting.bounded_json import JsonRefused, bounded_json
from bevelbook.meeting.refusing import OddRow, refuse_row
from bevelbook.meeting.sound_files import refuse_unsound_files
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.about_table import ACCEPTED
from bevelbook.store.as_written import written_nowhere
from bevelbook.store.diffs_of_rows import id_of_kept
from bevelbook.store.ids import file_id
from bevelbook.store.kept_past import NONE_BEFORE, NOT_VERSIONED
from bevelbook.store.schema import BOOKKEEPING, quoted

LONGEST_TEXT: Final = 1_000_000
"""Characters of a text; a note that fills a book has as many. Our own figure."""
LONGEST_JSON: Final = 4_000_000
"""Characters of a past version, and of what was kept of a result."""
LONGEST_NAME_BYTES: Final = 255
"""Of the name of a file, as file systems have it."""
_BLOCK: Final = 1_000
_ID: Final = late_pattern(r"(?!\.{1,2}(?:\n|$))[^\x00-\x1f\x7f-\x9f/\\]{1,80}")
"""Any program may add a record under an id of its own: a short text that leads nowhere."""
_IDS: Final = late_pattern(rf"(?:{_ID.pattern}\n)*")
_VERSION: Final = late_pattern(r"[0-9A-Za-z][0-9A-Za-z_ -]{0,99}")
_VERSIONS: Final = late_pattern(rf"(?:{_VERSION.pattern}\n)*")
_HASHES: Final = late_pattern(r"(?:[0-9a-f]{64}\n)*")
_TIMES: Final = late_pattern(r"(?:(?:[01]\d|2[0-3]):[0-5]\d\n)*", re.ASCII)
_INSTANT: Final = late_pattern(
    r"\d{4}-\d\d-\d\d(?:[T ](?:[01]\d|2[0-3]):[0-5]\d(?::[0-5]\d(?:\.\d{1,6})?)?(?:Z|[+-]\d\d:\d\d)?)?", re.ASCII
)
_MOST_PARENTS: Final = 1_000
_JSON_OF: Final[Mapping[tuple[str, str], type[Any]]] = {
    ("note_files", "options"): dict,
    ("note_rejects", "raw"): list,
    ("note_extras", "cells"): dict,
    ("calculations", "given"): dict,
    ("calculations", "found"): dict,
    ("calculations", "rows"): object,
    ("calculations", "uncertainties"): object,
    ("calculations", "origins"): object,
    ("calculations", "reasons"): list,
}
_INSTANTS: Final = frozenset(
    {"created_at", "updated_at", "made_at", "read_at", "kept_at", "calculated_at", "replaced_at"}
)
_FURTHER_IDS: Final = frozenset(
    {("note_files", "entry"), ("calculations", "entry"), ("calculations", "subject_id"), ("entries", "took_back")}
    | {("joins", "one"), ("joins", "other")}
)
_SHA256: Final = frozenset({("note_files", "sha256"), ("pictures", "id"), ("pictures", "came_sha256")})

_A_TEXT: Final = f"a text of at most {LONGEST_TEXT} characters without NUL"

Wrong = Callable[[Sequence[Any]], object]
"""Gives the first value that is wrong, None if none is."""


class _Rule(NamedTuple):
    wrong: Wrong
    what: str


def refuse_unsound(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DatabaseError for the first row of a database of this version that the tool would not have written.

    ``path`` is the file as it came, which the error names.
    """
    for odd in unsound_rows(connection, path):
        raise odd


def unsound_rows(connection: sqlite3.Connection, path: Path) -> Iterator[OddRow]:
    """The faults of such rows. It goes on behind one, and may find no more than the first of each sort: whoever mends
    them looks again."""
    for kind in KINDS:
        if not kind.derived:
            yield from _odd_of_kind(connection, kind, path)
    yield from _odd_of_history(connection, path)
    labelled: set[tuple[str, ...]] = {(kind.table,) for kind in KINDS if kind.own and kind.label}
    for refuse in (
        partial(refuse_odd_marks, connection, path),
        partial(_refuse_odd_diffs_of_rows, connection, path),
        partial(_refuse_of_plain, connection, "as_written", ("row_id", "written"), _written_known(), path),
        partial(_refuse_written_nowhere, connection, path),
        partial(_refuse_of_plain, connection, "also_called", ("row_id",), labelled, path),
        partial(_refuse_lost_references, connection, path),
        partial(refuse_unsound_files, connection, path),
    ):
        try:
            refuse()
        except OddRow as odd:
            yield odd


def _odd_of_kind(connection: sqlite3.Connection, kind: Kind, path: Path) -> Iterator[OddRow]:
    rules = _filled(connection, kind, _rules_of(kind))
    for block in _blocks(connection, f"SELECT {', '.join(map(quoted, rules))} FROM {kind.table} ORDER BY rowid"):
        for number, ((column, rule), values) in enumerate(zip(rules.items(), zip(*block, strict=True), strict=True)):
            held = [value for value in values if value is not None]
            bad = rule.wrong(held) if held else None
            if bad is not None:
                row = next(row for row in block if row[number] == bad)
                what = f"has something in {column} that is not {rule.what}"
                yield refuse_row(path, kind.table, row[0], what, found=_short(bad), column=column)
        if kind.name == "note_file":
            names = list(rules)
            for row in block:
                one = dict(zip(names, row, strict=True))
                if one["id"] != file_id(one["sha256"], one["part"] or "") and not _is_erased(connection, one["part"]):
                    yield refuse_row(path, kind.table, one["id"], "has an id that its content does not give")


def _is_erased(connection: sqlite3.Connection, part: str | None) -> bool:
    """Whether a name stood in that of a part of a file: the id is of what it was called."""
    found = connection.execute("SELECT 1 FROM erasures WHERE what = 'name' AND instr(?, instead)", (part or "",))
    return found.fetchone() is not None


def _filled(connection: sqlite3.Connection, kind: Kind, rules: Mapping[str, _Rule]) -> dict[str, _Rule]:
    """The rules of columns in which anything is: of a sheet of notes most are empty."""
    counted = ", ".join(f"count({quoted(name)})" for name in rules)
    counts = connection.execute(f"SELECT {counted} FROM {kind.table}").fetchone()
    needed = {"id", "sha256", "part"} if kind.name == "note_file" else {"id"}
    return {name: rule for (name, rule), count in zip(rules.items(), counts, strict=True) if count or name in needed}


@cache
def _rules_of(kind: Kind) -> dict[str, _Rule]:
    """What each column of a kind may hold."""
    is_hash = (kind.table, "id") in _SHA256
    rules = {
        "id": _Rule(
            _beyond(_HASHES) if is_hash else _beyond(_IDS), "an id: up to 80 characters that are seen, without a slash"
        )
    }
    if kind.own:
        rules |= {
            "version": _Rule(_beyond(_VERSIONS), "a version"),
            "parents": _Rule(_first(_no_parents), "a list of versions"),
            "entered": _Rule(_first(_no_texts), "what was typed, by field"),
            "note_line": _Rule(_first(lambda line: not 0 <= line <= 1_000_000_000), "a line of a file"),
            "created_at": _Rule(_first(_no_instant), "a time"),
            "updated_at": _Rule(_first(_no_instant), "a time"),
            "updated_by": _Rule(_odd_text, _A_TEXT),
        }
    for field in kind.fields:
        rules[field.name] = _rule_of(kind, field)
    return rules


def _rule_of(kind: Kind, field: Field) -> _Rule:
    place = (kind.table, field.name)
    if place in _JSON_OF:
        return _Rule(_first(_no_json_of(_JSON_OF[place])), "JSON of the form that belongs there")
    if place in _SHA256:
        return _Rule(_beyond(_HASHES), "a hash")
    if place in _FURTHER_IDS or field.kind == "reference":
        return _Rule(_beyond(_IDS), "an id: up to 80 characters that are seen, without a slash")
    if field.name in _INSTANTS:
        return _Rule(_first(_no_instant), "a time")
    if place == ("note_files", "name"):
        return _Rule(_first(_no_file_name), "the plain name of a file")
    if place == ("calculations", "subject_table"):
        return _Rule(_first(lambda table: table not in BY_TABLE), "a table of this tool")
    if field.kind in ("quantity", "whole"):
        return _Rule(_impossible, "a number that a diff can have")
    if field.kind == "date":
        return _Rule(_first(_no_day), "a day")
    if field.kind == "time":
        return _Rule(_beyond(_TIMES), "a time of a day")
    return _Rule(_odd_text, _A_TEXT)


def _refuse_odd_diffs_of_rows(connection: sqlite3.Connection, path: Path) -> None:
    """What is kept of which diff a row is has an id that says of which version."""
    table = BY_NAME["note_diff"].table
    for (row_id,) in connection.execute(f"SELECT id FROM {table} WHERE id IS NOT {id_of_kept()} ORDER BY id LIMIT 1"):
        raise refuse_row(path, table, row_id, "has an id that its content does not give")


def _odd_of_history(connection: sqlite3.Connection, path: Path) -> Iterator[OddRow]:
    names = ("id", "table_name", "row_id", "version", "parents", "content", "replaced_in", "replaced_at")
    for block in _blocks(connection, f"SELECT {', '.join(names)} FROM history ORDER BY id"):
        _, tables, rows, versions, parents, _, entries, moments = zip(*block, strict=True)
        tests: tuple[tuple[str, Sequence[Any], Wrong], ...] = (
            ("table_name", tables, _first(lambda table: table not in BY_TABLE or BY_TABLE[table].derived)),
            ("row_id", rows, _beyond(_IDS)),
            ("version", versions, _beyond(_VERSIONS)),
            ("parents", parents, _first(_no_parents)),
            ("replaced_in", entries, _beyond(_VERSIONS)),
            ("replaced_at", moments, _first(_no_instant)),
        )
        for column, values, wrong in tests:
            bad = wrong([value for value in values if value is not None])
            if bad is not None:
                row = next(row for row in block if row[names.index(column)] == bad)
                what = f"has in {column} what cannot be there"
                yield refuse_row(path, "history", row[2], what, found=_short(bad), held=("history", row[0]))
        for past, table, row_id, version, _, content, _, _ in block:
            if content is not None and table in BY_TABLE:
                fault = _content_fault(BY_TABLE[table], version, content)
                if fault:
                    what = f"has a past version that {fault}"
                    yield refuse_row(path, table, row_id, what, held=("history", past))


def _content_fault(kind: Kind, version: str, content: str) -> str | None:
    """What is wrong with a past version of a record, in words; None if nothing is."""
    if content == NONE_BEFORE and version == NOT_VERSIONED and not kind.own:
        return None
    try:
        found = bounded_json(content, LONGEST_JSON, may_be_infinite=True)
    except JsonRefused as fault:
        return f"is {fault}"
    if not isinstance(found, dict):
        return "is not a record"
    known = _content_types(kind)
    for name, value in found.items():
        if name not in known:
            return f"has a column that there is not: {shown(name)}"
        if value is not None and (type(value) not in known[name]):
            return f"has another type of value in {name}"
        if type(value) is str and (len(value) > LONGEST_JSON or "\0" in value):
            return f"has a text in {name} that cannot be there"
    return None


@cache
def _content_types(kind: Kind) -> dict[str, tuple[type[Any], ...]]:
    types = {field.name: {"quantity": (float, int), "whole": (int,)}.get(field.kind, (str,)) for field in kind.fields}
    if kind.own:
        types |= {name: (str,) for name in BOOKKEEPING if name not in ("version", "parents")}
        types["note_line"] = (int,)
    return types


def refuse_odd_marks(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DatabaseError for what a database says about itself in another form than the tool writes."""
    for name, value in connection.execute("SELECT name, value FROM about ORDER BY name").fetchall():
        if name == ACCEPTED and not (value.isascii() and value.isdecimal() and len(value) < 16):
            raise refuse_row(path, "about", name, "has something that is not a number", found=_short(value))


def _written_known() -> set[tuple[str, ...]]:
    """Tables with the columns that may show something else than was written."""
    return {(kind.table, name) for kind in KINDS for name in kind.shown_otherwise}


def _refuse_of_plain(
    connection: sqlite3.Connection, table: str, ids: Sequence[str], known: set[tuple[str, ...]], path: Path
) -> None:
    """A plain table about records: those that it names, and ids in these columns."""
    places = ("table_name", "column_name") if len(next(iter(known))) == 2 else ("table_name",)
    others = [name for (name,) in connection.execute(f"SELECT name FROM pragma_table_info('{table}')")]
    for block in _blocks(connection, f"SELECT {', '.join(others)} FROM {table}"):
        for row in block:
            one = dict(zip(others, row, strict=True))
            if tuple(one[name] for name in places) not in known:
                raise refuse_row(path, table, one["row_id"], "is of a table or a column that it cannot be of")
            for name in ids:
                if name == "written" and one["column_name"] == BY_TABLE[one["table_name"]].label:
                    continue
                if not _ID.fullmatch(one[name]) or _is_odd(one[name]):
                    raise refuse_row(
                        path,
                        table,
                        one["row_id"],
                        f"has something in {name} that is not an id",
                        found=_short(one[name]),
                    )
            if _odd_text(list(one.values())) is not None:
                raise refuse_row(path, table, one["row_id"], f"has something that is not {_A_TEXT}")


def _refuse_written_nowhere(connection: sqlite3.Connection, path: Path) -> None:
    """A reference of which is said that it was written otherwise than it shows: what was written must be there."""
    for lost in written_nowhere(connection):
        what = f"was written with a record of {lost.target.table} that is gone"
        raise refuse_row(path, lost.kind.table, lost.row_ids[0], what)


def _refuse_lost_references(connection: sqlite3.Connection, path: Path) -> None:
    lost = connection.execute("PRAGMA main.foreign_key_check").fetchone()
    if lost is not None:
        table, rowid, target = lost[:3]
        found = connection.execute(f"SELECT id FROM {BY_TABLE[table].table} WHERE rowid = ?", (rowid,)).fetchone()
        raise refuse_row(
            path, table, found[0] if found else rowid, f"refers to a record of {BY_TABLE[target].table} that is gone"
        )


def _blocks(connection: sqlite3.Connection, asked: str) -> Iterator[list[tuple[Any, ...]]]:
    cursor = connection.cursor()
    cursor.row_factory = None
    cursor.execute(asked)
    while block := cursor.fetchmany(_BLOCK):
        yield block


def _first(is_wrong: Callable[[Any], bool]) -> Wrong:
    """The first value that is wrong; equal ones are looked at once."""
    return lambda values: next((value for value in dict.fromkeys(values) if is_wrong(value)), None)


def _beyond(form: re.Pattern[str]) -> Wrong:
    """The first text that has not this form of a line; all are looked at in one go."""

    def wrong(values: Sequence[str]) -> str | None:
        lines = "\n".join(values) + "\n"
        if not values or (
            form.fullmatch(lines) and lines.count("\n") == len(values) and without_unseen(lines) == lines
        ):
            return None
        odd = (one for one in values if "\n" in one or not form.fullmatch(f"{one}\n") or _is_odd(one))
        return next(odd, None)

    return wrong


def _is_odd(text: str) -> bool:
    return without_unseen(text) != text


def _odd_text(values: Sequence[Any]) -> str | None:
    texts = [value for value in values if isinstance(value, str)]
    if "\0" not in "".join(texts) and max(map(len, texts), default=0) <= LONGEST_TEXT:
        return None
    return next(text for text in texts if len(text) > LONGEST_TEXT or "\0" in text)


def _impossible(values: Sequence[float]) -> float | None:
    """The first number that is infinite, larger or closer to nothing than any number about a diff."""
    return next((value for value in set(values) if value and not SMALLEST <= abs(value) <= LARGEST), None)


def _no_instant(text: str) -> bool:
    return _INSTANT.fullmatch(text) is None or not _is_instant(text)


@lru_cache(10_000)
def _is_instant(text: str) -> bool:
    try:
        datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        return False
    return True


@lru_cache(10_000)
def _no_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() != text
    except ValueError:
        return True


def _no_json_of(form: type[Any]) -> Callable[[str], bool]:
    def wrong(text: str) -> bool:
        try:
            return not isinstance(bounded_json(text, LONGEST_JSON), form)
        except JsonRefused:
            return True

    return wrong


def _no_parents(text: str) -> bool:
    try:
        found = bounded_json(text, LONGEST_TEXT)
    except JsonRefused:
        return True
    return not (
        isinstance(found, list)
        and len(found) <= _MOST_PARENTS
        and all(isinstance(one, str) and _VERSION.fullmatch(one) for one in found)
    )


def _no_texts(text: str) -> bool:
    try:
        found = bounded_json(text, LONGEST_TEXT)
    except JsonRefused:
        return True
    return not (isinstance(found, dict) and all(not isinstance(value, dict | list) for value in found.values()))


def _no_file_name(name: str) -> bool:
    return (
        not name.strip()
        or name in (".", "..")
        or any(sign in name for sign in "/\\")
        or re.match(r"[A-Za-z]:", name) is not None
        or any(ord(sign) < 32 or 127 <= ord(sign) < 160 for sign in name)
        or without_unseen(name) != name
        or len(name.encode()) > LONGEST_NAME_BYTES
    )


def _short(value: object) -> str:
    return str(value)[:200]
