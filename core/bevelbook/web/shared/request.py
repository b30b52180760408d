"""The request behind a page: its database, permission check and rendering."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any, Final, NamedTuple, TypeVar

from bevelbook.declare.errors import BevelbookError, UnknownNameError
from bevelbook.display.unbroken import unbroken_page
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id
from bevelbook.web.host.commands_of_book import naming_book
from bevelbook.web.host.datasette_state import state_of, team_database
from bevelbook.web.host.page import EntryPage, Page
from bevelbook.web.host.private_datasette import ensure_may_view_database
from bevelbook.web.host.readonly import TeamDatabase
from bevelbook.web.host.turns import let_others
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.links import Linker

T = TypeVar("T")

LONG_PAGE: Final = 100_000
"""Letters of a page from which others are answered while it is gone through."""


class PageRequest(NamedTuple):
    """One request for one of the pages."""

    datasette: Any
    request: Any
    team: TeamDatabase
    links: Linker

    @property
    def registry(self) -> Registry:
        return state_of(self.datasette).registry

    def given(self, name: str) -> str:
        """One value of the query, trimmed; empty where it is missing."""
        return str(self.request.args.get(name) or "").strip()

    async def ask(self, question: Callable[..., T], *given: object, patience: int = 3) -> T:
        """The answer of the database, under the time limit."""
        return await self.team.ask(question, *given, patience=patience)

    async def row_id(self, kind_name: str) -> str:
        """The id of the record named in the address, by id or by label. Raises NotFound with near misses."""
        from datasette.utils import tilde_decode
        from datasette.utils.asgi import NotFound

        named = tilde_decode(self.request.url_vars["row"])
        try:
            return await self.ask(find_id, BY_NAME[kind_name], named)
        except UnknownNameError as fault:
            raise NotFound(fault_words(fault)) from fault
        except BevelbookError as fault:
            raise NotFound(str(fault)) from fault

    async def render(self, page: Page | EntryPage, title: str, **context: Any) -> Any:
        """The answer with the page's template, which is given the context."""
        from datasette.utils.asgi import Response

        text = await self.datasette.render_template(
            page.template,
            {"database": self.team.name, "title": title, "links": self.links, **context},
            request=self.request,
            view_name=f"bevelbook_{page.name}",
        )
        await let_others()
        text = (
            await asyncio.to_thread(self._gone_through, page, text)
            if len(text) > LONG_PAGE
            else self._gone_through(page, text)
        )
        return Response.html(text, headers={"Cache-Control": "no-cache"})

    def _gone_through(self, page: Page | EntryPage, text: str) -> str:
        """A page that was drawn: each number with its unit, each command with the book, save in the manual."""
        whole = unbroken_page(text)
        return whole if page.name == "help" else naming_book(self.datasette, self.team.name, whole)


async def page_request(datasette: Any, request: Any, database: str | None = None) -> PageRequest:
    """The request, for the database in its address. Raises NotFound for another program's file, or Forbidden."""
    from datasette.utils import tilde_decode
    from datasette.utils.asgi import NotFound

    if database is None:
        route = tilde_decode(request.url_vars["database"])
        database = next((name for name, one in datasette.databases.items() if one.route == route), "")
    team = team_database(datasette, database)
    if team is None:
        raise NotFound("There is no such page.")
    await ensure_may_view_database(datasette, request.actor, database)
    return PageRequest(datasette, request, team, Linker(datasette, database))
