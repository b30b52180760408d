"""What is written down in one record, line by line."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.display.format import format_value
from bevelbook.facts.sql import Row
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports import questions
from bevelbook.web.shared.links import Linker

_WORDS_ASIDE: Final = frozenset({"label", "name", "note"})


class Fact(NamedTuple):
    """A line of a record: what, and the value in words."""

    words: str
    value: Any


def facts_of(connection: sqlite3.Connection, links: Linker, kind: Kind, row_id: str) -> list[Fact]:
    return list(_fact_lines(connection, links, kind, questions.record(connection, kind, row_id)))


def _fact_lines(connection: sqlite3.Connection, links: Linker, kind: Kind, row: Row) -> Iterator[Fact]:
    for field in kind.fields:
        value = row[field.name]
        if value is None or field.name in _WORDS_ASIDE:
            continue
        words = field.words[0].upper() + field.words[1:]
        if field.kind == "reference" and field.target:
            target = BY_NAME[field.target]
            yield Fact(words, links.record(target.table, value, questions.name_of(connection, target, value)))
        else:
            yield Fact(words, _value(field, value))


def _value(field: Field, value: Any) -> str:
    return format_value(value, field) if field.is_number else str(value)
