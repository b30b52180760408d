"""The arguments that Datasette's own pages of our databases take: one table of them, and the refusal of any other.

Datasette leaves many aside that it cannot read, and fails with others; who asked learns of neither what was wrong.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from enum import Enum
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError
from bevelbook.web.host.addresses import Owner, PlaceOfRows, owner_of, page_beside, place_of_rows
from bevelbook.web.host.arguments import (
    Argument,
    Given,
    OddArgument,
    any_text,
    given_in,
    is_day,
    is_whole,
    not_taken,
    one_of,
    refuse_odd,
    refuse_value,
    twice,
)
from bevelbook.web.host.datasette_state import state_of, team_database
from bevelbook.web.host.errors import fault_page
from bevelbook.web.host.odd_requests import READING_METHODS
from bevelbook.web.host.policy import App, Message, Receive, Send
from bevelbook.web.host.private_datasette import (
    HAS_SQL_PAGE,
    QueryInterrupted,
    Request,
    detect_fts,
    escape_sqlite,
    filter_endings,
    parameters_in,
    saved_query,
)
from bevelbook.web.host.table_paging import TablePaging, paging_of
from bevelbook.web.host.template_context import FIRST_ROW

_ID: Final = r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}"
_MOST_ROWS: Final = 10**9
_MOST_PARTS: Final = 9
_MOST_LISTED: Final = 1_000
_YEAR_S: Final = 31_536_000
_SHAPES: Final = ("arrays", "objects", "array", "object", "arrayfirst")


class RowsPage(Enum):
    """A kind of Datasette's pages."""

    INDEX = "the databases"
    DATABASE = "the tables of a database"
    QUERY = "what a question in SQL found"
    TABLE = "rows of a table"
    ROW = "a row"


_INDEX, _DATABASE, _QUERY, _TABLE, _ROW = ({one} for one in RowsPage)
_FOUND: Final = _QUERY | _TABLE
_ROWS: Final = _FOUND | _ROW
_ALL: Final = _ROWS | _DATABASE | _INDEX


class Here(NamedTuple):
    """What an address asks of: the columns with their types, the key and the way through the pages of a table, the
    columns that are searched, the keys named in the address that its rows have, and the limits of the server."""

    page: RowsPage
    table: str = ""
    paging: TablePaging = TablePaging((), {}, False)
    searched: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()
    keys_there: frozenset[str] = frozenset()
    parameters: tuple[str, ...] = ()
    most_rows: int = 0
    time_limit_ms: int = 0

    @property
    def columns(self) -> tuple[str, ...]:
        """The names of the columns; a table that is not counted through has the number of its row too."""
        return (*self.paging.types, *(() if self.paging.counted_through else ("rowid",)))


Fits = Callable[[Here, str], bool]


class RowsArgument(NamedTuple):
    """An argument of Datasette's: on which pages, and the same as of any other. A name that ends in ``*`` is all that
    begin so; what it takes may name limits and columns of the place."""

    pages: set[RowsPage]
    name: str
    takes: str
    fits: Fits
    may_repeat: bool = False
    is_needed: bool = False


def _any(_: Here, __: str) -> bool:
    return True


def _is_column(here: Here, given: str) -> bool:
    return given in here.columns


def _is_switch(_: Here, given: str) -> bool:
    return given.lower() in ("on", "off", "true", "false", "1", "0", "t", "f")


def _words(*known: str) -> Fits:
    return lambda _, given: given in known


def _whole(least: int, most: int) -> Fits:
    return lambda _, given: is_whole(least, most)(given)


def _is_time_limit(here: Here, given: str) -> bool:
    return is_whole(1, here.time_limit_ms)(given)


def _is_facet_size(here: Here, given: str) -> bool:
    return given == "max" or is_whole(1, here.most_rows)(given)


def _is_column_or_found(here: Here, given: str) -> bool:
    """Of a question in SQL only its answer knows the columns."""
    return here.page is RowsPage.QUERY or given in here.columns


def _is_table(here: Here, given: str) -> bool:
    return given in here.tables


def _is_searched(here: Here, _: str) -> bool:
    return bool(here.searched)


def _is_way_to_compare(_: Here, given: str) -> bool:
    return given.partition("__")[0] in filter_endings()


def _is_hash(_: Here, given: str) -> bool:
    return re.fullmatch(r"[0-9a-f]{64}", given) is not None


def _is_size(here: Here, given: str) -> bool:
    return given == "max" or is_whole(0, here.most_rows)(given)


def _is_facet(here: Here, given: str) -> bool:
    if not given.startswith("{"):
        return _is_column(here, given)
    found = _json(given)
    return isinstance(found, dict) and next(iter(found), "") in ("column", "simple") and _names_column(here, found)


def _names_column(here: Here, found: Mapping[str, Any]) -> bool:
    return (
        len(found) == 1
        and isinstance(found.get("column", found.get("simple")), str)
        and any(one in here.columns for one in found.values())
    )


def _is_through(here: Here, given: str) -> bool:
    found = _json(given)
    if not isinstance(found, dict) or found.keys() != {"table", "column", "value"}:
        return False
    return (
        found["table"] in here.tables
        and isinstance(found["column"], str)
        and isinstance(found["value"], str | int | float)
    )


def _is_next(here: Here, given: str) -> bool:
    """What the link to the next page has: how many rows to leave out, or the key of the last row, and before it the
    value by which the rows are sorted."""
    if here.paging.counted_through:
        return is_whole(0, _MOST_ROWS)(given)
    parts = _parts(given)
    keys = here.paging.key
    if len(parts) not in (len(keys), len(keys) + 1):
        return False
    return all(_fits_key(here, key, part) for key, part in zip(keys, parts[-len(keys) :], strict=True))


def _fits_key(here: Here, key: str, part: str) -> bool:
    if key == "rowid" or here.paging.types.get(key) == "INTEGER":
        return part.removeprefix("-").isdecimal()
    return re.fullmatch(_ID, part) is not None or part in here.keys_there


def _is_listing(_: Here, given: str) -> bool:
    """A list in JSON, or values with commas between them; not so many that SQLite works on them for seconds."""
    listed = _json(given) if given.startswith("[") else given.split(",")
    return isinstance(listed, list) and len(listed) <= _MOST_LISTED


def _json(given: str) -> Any:
    try:
        return json.loads(given)
    except (ValueError, RecursionError):
        return None


CSV: Final = ".csv"
NO_ROWS: Final = (
    "This address names no rows that a CSV file could hold. Put a table or view behind the database, as in "
    "/team/builds.csv."
)
"""Where CSV of a whole database is asked for, which Datasette 0.65 does not expect."""
_COLUMN: Final = "the name of a column"
_SWITCH: Final = "on or off"
_FILTER: Final = "_filter_column", "_filter_op", "_filter_value"
TAKEN: Final = (
    RowsArgument(_INDEX, "_sort", "relationships", _words("relationships")),
    RowsArgument(_DATABASE, "_show_hidden", _SWITCH, _is_switch),
    RowsArgument(_QUERY | _DATABASE, "sql", "a question in SQL", _any),
    RowsArgument(_QUERY, "_hide_sql", _SWITCH, _is_switch),
    RowsArgument(_QUERY, "_show_sql", _SWITCH, _is_switch),
    RowsArgument(_TABLE, "_sort", _COLUMN, _is_column),
    RowsArgument(_TABLE, "_sort_desc", _COLUMN, _is_column),
    RowsArgument(_TABLE, "_sort_by_desc", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_size", "a whole number from 0 to {most_rows}, or max", _is_size, True),
    RowsArgument(_TABLE, "_next", "what the link to the next page has", _is_next),
    RowsArgument(_TABLE, FIRST_ROW, "the number of a row", _whole(1, _MOST_ROWS)),
    RowsArgument(_TABLE | _ROW, "_all", _SWITCH, _is_switch),
    RowsArgument(_TABLE, "_where", "a condition in SQL", _any, True, True),
    RowsArgument(_TABLE, "_search", "words, where a table is searched for them", _is_searched),
    RowsArgument(_TABLE, "_search_*", "words, where a column is searched for them", _any),
    RowsArgument(_TABLE, "_searchmode", "escaped or raw", _words("escaped", "raw")),
    RowsArgument(_TABLE, "_fts_table", "the name of a table that holds words to look for", _is_table),
    RowsArgument(_TABLE, "_fts_pk", _COLUMN, _is_column),
    RowsArgument(_TABLE, "_through", "JSON with table, column and value", _is_through, True, True),
    RowsArgument(_TABLE, "_facet", _COLUMN, _is_facet, True, True),
    RowsArgument(_TABLE, "_facet_array", _COLUMN, _is_facet, True, True),
    RowsArgument(_TABLE, "_facet_date", _COLUMN, _is_facet, True, True),
    RowsArgument(_TABLE, "_facet_size", "a whole number from 1 to {most_rows}, or max", _is_facet_size),
    RowsArgument(_TABLE, "_col", _COLUMN, _is_column, True, True),
    RowsArgument(_TABLE, "_nocol", _COLUMN, _is_column, True, True),
    RowsArgument(_ROWS, "_labels", _SWITCH, _is_switch, True),
    RowsArgument(_TABLE | _ROW, "_label", _COLUMN, _is_column, True, True),
    RowsArgument(_TABLE, "_filter_column*", _COLUMN, _is_column),
    RowsArgument(_TABLE, "_filter_op*", "a way to compare, such as exact or contains", _is_way_to_compare),
    RowsArgument(_TABLE, "_filter_value*", "a value", _any),
    RowsArgument(_FOUND, "_timelimit", "milliseconds from 1 to {time_limit_ms}", _is_time_limit),
    RowsArgument(_TABLE, "_nocount", _SWITCH, _is_switch),
    RowsArgument(_TABLE, "_nofacet", _SWITCH, _is_switch),
    RowsArgument(_TABLE, "_nosuggest", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_shape", ", ".join(_SHAPES), _words(*_SHAPES), is_needed=True),
    RowsArgument(_ROWS, "_nl", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_json", _COLUMN, _is_column_or_found, True, True),
    RowsArgument(_ROWS, "_json_infinity", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_stream", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_header", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_dl", _SWITCH, _is_switch),
    RowsArgument(_ROWS, "_blob_column", _COLUMN, _is_column_or_found, is_needed=True),
    RowsArgument(_ROWS, "_blob_hash", "what the link to the bytes has", _is_hash),
    RowsArgument(_ALL, "_ttl", f"seconds from 0 to {_YEAR_S}", _whole(0, _YEAR_S)),
    RowsArgument(_ROW, "_extras", "foreign_key_tables", _words("foreign_key_tables")),
)
"""What Datasette takes, and we of its pages, beside columns and the parameters of a question in SQL. Its own links give
_size and _labels more than once."""
BESIDE: Final[Mapping[str, tuple[Argument, ...]]] = {
    **dict.fromkeys(("favicon.ico", "robots.txt"), ()),
    **dict.fromkeys(("actor", "config", "databases", "logout", "metadata", "settings", "threads", "versions"), ()),
    "auth-token": (any_text("token"),),
    "plugins": (one_of("all", "1", "on"),),
}
"""What Datasette's pages beside the databases take."""
_TRACE: Final = RowsArgument(_ALL, "_trace", _SWITCH, _is_switch)
"""Taken where whoever serves has switched it on."""
_EXTRA: Final = RowsArgument(_ALL, "_extra", "names of further facts", _any, True)
"""Taken by Datasette 1.0."""


def by_their_arguments(app: App, datasette: Any) -> App:
    """The application, asked on Datasette's pages of our databases for what they take alone."""

    async def answer(scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["method"] in READING_METHODS and state_of(datasette).names(datasette):
            try:
                await _refuse(datasette, str(scope["path"]), scope.get("query_string", b"").decode("latin-1"))
            except OddArgument as odd:
                refused = fault_page(datasette, Request(scope, receive), odd)
                if refused is not None:
                    await (await refused).asgi_send(send)
                    return
        await app(scope, receive, send)

    return answer


async def _refuse(datasette: Any, path: str, query: str) -> None:
    """Raises OddArgument for what a page of Datasette's does not take."""
    beside = BESIDE.get(page_beside(datasette, path) or "") if query else None
    if beside is not None:
        refuse_odd(given_in(query), beside)
    is_csv = path.endswith(CSV)
    if not (query or is_csv) or owner_of(datasette, path) is Owner.ELSEWHERE:
        return
    given = given_in(query)
    here = await _here(datasette, path, given) if given or is_csv else None
    if here is not None:
        _check(datasette, here, given)
        if is_csv and here.page is RowsPage.DATABASE:
            raise OddArgument(NO_ROWS)


async def _here(datasette: Any, path: str, given: Given) -> Here | None:
    """What the address asks of; None for any other page, and where there is no such table."""
    place = place_of_rows(datasette, path)
    found = None if place is None else await _at(datasette, place, given)
    return (
        None
        if found is None
        else found._replace(
            most_rows=int(datasette.setting("max_returned_rows")),
            time_limit_ms=int(datasette.setting("sql_time_limit_ms")),
        )
    )


async def _at(datasette: Any, place: PlaceOfRows, given: Given) -> Here | None:
    if place.database is None:
        return Here(RowsPage.INDEX)
    sql = next((value for name, value in given if name == "sql" and value), None)
    if place.table is None or place.is_below_pages:
        is_asked = sql is not None or place.is_below_pages
        return Here(RowsPage.QUERY if is_asked else RowsPage.DATABASE, parameters=parameters_in(sql or ""))
    saved = await saved_query(datasette, place.database, place.table) if place.row is None else None
    if saved is not None:
        return Here(RowsPage.QUERY, parameters=parameters_in(saved))
    team = team_database(datasette, place.database)
    fts = next((value for name, value in given if name == "_fts_table"), None)
    following = [value for name, value in given if name == "_next"]
    try:
        found = None if team is None else await team.ask(_asked_of, place.table, fts, following)
    except (sqlite3.Error, QueryInterrupted, BevelbookError):  # the page itself says so
        return None
    return found._replace(page=RowsPage.ROW) if found is not None and place.row is not None else found


def _asked_of(connection: sqlite3.Connection, table: str, fts: str | None, following: Sequence[str]) -> Here | None:
    """The table of that name, with what is looked for in it; None where there is none."""
    listed = connection.execute(
        "SELECT name FROM (SELECT name, type FROM temp.sqlite_master UNION SELECT name, type FROM main.sqlite_master)"
        " WHERE type IN ('table', 'view') ORDER BY name"
    )
    tables = tuple(str(row[0]) for row in listed)
    if table not in tables:
        return None
    words = fts or detect_fts(connection, table)
    searched = tuple(paging_of(connection, words).types) if words in tables else ()
    paging = paging_of(connection, table)
    return Here(RowsPage.TABLE, table, paging, searched, tables, _keys_there(connection, table, paging, following))


def _keys_there(
    connection: sqlite3.Connection, table: str, paging: TablePaging, following: Sequence[str]
) -> frozenset[str]:
    """Those parts of what leads to the next page that a row has in the key: most keys are ids, and some are names."""
    parts = {part for one in following for part in _parts(one)[:_MOST_PARTS]}
    if paging.counted_through or not parts:
        return frozenset()
    marks = ", ".join("?" * len(parts))
    found: set[str] = set()
    for key in paging.key:
        column, given = escape_sqlite(key), tuple(parts)
        there = connection.execute(
            f"SELECT DISTINCT {column} FROM {escape_sqlite(table)} WHERE {column} IN ({marks}) ORDER BY 1", given
        )
        found |= {str(row[0]) for row in there}
    return frozenset(found)


def _parts(following: str) -> list[str]:
    from datasette.utils import tilde_decode

    return [tilde_decode(part) for part in following.split(",")]


def _check(datasette: Any, here: Here, given: Given) -> None:
    more = (*([_TRACE] if datasette.setting("trace_debug") else ()), *([_EXTRA] if HAS_SQL_PAGE else ()))
    taken = [one for one in (*TAKEN, *more) if here.page in one.pages]
    seen: dict[str, str] = {}
    for name, value in given:
        if here.page is RowsPage.TABLE and _is_filter(here, name, value):
            continue
        one = None if name in here.parameters else next((one for one in taken if _is_called(here, one, name)), None)
        if one is None and name not in here.parameters:
            columns = "the names of its columns" if here.page is RowsPage.TABLE else ""
            raise not_taken(name, value, [*here.parameters, *(known.name for known in taken)], columns)
        if one is not None:
            refuse_value(_as_declared(here, one, name), value)
        if name in seen and not (one is not None and one.may_repeat):
            raise twice(name, seen[name], value)
        seen[name] = value


def _as_declared(here: Here, one: RowsArgument, name: str) -> Argument:
    takes = one.takes.format(most_rows=here.most_rows, time_limit_ms=here.time_limit_ms)
    return Argument(name, takes, lambda value: one.fits(here, value), one.may_repeat, one.is_needed)


def _is_called(here: Here, one: RowsArgument, name: str) -> bool:
    if not one.name.endswith("*"):
        return name == one.name
    begun = one.name[:-1]
    rest = name.removeprefix(begun)
    if begun == "_search_":
        return name.startswith(begun) and rest in here.searched
    return name == begun or (name.startswith(f"{begun}_") and rest[1:].isdecimal())


def _is_filter(here: Here, name: str, value: str) -> bool:
    """Whether an argument narrows down a column. Raises OddArgument where its value does not fit."""
    column, _, ending = name.rpartition("__") if "__" in name else (name, "", "exact")
    if column not in here.columns or ending not in filter_endings():
        return False
    if ending in ("in", "notin"):
        takes = f"at most {_MOST_LISTED:,} values with commas between them, or a list in JSON"
        refuse_value(Argument(name, takes, lambda given: _is_listing(here, given)), value)
    if ending == "date":
        refuse_value(Argument(name, "a day, as 2026-05-04", is_day), value)
    return True
