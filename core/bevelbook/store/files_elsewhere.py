"""Pictures and kept files whose record is here and whose bytes are with somebody else: they did not come along.

A part of a database may come without its files. Which they are is noted in ``about``, so that bytes which another
program removed here are still another matter; once they came, they are forgotten there.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence, Set
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.records import BY_NAME
from bevelbook.records.kept_file_names import called_file_sql
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.record_names import names_of

ELSEWHERE: Final = "files that are elsewhere"
"""The name of the row of ``about``, which holds the hashes as JSON. It is never sent along."""
ERASED_FILES: Final = "SELECT row_id FROM main.erasures WHERE what IN ('file', 'picture')"
"""SQL for the hashes of files and pictures that were erased."""
_WITHOUT_BYTES: Final = (
    f"SELECT id FROM main.pictures WHERE id NOT IN (SELECT sha256 FROM main.picture_bytes UNION {ERASED_FILES}) "
    "UNION SELECT sha256 FROM main.note_files "
    f"WHERE sha256 NOT IN (SELECT sha256 FROM main.note_bytes UNION {ERASED_FILES}) ORDER BY 1"
)
STORED_BY: Final = (
    "coalesce((SELECT e.made_by FROM history h JOIN entries e ON e.id = h.version "
    "WHERE h.table_name = 'photos' AND h.row_id = t.id ORDER BY e.made_at, e.id LIMIT 1), "
    "(SELECT e.made_by FROM entries e WHERE e.id = t.version))"
)
"""SQL for who stored the photograph ``t`` first."""
_BROUGHT_IN_BY: Final = "(SELECT e.made_by FROM entries e WHERE e.id = t.entry)"
_NAMED: Final = 20
SOMEBODY: Final = "somebody else"
NOBODY: Final = "nobody: it was erased"
_COMES: Final = "It comes when a whole export, or the database, of {} is merged."


def without_bytes(connection: sqlite3.Connection) -> frozenset[str]:
    """The hashes of pictures and kept files whose bytes are not here, for whatever reason but that they were erased."""
    return frozenset(row[0] for row in connection.execute(_WITHOUT_BYTES))


def files_elsewhere(connection: sqlite3.Connection) -> frozenset[str]:
    """The hashes of those that did not come along."""
    row = connection.execute("SELECT value FROM main.about WHERE name = ?", (ELSEWHERE,)).fetchone()
    return frozenset(json.loads(row[0])) & without_bytes(connection) if row else frozenset()


def note_files_elsewhere(connection: sqlite3.Connection, before: Set[str]) -> frozenset[str]:
    """Note, inside the caller's transaction, which files did not come along: those without bytes that were not without
    ``before``. Returns the hashes of those that came."""
    now = without_bytes(connection)
    found = (now - before) | files_elsewhere(connection)
    if now != before or found:
        connection.execute("DELETE FROM main.about WHERE name = ?", (ELSEWHERE,))
    if found:
        said = (ELSEWHERE, json.dumps(sorted(found)))
        connection.execute("INSERT INTO main.about (name, value) VALUES (?, ?)", said)
    return frozenset(before) - now


def said_elsewhere(connection: sqlite3.Connection) -> Iterator[str]:
    """What is not here, with whom it is, and how it comes: a sentence for each person. Of an edition nothing: its files
    stayed with its maker on purpose."""
    if edition_of(connection) is not None:
        return
    missing = json.dumps(sorted(files_elsewhere(connection)))
    photos = connection.execute(
        f"SELECT {STORED_BY}, t.id FROM photos t WHERE t.picture IN (SELECT value FROM json_each(?)) ORDER BY t.id",
        (missing,),
    ).fetchall()
    names = names_of(connection, BY_NAME["photo"], [row[1] for row in photos])
    for person, found in _by_person([(row[0], names.get(row[1], row[1])) for row in photos]):
        has = "has its picture" if len(found) == 1 else "have their pictures"
        said = f"{counted(len(found), 'photograph')} ({_listed(found)}) {has} with {person}, not here"
        yield f"{said}. {_COMES.format(person)}"
    files = connection.execute(
        f"SELECT {_BROUGHT_IN_BY}, {called_file_sql('t')} FROM note_files t "
        "WHERE t.sha256 IN (SELECT value FROM json_each(?)) ORDER BY t.id",
        (missing,),
    ).fetchall()
    for person, found in _by_person([(row[0], row[1]) for row in files]):
        are = "is" if len(found) == 1 else "are"
        said = f"{counted(len(found), 'file')} of notes ({_listed(found)}) {are} with {person}; what was read is here"
        yield f"{said}. {_COMES.format(person)}"


def _by_person(missing: Sequence[tuple[str | None, str]]) -> Iterator[tuple[str, list[str]]]:
    found: dict[str, list[str]] = {}
    for person, name in missing:
        found.setdefault(person or SOMEBODY, []).append(name)
    for person, names in sorted(found.items()):
        yield person, sorted(names)


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"{', '.join(names[:_NAMED])}{more}"


def with_whom(connection: sqlite3.Connection, note_file: str) -> str | None:
    """Who has a kept file whose bytes are not here; None where they are here."""
    row = connection.execute(
        f"SELECT iif(t.sha256 IN ({ERASED_FILES}), ?, coalesce({_BROUGHT_IN_BY}, ?)) FROM note_files t WHERE t.id = ? "
        "AND t.sha256 NOT IN (SELECT sha256 FROM main.note_bytes)",
        (NOBODY, SOMEBODY, note_file),
    ).fetchone()
    return None if row is None else str(row[0])
