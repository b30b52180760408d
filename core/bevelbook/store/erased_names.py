"""Names that were erased stay erased in what is written later: of entries, and of records."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from bevelbook.records import Kind
from bevelbook.store.erased_marks import are_any_marks, marks_in


def said_without_erased(connection: sqlite3.Connection, *texts: str | None) -> tuple[str | None, ...]:
    """What was said of an entry, without names that were erased."""
    if not are_any_marks(connection):
        return texts
    from bevelbook.store.blanking_rules import Blanking

    blank = Blanking(marks_in(connection, what="name"))
    return tuple(None if text is None else blank.text(text, all_names=True) for text in texts)


def with_erased_names(connection: sqlite3.Connection, kind: Kind, values: Mapping[str, object]) -> dict[str, object]:
    """Values of a record that is about to be written, without names that were erased."""
    if not any(isinstance(value, str) for value in values.values()) or not are_any_marks(connection):
        return dict(values)
    from bevelbook.store.blanking_rules import Blanking

    blank = Blanking(marks_in(connection, what="name"))
    return {**values, **blank.changes(kind, "", None, dict(values))}
