"""The kept facts of one build, one diff, or one diff in a run, typed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import Any, TypeVar

from bevelbook.declare.fields import fields_of
from bevelbook.records.facts import BuildFacts, DiffFacts, RunDiffFacts

F = TypeVar("F", BuildFacts, DiffFacts, RunDiffFacts)
_TABLE_OF: dict[type[Any], str] = {BuildFacts: "build_facts", DiffFacts: "diff_facts", RunDiffFacts: "run_diff_facts"}


def facts_of(connection: sqlite3.Connection, kind: type[F], key: str) -> F:
    """The facts of the record whose id ``key`` is. Raises KeyError for an unknown record."""
    return facts_of_some(connection, kind, (key,))[key]


def facts_of_some(connection: sqlite3.Connection, kind: type[F], keys: Iterable[str]) -> dict[str, F]:
    """The facts of some records by their ids; unknown ones are left out."""
    from json import dumps

    names = [field.name for field in fields_of(kind)]
    found = connection.execute(
        f"SELECT {', '.join(f'f.{name}' for name in names)} FROM json_each(?) t "
        f"CROSS JOIN {_TABLE_OF[kind]} f ON f.{names[0]} = t.value",
        (dumps(list(keys)),),
    )
    return {row[0]: kind(**dict(zip(names, row, strict=True))) for row in found}
