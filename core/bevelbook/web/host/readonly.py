"""A bevelbook database as Datasette may use it: read, never written, and no other file reached through it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Awaitable, Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import copy_context
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any, Final, NoReturn, TypeVar
from weakref import finalize

from datasette.database import Database

from bevelbook.declare.errors import DatabaseError
from bevelbook.facts.impossible import leave_out_impossible
from bevelbook.facts.lacking import lacking_facts_said
from bevelbook.plugin.elsewhere import waits_counted
from bevelbook.store.bounded_reading import distrust
from bevelbook.store.closed_file import has_changes_beside
from bevelbook.store.opened_to_read import check_is_ours, refuse_older, refuse_other_log
from bevelbook.store.own_views import read_through_own_views
from bevelbook.store.schema import APPLICATION_ID
from bevelbook.store.sqlite_errors import explained
from bevelbook.web.host.asked_rows import asked_rows
from bevelbook.web.host.limits_of_sqlite import (
    MOST_CELLS,
    TOO_LONG_A_VALUE,
    MeasuredCursor,
    set_limits,
    set_limits_of_visitors,
)
from bevelbook.web.host.private_datasette import closed_with, prepared_as
from bevelbook.web.host.table_paging import TablePaging, definition_if_counted_through, paging_of
from bevelbook.web.host.visitors_sql import visitors_processes

if TYPE_CHECKING:
    from bevelbook.store.copied_to_read import CopyAside

T = TypeVar("T")

READ_ONLY: Final = "this database is served read-only"
ASKING_PRAGMAS: Final = frozenset(
    {
        "application_id",
        "collation_list",
        "compile_options",
        "data_version",
        "defer_foreign_keys",
        "encoding",
        "foreign_keys",
        "freelist_count",
        "function_list",
        "journal_mode",
        "legacy_alter_table",
        "module_list",
        "page_count",
        "page_size",
        "pragma_list",
        "query_only",
        "recursive_triggers",
        "schema_version",
        "table_list",
        "user_version",
    }
)
"""Pragmas that report something without an argument; with one they would set it."""
ASKING_PRAGMAS_OF_A_NAME: Final = frozenset(
    {"foreign_key_list", "index_info", "index_list", "index_xinfo", "table_info", "table_list", "table_xinfo"}
)
"""Pragmas that report on the table or index named in their argument."""
WITHOUT_EFFECT: Final = frozenset({"recursive_triggers"})
"""Pragmas that may be set: nothing that only reads depends on them, and sqlite-utils sets them when it connects."""
_STEPS_BETWEEN_LOOKS: Final = 1_000
"""Of SQLite, between two looks at the time."""
PICTURE_BYTES: Final = "picture_bytes"
_BYTES: Final = frozenset({"jpeg", "thumbnail"})
_ASKING: Final = frozenset(
    {
        sqlite3.SQLITE_SELECT,
        sqlite3.SQLITE_READ,
        sqlite3.SQLITE_RECURSIVE,
        sqlite3.SQLITE_TRANSACTION,
        sqlite3.SQLITE_SAVEPOINT,
    }
)
"""What only asks, and the bounds of a transaction, in which nothing can be written either."""


def allowed(action: int, first: str | None, second: str | None, *_: str | None) -> int:
    """The authorizer of SQLite: only what asks is allowed, and nothing that names another file or the file's path, nor
    the bytes of pictures, of which some are of photographs that were removed.

    Connecting a full-text table declares its columns, which SQLite announces as an update of ``sqlite_master``; a
    statement that says so itself is refused by SQLite as long as nobody may set ``writable_schema``.
    """
    if action == sqlite3.SQLITE_READ and first == PICTURE_BYTES and second in _BYTES:
        return sqlite3.SQLITE_DENY
    return allowed_with_pictures(action, first, second)


def allowed_with_pictures(action: int, first: str | None, second: str | None, *_: str | None) -> int:
    """The same, and the bytes of pictures too."""
    if action in _ASKING or (action == sqlite3.SQLITE_UPDATE and first == "sqlite_master"):
        return sqlite3.SQLITE_OK
    if action == sqlite3.SQLITE_FUNCTION:
        return sqlite3.SQLITE_DENY if (second or "").lower() == "load_extension" else sqlite3.SQLITE_OK
    if action == sqlite3.SQLITE_PRAGMA:
        known = ASKING_PRAGMAS if second is None else ASKING_PRAGMAS_OF_A_NAME | WITHOUT_EFFECT
        return sqlite3.SQLITE_OK if (first or "").lower() in known else sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_DENY


@contextmanager
def pictures_readable(connection: sqlite3.Connection) -> Iterator[None]:
    """Let our own question read the bytes of pictures. What was prepared meanwhile is asked about again afterwards:
    SQLite lets go of every prepared statement where another authorizer is set."""
    connection.set_authorizer(allowed_with_pictures)
    try:
        yield
    finally:
        connection.set_authorizer(allowed)


def guard(connection: sqlite3.Connection) -> bool:
    """Set the limits and the authorizer on a connection to a bevelbook database; leave any other alone.

    True where it was one.
    """
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        return False
    set_limits(connection)
    connection.set_authorizer(allowed)
    return True


class _OfFile(sqlite3.Connection):
    """A connection that knows which file it was opened on, and the one to the file that took its place since."""

    file: tuple[int, int] | None = None
    opened_as = ""
    is_for_visitors = False
    newer: sqlite3.Connection | None = None

    def cursor(self, factory: Any = MeasuredCursor) -> Any:
        return super().cursor(factory)


def file_at(path: str) -> tuple[int, int] | None:
    """Which file is at a path, without opening it: that would let go of the locks on it. None for none."""
    try:
        found = Path(path).stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


class TeamDatabase(Database):  # type: ignore[misc]
    """Datasette's database with the ways to write closed. An existing object changes its class to this one."""

    _not_used_yet: sqlite3.Connection | None = None
    """What was opened to see whether the file can be read. Reading a schema takes longest of all that opening does."""
    _of_visitors: sqlite3.Connection | None = None
    aside: CopyAside | None = None
    """The copy that is read in place of a file with changes beside it, in a folder that cannot be written."""
    is_at = Path()
    """Where the team keeps the file, also where a copy of it is read."""

    def connect(self, write: bool = False) -> _OfFile:
        if write:
            _refuse_to_write()
        file = file_at(self.path)
        held, self._not_used_yet = self._not_used_yet, None
        if isinstance(held, _OfFile) and held.file == file:
            return held
        address = f"{Path(self.path).absolute().as_uri()}?{'mode=ro' if self.is_mutable else 'immutable=1'}"
        opened = sqlite3.connect(address, uri=True, check_same_thread=False, factory=_OfFile)
        opened.file, opened.opened_as = file, address
        distrust(opened)
        with suppress(sqlite3.Error):  # of a file that cannot be read, the question that is asked of it says so
            read_through_own_views(opened)
            leave_out_impossible(opened)
        opened.execute("PRAGMA query_only = ON")
        closed_with(self, opened)
        return opened

    async def execute(self, sql: str, params: Any = None, *more: Any, **named: Any) -> Any:
        """As Datasette's own; the rows of a table's page come in a total order."""
        asked = asked_rows()
        if asked is None:
            return await self._execute(sql, params, *more, **named)
        page = asked.page_of(self.name, sql)
        if page is not None:
            paging: TablePaging = await self.execute_fn(lambda connection: paging_of(connection, page.table))
            sql, params = paging.in_order(page.statement, params)
        results = await self._execute(sql, params, *more, **named)
        if page is None and asked.is_page:
            _cut(results)
        asked.note(results, page, sql, params)
        return results

    async def _execute(self, sql: str, params: Any, *more: Any, **named: Any) -> Any:
        """Datasette's own, which does not expect a value that is too long for SQLite; a visitor's own SQL is asked in
        another process."""
        asked = asked_rows()
        try:
            if asked is None or not asked.own_sql.is_in(sql, params):
                return await super().execute(sql, params, *more, **named)
            try:
                return await self._of_visitor(sql, params, *more, **named)
            except sqlite3.Error as fault:
                asked.fault = _in_words(fault)
                raise
        except sqlite3.DataError as fault:
            raise sqlite3.OperationalError(_in_words(fault)) from fault

    async def _of_visitor(
        self,
        sql: str,
        params: Any = None,
        truncate: bool = False,
        custom_time_limit: int | None = None,
        page_size: int | None = None,
        **_: Any,
    ) -> Any:
        """The same, as Datasette asks for it."""
        most: int = self.ds.max_returned_rows
        if most == (page_size or self.ds.page_size):
            most += 1
        limit_ms: int = self.ds.setting("sql_time_limit_ms")
        within_ms = min(custom_time_limit or limit_ms, limit_ms)
        return await visitors_processes().rows(self, sql, params, (most or None) if truncate else None, within_ms)

    async def get_view_definition(self, view: str) -> str | None:
        """The SQL of a view, or of a table whose pages are counted through like those of a view."""
        found: str | None = await super().get_view_definition(view)
        if found is None:
            found = await self.execute_fn(lambda connection: definition_if_counted_through(connection, view))
        return found

    async def execute_write_fn(self, fn: object, *given: object, **more: object) -> NoReturn:
        _refuse_to_write()

    async def _execute_write_fn(self, fn: object, *given: object, **more: object) -> NoReturn:
        """What the other ways to write go through in Datasette 1.0."""
        _refuse_to_write()

    async def execute_isolated_fn(self, fn: object) -> NoReturn:
        """For a file that may change Datasette opens it for writing."""
        _refuse_to_write()

    async def attached_databases(self) -> list[Any]:
        """None: nothing can be attached, and asking SQLite for the list would show the file's path."""
        return []

    async def execute_fn(self, fn: Callable[[sqlite3.Connection], T]) -> T:
        """As Datasette's own; where another file was moved to the path since the connection was made, such as a copy
        that was brought back, of that one."""

        def of_the_file_there(connection: sqlite3.Connection) -> T:
            return self._asked_of_the_file_there(connection, fn)

        answer: T = await super().execute_fn(of_the_file_there)
        return answer

    def ask_for_visitor(self, question: Callable[[sqlite3.Connection], T]) -> T:
        """What a function gives of a connection with the limits for a visitor's own SQL. In a process for that alone:
        whoever calls it waits."""
        if self._of_visitors is None:
            self._of_visitors = self._prepared(is_for_visitors=True)
        return self._asked_of_the_file_there(self._of_visitors, question)

    def _asked_of_the_file_there(self, connection: sqlite3.Connection, fn: Callable[[sqlite3.Connection], T]) -> T:
        file = file_at(self.path)
        if file is None or not isinstance(connection, _OfFile) or connection.file == file:
            return fn(connection)
        if getattr(connection.newer, "file", None) != file:
            connection.newer = self._prepared(is_for_visitors=connection.is_for_visitors)
        return fn(connection.newer or connection)

    def _prepared(self, *, is_for_visitors: bool) -> sqlite3.Connection:
        """A connection of our own, with what every one of Datasette's has."""
        opened = self.connect()
        prepared_as(self, opened)
        if is_for_visitors:
            opened.is_for_visitors = True
            set_limits_of_visitors(opened)
        return opened

    async def ask(self, question: Callable[..., T], *given: object, patience: int = 3) -> T:
        """What a function of a read connection returns, in at most ``patience`` times Datasette's limit for one query.

        Raises sqlite3.OperationalError ("interrupted") where it takes longer. What code of plugins takes in other
        processes, which has limits of its own, does not count.
        """
        context = copy_context()  # such as that words are said for later: another thread has none of it

        def timed(connection: sqlite3.Connection) -> T:
            limit_s = patience * self.ds.setting("sql_time_limit_ms") / 1000
            with limited(connection, limit_s), lacking_facts_said(connection):
                return question(connection, *given)

        answer: Awaitable[T] = self.execute_fn(lambda connection: context.run(timed, connection))
        return await answer


@contextmanager
def limited(connection: sqlite3.Connection, longest_s: float) -> Iterator[None]:
    """Interrupt what a connection asks after so many seconds, without those that plugins took in other processes."""
    with waits_counted() as waited:
        until = monotonic() + longest_s
        connection.set_progress_handler(lambda: monotonic() >= until + waited.seconds, _STEPS_BETWEEN_LOOKS)
        try:
            yield
        finally:
            connection.set_progress_handler(None, _STEPS_BETWEEN_LOOKS)


def _in_words(fault: sqlite3.Error) -> str:
    return TOO_LONG_A_VALUE if isinstance(fault, sqlite3.DataError) and "too big" in str(fault) else str(fault)


def _cut(results: Any) -> None:
    """Leave no more rows of a query than a page has cells for."""
    most = max(1, MOST_CELLS // max(1, len(results.columns)))
    if len(results.rows) > most:
        results.rows, results.truncated = results.rows[:most], True


def _refuse_to_write() -> NoReturn:
    raise DatabaseError(
        READ_ONLY,
        code="served_read_only",
        remedy="Write with 'bevelbook record', 'bevelbook import' or 'bevelbook calc --keep'.",
    )


def is_ours(database: Any) -> bool:
    """Whether a database of Datasette is a bevelbook file of any version."""
    if not database.path or database.is_memory:
        return False
    if isinstance(database, TeamDatabase):
        return True
    try:
        check_is_ours(Path(database.path))
    except DatabaseError as fault:
        return fault.code == "database_newer"
    return True


def close_to_writing(database: Any) -> None:
    """Make a bevelbook database read-only.

    Raises DatabaseError for one from an older or newer version, or where it cannot be read whole.
    """
    path = Path(database.path)
    check_is_ours(path)
    aside: CopyAside | None = None
    if database.is_mutable and not folder_is_writable(path):
        aside = _copied_with_changes(path)
        database.is_mutable = aside is not None
    database.__class__ = TeamDatabase
    database.is_at = path
    if aside is not None:
        database.aside, database.path = aside, str(aside.copy)
        finalize(database, aside.kept.close)
    connection: sqlite3.Connection | None = None
    try:
        connection = database.connect()
        refuse_other_log(connection, path)
        refuse_older(connection, path)
    except (sqlite3.Error, DatabaseError) as fault:
        if connection is not None:
            connection.close()
        if aside is not None:
            aside.kept.close()
        if isinstance(fault, sqlite3.Error):
            raise explained(fault, path) from fault
        raise
    database._not_used_yet = connection


def folder_is_writable(path: Path) -> bool:
    """Whether SQLite could lay its log beside the file, without which a file in use cannot be read."""
    return os.access(path.absolute().parent, os.W_OK)


def _copied_with_changes(path: Path) -> CopyAside | None:
    """A copy of a file and of the changes beside it, which SQLite reads only where it may lay an index of them; None
    where there are none. Raises DatabaseError."""
    if not has_changes_beside(path):
        return None
    from bevelbook.store.copied_to_read import copied_aside

    return copied_aside(path)
