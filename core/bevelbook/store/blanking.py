"""Having what was erased be blank in a database: in records, their history, what the tool keeps, and bytes of files.

It is nobody's change: no version is made, and each version keeps its name. The caller does it inside a transaction,
while records come in (``writing.coming_in``); search and facts follow as after any other change.
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.store.blanking_rules import Blanking, CannotBeSearched, squashed, texts_of_file
from bevelbook.store.erasable_columns import OF_KEPT, text_columns
from bevelbook.store.erased_marks import ERASED, Mark, are_any_marks, keep_marks, marks_in, united_marks
from bevelbook.store.files_as_kept import hash_of_packed
from bevelbook.store.heads import Content
from bevelbook.store.known_versions import with_columns
from bevelbook.store.schema import quoted
from bevelbook.store.versions import entry_of

_PERSON: Final = BY_NAME["person"]
_ENTRY: Final = BY_NAME["entry"]
_BESIDE: Final = (("as_written", "written"), ("also_called", "label"))
"""Plain tables with names of records."""
_LEAST_LETTERS: Final = 4
"""Letters and digits that a text needs to be looked for in kept files: of shorter ones a file says nothing."""
_BLOCK: Final = 1_000
_GIVEN_PAIRS: Final = "(SELECT json_extract(value, '$[0]'), json_extract(value, '$[1]') FROM json_each(?2))"


class Blanked(NamedTuple):
    """A value that is to change: of a row of a table, or of a past version of a record (``past`` is its row in the
    history, ``owner`` the table of that record)."""

    table: str
    row_id: str
    changes: Mapping[str, Any]
    before: Content
    past: int | None = None


class BlankedFiles(NamedTuple):
    """The bytes that are to go, by hash."""

    files: tuple[str, ...]
    pictures: tuple[str, ...]


def unite_marks(connection: sqlite3.Connection, schemas: Sequence[str]) -> Blanking | None:
    """Have each of these databases hold the marks of all of them, with those that follow: the same text in another
    version of a record, and kept files that hold what was erased. None where nothing was erased."""
    if not any(are_any_marks(connection, schema) for schema in schemas):
        return None
    marks = marks_with(connection, schemas=schemas)
    for schema in schemas:
        keep_marks(connection, marks, schema)
    return Blanking(marks)


def marks_with(
    connection: sqlite3.Connection, new: Iterable[Mark] = (), *, schemas: Sequence[str] = ("main",)
) -> set[Mark]:
    """The marks of these databases and ``new`` ones as one set, with those that follow from all of them."""
    marks = united_marks((*marks_in(connection, schemas), *new))
    return united_marks((*marks, *_further_marks(connection, schemas, marks)))


def _further_marks(connection: sqlite3.Connection, schemas: Sequence[str], marks: Iterable[Mark]) -> Iterator[Mark]:
    """What has to be blank because these are."""
    blank = Blanking(marks)
    raw: list[str] = []
    for (table, row_id), columns in sorted(blank.texts.items()):
        if table not in BY_TABLE or not BY_TABLE[table].own:
            continue
        said = list(versions_said(connection, schemas, table, row_id))
        for column in sorted({column for version, column in columns if version is not None}):
            erased = {
                blank.text(held)
                for version, content in said
                if (version, column) in columns and isinstance(held := content.get(column), str)
            } - {columns[version, column] for version, name in columns if name == column}
            raw += sorted(erased)
            for version, content in said:
                held = content.get(column)
                if isinstance(held, str) and blank.text(held) in erased and (version, column) not in columns:
                    yield text_mark(table, row_id, version, column)
                    yield entry_mark(version)
    yield from _files_with(connection, schemas, blank, raw)


def text_mark(table: str, row_id: str, version: str | None, column: str, instead: str = ERASED) -> Mark:
    """The mark of a text of a version of a record."""
    return Mark("text", row_id, table, version, column, instead)


def entry_mark(version: str) -> Mark:
    """The mark of what was typed for a version, where an entry made it."""
    return text_mark(_ENTRY.table, entry_of(version), None, "asked")


def versions_said(
    connection: sqlite3.Connection, schemas: Sequence[str], table: str, row_id: str
) -> Iterator[tuple[str, Content]]:
    """What each version of a record says in these databases."""
    names = ["version", "note_file", *text_columns(BY_TABLE[table])]
    cursor = connection.cursor()
    cursor.row_factory = None
    for schema in schemas:
        asked = f"SELECT {', '.join(map(quoted, names))} FROM {schema}.{table} WHERE id = ?"
        for row in cursor.execute(asked, (row_id,)).fetchall():
            yield str(row[0]), dict(zip(names[1:], row[1:], strict=True))
        for version, text in cursor.execute(
            f"SELECT version, content FROM {schema}.history WHERE table_name = ? AND row_id = ? "
            "AND content IS NOT NULL ORDER BY id",
            (table, row_id),
        ).fetchall():
            yield str(version), object_in(text) or {}


def _files_with(
    connection: sqlite3.Connection, schemas: Sequence[str], blank: Blanking, raw: Sequence[str]
) -> Iterator[Mark]:
    """Kept files that hold a name or one of these texts, with the lines of theirs that do. Bytes that are not those of
    their file say nothing of it: who has the file as it was would lose it, though nobody erased it."""
    wanted = {squashed(text) for text in raw if len(squashed(text)) >= _LEAST_LETTERS}
    if not blank.names and not wanted:
        return
    cursor = connection.cursor()
    cursor.row_factory = None
    for schema in schemas:
        for name, packed in cursor.execute(f"SELECT sha256, packed FROM {schema}.note_bytes ORDER BY sha256"):
            if name not in blank.files and hash_of_packed(packed) == name and holds_erased(packed, blank, wanted):
                yield Mark("file", name)
        for kind in (BY_NAME["note_reject"], BY_NAME["note_extra"]) if wanted else ():
            columns = [name for name in OF_KEPT[kind.name] if name != "column_name"]
            asked = f"SELECT id, {', '.join(columns)} FROM {schema}.{kind.table} ORDER BY id"
            for row_id, *values in cursor.execute(asked).fetchall():
                for column, value in zip(columns, values, strict=True):
                    said = squashed(value or "")
                    if any(one in said for one in wanted):
                        yield text_mark(kind.table, row_id, None, column)


def holds_erased(packed: bytes, blank: Blanking, wanted: Collection[str] = ()) -> bool:
    """Whether a kept file holds a name that was erased, or one of these texts (letters and digits alone); one that
    cannot be read may hold it, and counts as if it did."""
    if not (blank.names or wanted):
        return False
    try:
        file = zlib.decompress(packed)
        return blank.is_in_file(file) or any(
            one in said for said in map(squashed, texts_of_file(file)) for one in wanted
        )
    except (zlib.error, CannotBeSearched):
        return True


def blanked_in(
    connection: sqlite3.Connection,
    blank: Blanking,
    schema: str = "main",
    *,
    note_file: str | None = None,
    past: int = -1,
) -> Iterator[Blanked]:
    """What is to change in a database under these marks; only what came of one kept file, or after a row of the
    history, where those are given. Nothing is written."""
    for kind in KINDS:
        if kind.own or kind.name in OF_KEPT:
            yield from _of_kind(connection, blank, kind, schema, note_file)
    yield from _of_history(connection, blank, schema, past)
    if note_file is None:
        yield from _beside(connection, blank, schema)


def _of_kind(
    connection: sqlite3.Connection, blank: Blanking, kind: Kind, schema: str, note_file: str | None
) -> Iterator[Blanked]:
    names = ["id", *(["version", "entered", "updated_by"] if kind.own else ()), *_columns(kind)]
    where, given = _where(blank, kind, note_file)
    cursor = connection.cursor()
    cursor.row_factory = None
    cursor.execute(
        f"SELECT {', '.join(map(quoted, names))} FROM {schema}.{kind.table} WHERE {where} ORDER BY rowid", given
    )
    while block := cursor.fetchmany(_BLOCK):
        for row in block:
            content = dict(zip(names, row, strict=True))
            changes = _changes(blank, kind, row[0], content.get("version"), content)
            if changes:
                yield Blanked(kind.table, row[0], changes, content)


def _columns(kind: Kind) -> tuple[str, ...]:
    return text_columns(kind) if kind.own else tuple(OF_KEPT[kind.name])


def _where(blank: Blanking, kind: Kind, note_file: str | None) -> tuple[str, dict[str, str]]:
    """SQL for the rows that are to be looked at: all, where a name may be anywhere."""
    if note_file is not None:
        of_it = {"note_file": "id = :file", "calculation": "0", "entry": "0"}.get(kind.name, "note_file = :file")
        return of_it, {"file": note_file}
    if blank.names:
        return "1", {}
    ids = sorted(row_id for table, row_id in blank.texts if table == kind.table)
    return "id IN (SELECT value FROM json_each(:ids))", {"ids": json.dumps(ids)}


def _changes(blank: Blanking, kind: Kind, row_id: str, version: str | None, content: Content) -> dict[str, Any]:
    return blank.changes(kind, row_id, version, content) if kind.own else blank.kept_changes(kind, row_id, content)


def _of_history(connection: sqlite3.Connection, blank: Blanking, schema: str, past: int) -> Iterator[Blanked]:
    where = "" if blank.names else f"AND (table_name, row_id) IN {_GIVEN_PAIRS}"
    given = json.dumps(sorted(blank.texts))
    cursor = connection.cursor()
    cursor.row_factory = None
    cursor.execute(
        f"SELECT id, table_name, row_id, version, content FROM {schema}.history WHERE id > ?1 AND content IS NOT NULL "
        f"{where} ORDER BY id",
        (past, given) if where else (past,),
    )
    while block := cursor.fetchmany(_BLOCK):
        for number, table, row_id, version, text in block:
            kind = BY_TABLE.get(table)
            content = object_in(text)
            if kind is None or content is None or not (kind.own or kind.name in OF_KEPT):
                continue
            changes = _changes(blank, kind, row_id, version, content)
            if changes:
                yield Blanked(table, row_id, {"content": with_columns(connection, text, changes)}, content, number)


def _beside(connection: sqlite3.Connection, blank: Blanking, schema: str) -> Iterator[Blanked]:
    if not blank.names:
        return
    for table, column in _BESIDE:
        for row_table, row_id, held in connection.execute(
            f"SELECT table_name, row_id, {column} FROM {schema}.{table} ORDER BY table_name, row_id, {column}"
        ).fetchall():
            new = blank.who(held) if row_table == _PERSON.table else blank.text(held)
            if new != held:
                yield Blanked(table, row_id, {column: new}, {"table_name": row_table, column: held})


def bytes_to_go(connection: sqlite3.Connection, blank: Blanking, schema: str = "main") -> BlankedFiles:
    """The kept files and pictures of which a database has the bytes, and that were erased."""

    def held(table: str, names: set[str]) -> tuple[str, ...]:
        rows = connection.execute(
            f"SELECT sha256 FROM {schema}.{table} WHERE sha256 IN (SELECT value FROM json_each(?)) ORDER BY sha256",
            (json.dumps(sorted(names)),),
        )
        return tuple(row[0] for row in rows)

    return BlankedFiles(held("note_bytes", blank.files), held("picture_bytes", blank.pictures))


def make_blank(
    connection: sqlite3.Connection,
    blank: Blanking,
    schema: str = "main",
    *,
    note_file: str | None = None,
    past: int = -1,
) -> Counter[str]:
    """Have a database be blank under these marks; returns how many of what changed (see :func:`counted_kinds`)."""
    found = list(blanked_in(connection, blank, schema, note_file=note_file, past=past))
    gone = bytes_to_go(connection, blank, schema)
    for one in found:
        _write(connection, one, schema)
    for table, names in (("note_bytes", gone.files), ("picture_bytes", gone.pictures)):
        connection.executemany(f"DELETE FROM {schema}.{table} WHERE sha256 = ?", [(name,) for name in names])
    return counted_kinds(found, gone)


def _write(connection: sqlite3.Connection, one: Blanked, schema: str) -> None:
    if one.past is not None:
        connection.execute(f"UPDATE {schema}.history SET content = ? WHERE id = ?", (one.changes["content"], one.past))
    elif one.table in dict(_BESIDE):
        ((column, value),) = one.changes.items()
        key = (one.before["table_name"], one.row_id, one.before[column])
        where = f"table_name = ? AND row_id = ? AND {column} = ?"
        connection.execute(f"UPDATE OR IGNORE {schema}.{one.table} SET {column} = ? WHERE {where}", (value, *key))
        connection.execute(f"DELETE FROM {schema}.{one.table} WHERE {where}", key)
    else:
        sets = ", ".join(f"{quoted(name)} = ?" for name in one.changes)
        connection.execute(f"UPDATE {schema}.{one.table} SET {sets} WHERE id = ?", (*one.changes.values(), one.row_id))


_PLACES: Final = {
    "note_files": "kept",
    "note_rejects": "left out",
    "note_extras": "left out",
    "calculations": "results",
    "entries": "entries",
}


def counted_kinds(found: Iterable[Blanked], gone: BlankedFiles) -> Counter[str]:
    """How many ``records`` show something else, how many ``versions`` of the past, ``texts`` (notes and other words of
    people), ``results``, ``entries``, lines ``left out`` of notes, ``files`` and ``pictures``."""
    counts: Counter[str] = Counter()
    for one in found:
        if one.past is not None:
            counts["versions"] += 1
        elif one.table in BY_TABLE:
            counts[_PLACES.get(one.table, "records")] += 1
            if BY_TABLE[one.table].own:
                counts["texts"] += sum(name not in ("updated_by", "entered", "name") for name in one.changes)
    counts["files"], counts["pictures"] = len(gone.files), len(gone.pictures)
    return +counts
