"""What is written down in one record, line by line."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.display.format import format_value
from bevelbook.facts.sql import Row
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports import questions
from bevelbook.store.record_names import title_of
from bevelbook.web.shared.links import Linker

_WORDS_ASIDE: Final = frozenset({"label", "name", "note"})


class RecordFact(NamedTuple):
    """A line of a record: what, the value in words, and where it is a reference the table and id it leads to."""

    words: str
    value: str | None
    table: str | None = None
    row_id: str | None = None


class FactLine(NamedTuple):
    """A line of a record on a page: what, and the value, linked where it leads to a record."""

    words: str
    value: Markup | str


def record_facts(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[RecordFact]:
    """The lines of one record, by its id. Raises DatabaseError where it cannot be read."""
    return list(_facts_in(connection, kind, questions.record(connection, kind, row_id)))


def fact_lines(links: Linker, facts: Iterable[RecordFact]) -> list[FactLine]:
    """The same lines as a page shows them."""
    return [
        FactLine(one.words, links.record(one.table, one.row_id, one.value) if one.table else one.value or "")
        for one in facts
    ]


def _facts_in(connection: sqlite3.Connection, kind: Kind, row: Row) -> Iterator[RecordFact]:
    for field in kind.fields:
        value = row[field.name]
        if value is None or field.name in _WORDS_ASIDE:
            continue
        words = begun(field.words)
        if field.kind == "reference" and field.target:
            target = BY_NAME[field.target]
            yield RecordFact(words, title_of(connection, target, value), target.table, value)
        else:
            yield RecordFact(words, _value(field, value))


def _value(field: Field, value: Any) -> str:
    return format_value(value, field) if field.is_number else str(value)
