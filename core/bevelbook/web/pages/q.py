"""What has a name: where the code on a label leads, ``/q/NAME``, and from there to the page of what it names."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple
from urllib.parse import unquote

from markupsafe import Markup

from bevelbook.declare.printable import printable
from bevelbook.display.quarters import page_in_quarters
from bevelbook.store.called import RecordCalled, called
from bevelbook.web.host.addresses import record_address
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import Page
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import PageRequest, page_request

LONGEST_NAME: Final = 500
"""More than a label's name has: that of an oil and a lot, or of a diff and the number of its build."""
AT_ROOT: Final = r"^/q/(?P<name>.+)$"
"""Without the name of a book: a label holds no more than it needs, and a book may be renamed."""
_WORDS: Final = {"seal": "kind of seal"}


class NamedHere(NamedTuple):
    """Something with the name, and the record whose page shows it: of the build that is in a diff, the diff."""

    words: str
    name: str
    table: str
    row_id: str


class InBook(NamedTuple):
    """What has the name in one book."""

    links: Linker
    found: list[NamedHere]
    is_without_days: bool = False


def named_of(connection: sqlite3.Connection, name: str) -> list[NamedHere]:
    """What has a name, in any case of its letters."""
    return [_here(connection, one) for one in called(connection, name)]


def _here(connection: sqlite3.Connection, one: RecordCalled) -> NamedHere:
    words = _WORDS.get(one.kind.name, one.kind.name)
    if one.kind.name == "build":
        diff = connection.execute("SELECT diff FROM diff_facts WHERE current_build = ?", (one.row_id,)).fetchone()
        if diff is not None:
            return NamedHere(words, one.name, "diffs", str(diff[0]))
    return NamedHere(words, one.name, one.kind.table, one.row_id)


async def q(request: Any, datasette: Any) -> Any:
    """What has a name, in one book."""
    page = await page_request(datasette, request)
    name = _name(request)
    return await _answer(page, name, [InBook(page.links, await page.ask(named_of, name))])


async def q_of_all(request: Any, datasette: Any) -> Any:
    """What has a name, in any of the books that are served."""
    from datasette.utils.asgi import Forbidden, NotFound

    name, books, first = _name(request), [], None
    for database in state_of(datasette).names(datasette):
        try:
            page = await page_request(datasette, request, database)
        except Forbidden:
            continue
        first = first or page
        is_without_days = state_of(datasette).is_without_days(database)
        books.append(InBook(page.links, await page.ask(named_of, name), is_without_days))
    if first is None:
        raise NotFound("There is no such page.")
    return await _answer(first, name, books)


async def _answer(page: PageRequest, name: str, books: list[InBook]) -> Any:
    """On to the one thing of that name; else a choice, or that there is none, with a search."""
    from datasette.utils.asgi import Response

    found = [(book, one) for book in books for one in book.found]
    pages = {(book.links.database, one.table, one.row_id) for book, one in found}
    if len(pages) == 1:
        database, table, row_id = pages.pop()
        return Response.redirect(record_address(page.datasette, database, table, row_id))
    shown = printable(name)
    answer = await page.render(
        PAGE,
        f"{shown}: which one?" if found else f"{shown}: not known",
        name=shown,
        choice=[_line(book, one, several=len(books) > 1) for book, one in found],
        searches=[(book.links, book.links.database if len(books) > 1 else "") for book in books],
    )
    if not found:
        answer.status = 404
    return answer


def _line(book: InBook, one: NamedHere, *, several: bool) -> Markup:
    """What it is and its name, which leads to its page; of several books also in which one."""
    where = f" in {book.links.database}" if several else ""
    line = Markup("{}{}").format(book.links.record(one.table, one.row_id, f"{one.words} {one.name}"), where)
    return Markup(page_in_quarters(line)) if book.is_without_days else line


def _name(request: Any) -> str:
    return unquote(request.url_vars["name"])[:LONGEST_NAME].strip()


PAGE: Final = Page("q", q, r"/(?P<name>.+)", elsewhere=((AT_ROOT, q_of_all),))
