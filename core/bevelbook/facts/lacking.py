"""Facts that are missing: only another program takes a row of them out of the file, or adds a record without one."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from bevelbook.declare.errors import DatabaseError
from bevelbook.facts.standing import stands_alone_sql

_LACKING = (
    "SELECT 1 FROM builds b WHERE NOT EXISTS (SELECT 1 FROM build_facts f WHERE f.build = b.id)",
    f"SELECT 1 FROM diffs d WHERE {stands_alone_sql('diff', 'd.id')} "
    "AND NOT EXISTS (SELECT 1 FROM diff_facts f WHERE f.diff = d.id)",
    "SELECT 1 FROM run_diffs x WHERE x.build IS NOT NULL "
    "AND NOT EXISTS (SELECT 1 FROM run_diff_facts f WHERE f.run_diff = x.id)",
)


def facts_are_lacking(connection: sqlite3.Connection) -> bool:
    """Whether a build, a diff or a diff in a run has no facts."""
    return any(connection.execute(f"{one} LIMIT 1").fetchone() is not None for one in _LACKING)


@contextmanager
def lacking_facts_said(connection: sqlite3.Connection) -> Iterator[None]:
    """Raise DatabaseError, with the way back, where what is inside did not find something and facts are missing."""
    try:
        yield
    except (LookupError, AttributeError, TypeError) as failed:
        if not facts_are_lacking(connection):
            raise
        raise fault_of_lacking_facts() from failed


def fault_of_lacking_facts() -> DatabaseError:
    """The fault where facts are missing, with the way back."""
    return DatabaseError(
        "what follows from the records is not all there: another program changed the file",
        code="facts_missing",
        remedy="It is worked out again by 'bevelbook check --rebuild'. Nothing was changed.",
    )
