"""Put a finding by: write down why it may rest, until what it says changes."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from bevelbook.entering.defaults import filled_in
from bevelbook.plugin.check import Finding
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id
from bevelbook.store.writing import Writer


def put_by(
    connection: sqlite3.Connection, finding: Finding, reason: str, by: str | None, clock: Callable[[], str]
) -> str:
    """Write that a finding may rest, inside the caller's transaction; the id of that record.

    One that was put by already gets the new reason. The day and the person are those that any record of ``by`` gets
    where none are given.
    """
    writer = Writer(connection, by, clock)
    kind = BY_NAME["put_by"]
    texts = filled_in(connection, kind, {}, by, clock()).texts
    person = texts.get("person")
    why = {
        "reason": reason,
        "put_by_on": texts.get("put_by_on"),
        "person": find_id(connection, BY_NAME["person"], person) if person else None,
    }
    known = connection.execute(
        "SELECT id FROM findings_put_by WHERE code = ? AND subject_table = ? AND subject_id = ? AND words = ?",
        (finding.code, finding.subject_table, finding.subject_id, finding.words),
    ).fetchone()
    if known is not None:
        writer.update(kind, known[0], why, entered=None)
        return str(known[0])
    about = {name: getattr(finding, name) for name in ("code", "subject_table", "subject_id", "words")}
    return writer.insert(kind, {**about, **why})
