"""An answer that holds fewer rows than there are says so: in a header, and a CSV file in its last row and its name.

That row has words in every cell: whoever adds up a column meets a word in it, and a spreadsheet shows it at the end.
"""

from __future__ import annotations

import csv
from collections.abc import Awaitable, Callable
from io import StringIO
from typing import Any, Final
from urllib.parse import parse_qsl, quote, unquote_plus, urlencode

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.web.host.asked_rows import AskedRows, asked_rows, begin, end
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.limits_of_sqlite import MOST_ROWS_OF_PAGE
from bevelbook.web.host.own_sql import own_sql_of
from bevelbook.web.host.policy import App, Message, Send
from bevelbook.web.host.template_context import FIRST_ROW
from bevelbook.web.host.turns import let_others

HEADER: Final = "rows-cut-short"
CUT: Final = "cut short"
_OTHER_FORM: Final = late_pattern(r"\.[a-z]+$")
"""How an address ends that asks for JSON, CSV or what another plugin makes of the rows."""
_ONLY_OF_A_PAGE: Final = frozenset({"_next", "_size", FIRST_ROW, "_dl"})
_FIRST_LINE_AT_MOST: Final = 100_000


def saying_what_is_cut(app: App, datasette: Any) -> App:
    """The application, whose answers of rows say where there are more."""

    async def answer(scope: Message, receive: Callable[[], Awaitable[Message]], send: Send) -> None:
        if scope["type"] != "http" or not state_of(datasette).names(datasette):
            await app(scope, receive, send)
            return
        is_page = _OTHER_FORM.search(str(scope["path"])) is None and b"_format=" not in scope.get("query_string", b"")
        scope = _in_small_pages(scope) if is_page else _in_large_pages(scope)
        begun = begin(is_page, own_sql_of(scope.get("query_string", b"")))
        asked = asked_rows()
        assert asked is not None
        try:
            await app(scope, receive, _CutAnswer(scope, asked, send, datasette))
        finally:
            end(begun)

    return answer


def _in_large_pages(scope: Message) -> Message:
    """A request for all rows as CSV reads them in the largest pages that the loop is not held up by, unless it says in
    which: Datasette puts names beside the ids of a page at one go."""
    query = scope.get("query_string", b"")
    asked = dict(parse_qsl(query.decode("latin-1")))
    if not str(scope["path"]).endswith(".csv") or "_stream" not in asked or "_size" in asked:
        return scope
    size = str(MOST_ROWS_OF_PAGE) if "_labels" in asked else "max"
    return {**scope, "query_string": query + f"&_size={size}".encode()}


def _in_small_pages(scope: Message) -> Message:
    """A request for a page of a table with no more rows than a page has."""
    query = scope.get("query_string", b"")
    if not query:
        return scope
    pairs = query.decode("latin-1").split("&")
    kept = [_in_small_page(pair) for pair in pairs]
    return scope if kept == pairs else {**scope, "query_string": "&".join(kept).encode("latin-1")}


def _in_small_page(pair: str) -> str:
    """One argument of an address, as it was sent; anything but the size of a page stays as it is."""
    name, _, size = pair.partition("=")
    least = _at_most(unquote_plus(size))
    return pair if unquote_plus(name) != "_size" or least == unquote_plus(size) else f"_size={least}"


def _at_most(size: str) -> str:
    if size == "max" or (size.isdecimal() and (len(size) > 9 or int(size) > MOST_ROWS_OF_PAGE)):
        return str(MOST_ROWS_OF_PAGE)
    return size


class _CutAnswer:
    """Sends an answer on; where rows are left when it ends, it adds the row that says so."""

    def __init__(self, scope: Message, asked: AskedRows, send: Send, datasette: Any) -> None:
        self._path = str(scope["path"])
        self._query = parse_qsl(scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)
        self._is_get = scope["method"] == "GET"
        self._asked = asked
        self._send = send
        self._may_stream = bool(datasette.setting("allow_csv_stream"))
        self._is_csv = False
        self._refusal: bytes | None = None
        self._first = b""
        self._last = b""

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            message = self._begun(message)
        elif self._refusal is not None:
            message, self._refusal = {**message, "body": self._refusal}, b""
        elif self._is_csv and message["type"] == "http.response.body":
            body = message.get("body", b"")
            if len(self._first) < _FIRST_LINE_AT_MOST:
                self._first += body
            self._last = body[-1:] or self._last
            await let_others()
            if not message.get("more_body") and self._asked.are_more:
                await self._send({**message, "more_body": True})
                message = {**message, "body": self._row()}
        await self._send(message)

    def _begun(self, message: Message) -> Message:
        headers = dict(message.get("headers", []))
        kind = headers.get(b"content-type", b"")
        is_right = message["status"] == 200
        self._is_csv = (
            is_right and self._is_get and self._path.endswith(".csv") and kind.startswith((b"text/plain", b"text/csv"))
        )
        if self._is_csv and self._asked.fault is not None:
            return self._refused(message)
        if not is_right or not self._asked.are_more or self._is_streamed:
            return message
        added = [(HEADER.encode(), f"{self._asked.given} rows are here, there are more".encode())]
        named = headers.get(b"content-disposition")
        if self._is_csv and named:
            added.append((b"content-disposition", named.replace(b'.csv"', b'-cut-short.csv"')))
        replaced = {name for name, _ in added}
        return {**message, "headers": [*(one for one in message["headers"] if one[0] not in replaced), *added]}

    def _refused(self, message: Message) -> Message:
        """Of a query that was refused Datasette 0.65 makes a file without rows, as if there were none."""
        self._is_csv = False
        self._refusal = f"{self._asked.fault}\n".encode()
        kept = [one for one in message["headers"] if one[0] not in (b"content-type", b"content-disposition")]
        return {**message, "status": 400, "headers": [*kept, (b"content-type", b"text/plain; charset=utf-8")]}

    @property
    def _is_streamed(self) -> bool:
        return any(name == "_stream" and value for name, value in self._query)

    def _row(self) -> bytes:
        columns = next(csv.reader(StringIO(self._first.decode("utf-8", "replace"), newline="")), [""])
        written = StringIO(newline="")
        csv.writer(written).writerow([self._words(), *[CUT] * (len(columns) - 1)])
        return (b"" if self._last in (b"\n", b"") else b"\r\n") + written.getvalue().encode()

    def _words(self) -> str:
        here = f"{CUT}: {self._asked.given:,} rows are here and there are more"
        if not self._asked.are_of_table:
            return f"{here}; add ORDER BY, LIMIT and OFFSET to the query to get them in parts"
        if self._is_streamed:
            return f"{here}; the server stopped before the end"
        if not self._may_stream:
            return f"{here}; filter the rows to get others"
        kept = [(name, value) for name, value in self._query if name not in _ONLY_OF_A_PAGE]
        return f"{here}; all are at {quote(self._path, safe='/~')}?{urlencode([*kept, ('_stream', 'on')])}"
