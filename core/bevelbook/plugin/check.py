"""Findings of a check, and the reader that it queries the database through."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import choice, items_of, record, text
from bevelbook.plugin.guard import fault_of_text, safe_repr
from bevelbook.records import BY_TABLE

if TYPE_CHECKING:
    import sqlite3

SEVERITIES: Final = ("stop", "caution", "worth a look")
"""Worst first."""
NEAR_SHARE: Final = 0.8
"""From this share of a limit on, it counts as near (our own figure)."""
_ASKING: Final = ("SELECT", "WITH")


@record
class Finding:
    """What a check found: how bad it is, what it is in words, what to do, and the record that it is about."""

    code: str = text("Stable name of the finding, for programs, such as oil_lost")
    severity: str = choice(SEVERITIES, "How bad it is")
    words: str = text("What was found, with its numbers, as a person says it")
    remedy: str = text("What to do about it")
    subject_table: str = text("Table of the record that it is about")
    subject_id: str = text("Id of that record")
    subject_label: str = text("Name of that record for people")


def about_build(build: Mapping[str, Any], code: str, severity: str, words: str, remedy: str) -> Finding:
    """A finding about a row that has the columns ``build`` (its id) and ``label`` of a build."""
    return Finding(
        code=code,
        severity=severity,
        words=words,
        remedy=remedy,
        subject_table="builds",
        subject_id=build["build"],
        subject_label=build["label"],
    )


def milder(severity: str) -> str:
    """The severity of a fault in a build that has ended: one step milder than in use.

    >>> milder("stop"), milder("worth a look")
    ('caution', 'worth a look')
    """
    return SEVERITIES[min(SEVERITIES.index(severity) + 1, len(SEVERITIES) - 1)]


def fault_of(offer: object) -> str | None:
    """Why an object is not a usable finding, or None.

    >>> fault_of("oil!")
    "'oil!' is not a Finding"
    """
    if not isinstance(offer, Finding):
        return f"{safe_repr(offer)} is not a Finding"
    for name, value in items_of(offer):
        if fault_of_text(value) is not None:
            return f"a Finding with {name}={safe_repr(value)}, which has to be words"
    if not re.fullmatch(r"[a-z][a-z0-9_]*", offer.code):
        return f"a Finding with code={safe_repr(offer.code)}, which has to be lower-case words joined by _"
    if offer.severity not in SEVERITIES:
        return f"a Finding with severity={safe_repr(offer.severity)}, which is none of {', '.join(SEVERITIES)}"
    if offer.subject_table not in BY_TABLE:
        return f"a Finding with subject_table={safe_repr(offer.subject_table)}, which is not a table"
    return None


class Reader:
    """A read-only database, given to a check. It accepts SELECT and nothing else."""

    __slots__ = ("_among", "_connection")

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._among: Callable[[str], str] | None = None

    def through(self, among: Callable[[str], str]) -> Reader:
        """The same with each query changed first, so that it sees some of the records alone."""
        found = Reader(self._connection)
        found._among = among
        return found

    @property
    def opened_as(self) -> str:
        """The address under which another process can open the same database to read; empty where nobody said."""
        return getattr(self._connection, "opened_as", "")

    def rows(self, sql: str, params: Sequence[object] | Mapping[str, object] = ()) -> list[dict[str, Any]]:
        """The rows of one SELECT, each as a dict. Raises InputError for any other statement, and for one that fails."""
        import sqlite3

        if _first_word(sql) not in _ASKING:
            raise _refused(sql, "a check may only read", "a statement that starts with SELECT or WITH")
        try:
            with _closed_to_writing(self._connection):
                cursor = self._connection.cursor()
                cursor.row_factory = None
                cursor.execute(sql if self._among is None else self._among(sql), params)
                names = [column[0] for column in cursor.description or ()]
                return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
        except (sqlite3.Error, sqlite3.Warning) as fault:
            raise _refused(sql, f"the database cannot answer: {fault}") from fault


@contextmanager
def _closed_to_writing(connection: sqlite3.Connection) -> Iterator[None]:
    """Make a connection refuse writes meanwhile. One with an authorizer that forbids the pragma already does, and so
    does a served one, whose authorizer lets it be asked and not set."""
    import sqlite3

    try:
        is_closed = bool(connection.execute("PRAGMA query_only").fetchone()[0])
    except sqlite3.DatabaseError as fault:
        if "not authorized" not in str(fault):
            raise
        is_closed = True
    if is_closed:
        yield
        return
    connection.execute("PRAGMA query_only = ON")
    try:
        yield
    finally:
        connection.execute("PRAGMA query_only = OFF")


def _first_word(sql: str) -> str:
    bare = re.sub(r"\A(?:\s+|--[^\n]*\n?|/\*.*?\*/)++", "", sql, flags=re.DOTALL)
    return bare[:6].split(None, 1)[0].upper() if bare.strip() else ""


def _refused(sql: str, what: str, wanted: str | None = None) -> InputError:
    return InputError(what, code="not_read", found=" ".join(sql.split()), wanted=wanted)
