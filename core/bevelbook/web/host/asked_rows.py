"""What one request asks of our databases: the page of a table that comes next, the rows given, whether more are left.

Datasette asks each plugin for filters just before it reads a page; the statement that follows is known by that.
"""

from __future__ import annotations

from contextvars import ContextVar, Token
from typing import Any, Final, NamedTuple

from bevelbook.web.host.own_sql import OwnSql
from bevelbook.web.host.private_datasette import TableStatement, table_statement


class AskedPage(NamedTuple):
    """A table or view with the statement that reads one page of it."""

    table: str
    statement: TableStatement


class AskedRows:
    """The rows of one request; ``are_more`` where the last statement left some, of a table or of a query.

    ``page_sql`` is the statement of the last page of a table, as it was asked. ``is_page`` where they are drawn as a
    page for people, ``own_sql`` is what a visitor wrote of it in SQL.
    """

    def __init__(self, is_page: bool, own_sql: OwnSql) -> None:
        self.is_page = is_page
        self.own_sql = own_sql
        self._expected: tuple[str, str] | None = None
        self._last: tuple[str, Any] | None = None
        self.given = 0
        self.are_more = False
        self.are_of_table = False
        self.fault: str | None = None
        """Why a visitor's own SQL was refused."""
        self.page_sql: str | None = None

    def expect(self, database: str, table: str) -> None:
        """The next page that is read is one of this table."""
        self._expected = (database, table)

    def page_of(self, database: str, sql: str) -> AskedPage | None:
        """The page that a statement reads; None where it reads something else."""
        if self._expected is None or self._expected[0] != database:
            return None
        table = self._expected[1]
        statement = table_statement(sql, table)
        if statement is None:
            return None
        self._expected = None
        return AskedPage(table, statement)

    def note(self, results: Any, page: AskedPage | None, sql: str, given: Any) -> None:
        """Count what a statement gave; one that is asked twice, with the same values, counts once."""
        if page is not None and (sql, given) == self._last:
            return
        if page is not None:
            self.page_sql = sql
            self._last = (sql, given)
            self.are_of_table = True
            self.are_more = len(results.rows) > page.statement.rows
            self.given += min(len(results.rows), page.statement.rows)
        elif results.truncated and not self.are_of_table:
            self.are_more = True
            self.given = len(results.rows)


_ASKED: Final[ContextVar[AskedRows | None]] = ContextVar("asked_rows", default=None)


def asked_rows() -> AskedRows | None:
    """Those of the request that is being answered."""
    return _ASKED.get()


def begin(is_page: bool, own_sql: OwnSql) -> Token[AskedRows | None]:
    """Count for a request; :func:`end` takes what is returned."""
    return _ASKED.set(AskedRows(is_page, own_sql))


def end(begun: Token[AskedRows | None]) -> None:
    """Count no longer."""
    _ASKED.reset(begun)


def expect_page_of(database: str, table: str) -> None:
    """The request that is being answered reads a page of this table next."""
    asked = asked_rows()
    if asked is not None:
        asked.expect(database, table)
