"""The addresses that we answer before Datasette's own are tried: those of the pages in ``pages/``, and others."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any, Final

from bevelbook.web import pages
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.other_addresses import databases, threads
from bevelbook.web.host.page import OF_DATABASE, Answer, Page

_INSTANCE: Final[tuple[tuple[str, Answer], ...]] = (
    (r"^/-/databases(\.(?P<format>json))?$", databases),
    (r"^/-/threads(\.(?P<format>json))?$", threads),
)


@cache
def declared_pages() -> tuple[Page, ...]:
    """The page that each module of ``pages/`` declares as ``PAGE``, by name."""
    names = sorted(module.name for module in iter_modules(pages.__path__))
    return tuple(import_module(f"{pages.__name__}.{name}").PAGE for name in names)


async def nowhere() -> None:
    """An address below the pages that none of them has."""
    from datasette.utils.asgi import NotFound

    raise NotFound("There is no such page.")


def our_routes() -> Iterator[tuple[str, Any]]:
    """Pattern and function of every address that bevelbook answers where it has a database."""
    for page in declared_pages():
        yield page.route
        yield from page.elsewhere
    yield OF_DATABASE, nowhere


def routes_for(datasette: Any) -> list[tuple[str, Any]]:
    """The routes of a Datasette: those of the pages only where it has a bevelbook database."""
    return [*_INSTANCE, *(our_routes() if state_of(datasette).names(datasette) else ())]
