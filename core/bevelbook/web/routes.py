"""The addresses that we answer before Datasette's own are tried: those of the pages in ``pages/``, and others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any, Final

from bevelbook.web import pages
from bevelbook.web.entry import pages as entry_pages
from bevelbook.web.entry.pages import weekend
from bevelbook.web.host.addresses import place_of_rows
from bevelbook.web.host.arguments import Takes, given_in, refuse_odd
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.odd_requests import READING_METHODS
from bevelbook.web.host.open_api import open_api
from bevelbook.web.host.other_addresses import databases, robots, threads
from bevelbook.web.host.page import ENTER, OF_DATABASE, Answer, EntryPage, Page
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE

Route = tuple[str, Any]
NOT_OF_DATASETTE: Final = r"(?!query([./]|$))" if HAS_SQL_PAGE else ""
"""Datasette's own page below ``/DATABASE/-/``, where it has one."""
_INSTANCE: Final[tuple[tuple[str, Answer], ...]] = (
    (r"^/-/databases(\.(?P<format>json))?$", databases),
    (r"^/-/openapi\.json$", open_api),
    (r"^/-/threads(\.(?P<format>json))?$", threads),
    (rf"^/-/{ENTER}/{weekend.PAGE.name}$", weekend.PAGE.answer),
)
_OF_NOBODY_HERE: Final = r"^/-/(allow-debug|allowed|api|check|create-token|messages|patterns|rules)(\.json)?$"
"""Datasette's pages for who writes programs for it: where every database is ours, nobody needs them."""


@cache
def declared_pages() -> tuple[Page, ...]:
    """The page that each module of ``pages/`` declares as ``PAGE``, by name."""
    names = sorted(module.name for module in iter_modules(pages.__path__))
    return tuple(import_module(f"{pages.__name__}.{name}").PAGE for name in names)


@cache
def declared_entry_pages() -> tuple[EntryPage, ...]:
    """The page that each module of ``entry/pages/`` declares as ``PAGE``, by name."""
    names = sorted(module.name for module in iter_modules(entry_pages.__path__))
    return tuple(import_module(f"{entry_pages.__name__}.{name}").PAGE for name in names)


@cache
def file_limits() -> dict[str, int]:
    """How many bytes of files a form may send, by the name of the page that takes them."""
    return {page.name: page.most_file_bytes for page in declared_entry_pages() if page.most_file_bytes}


async def nowhere() -> None:
    """An address below the pages that neither we nor another plugin has."""
    from datasette.utils.asgi import NotFound

    raise NotFound("There is no such page.")


def our_routes() -> Iterator[Route]:
    """Pattern and function of every address that bevelbook answers where it has a database."""
    for page in declared_pages():
        for pattern, answer in (page.route, *page.elsewhere):
            yield pattern, _as_it_takes(page.takes, answer)


def entry_routes() -> Iterator[Route]:
    """Pattern and function of every address that writes; where phones may not write, there is no such page."""
    for page in declared_entry_pages():
        pattern, answer = page.route
        yield pattern, _if_entries_are_taken(_as_it_takes(page.takes, answer))


def _as_it_takes(takes: Takes, answer: Answer) -> Answer:
    """The answer where the address has only arguments that the page takes. A form that is sent is not refused for the
    address it was drawn at; what Datasette shows is looked at before, in ``arguments_of_rows.py``."""

    async def asked(request: Any, datasette: Any) -> Any:
        query = request.query_string
        if query and request.method in READING_METHODS and place_of_rows(datasette, request.path) is None:
            taken = takes(datasette, request.url_vars) if callable(takes) else takes
            refuse_odd(given_in(query), taken)
        return await answer(request, datasette)

    return asked


def _if_entries_are_taken(answer: Answer) -> Answer:
    async def asked(request: Any, datasette: Any) -> Any:
        if not state_of(datasette).takes_entries:
            await nowhere()
        return await answer(request, datasette)

    return asked


def _beside_databases(datasette: Any, routes: Iterable[Route]) -> Iterator[Route]:
    """Without an address of ours, such as ``/q/NAME``, below which a database of that name has its own."""
    taken = tuple(f"^/{one.route}/" for one in datasette.databases.values())
    return (route for route in routes if not route[0].startswith(taken))


def routes_around(datasette: Any, others: Iterable[Iterable[Route]]) -> list[Iterable[Route]]:
    """The routes of all plugins: ours first, and last that there is no such page, before Datasette looks for a table.

    Where Datasette has no bevelbook database, those of our pages are left out.
    """
    if not state_of(datasette).names(datasette):
        return [_INSTANCE, *others]
    is_alone = state_of(datasette).is_alone(datasette)
    return [
        _INSTANCE,
        ((_OF_NOBODY_HERE, nowhere),) if is_alone else (),
        tuple(entry_routes()),
        tuple(_beside_databases(datasette, our_routes())),
        *others,
        ((rf"{OF_DATABASE}{NOT_OF_DATASETTE}", nowhere),),
        ((r"^/robots\.txt$", robots),) if is_alone else (),
    ]
