"""The manual: the list of topics and a page for each, from the same contents as on the command line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from bevelbook.declare.errors import UnknownNameError
from bevelbook.manual.topics import page_of
from bevelbook.web.host.addresses import page_address
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import TOPIC_OR_NONE, NavigationEntry, Page
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.request import PageRequest, page_request

WITHOUT_DATABASE: Final = rf"^/-/help{TOPIC_OR_NONE}$"


async def manual(request: Any, datasette: Any) -> Any:
    """A page of the manual; raises NotFound with near misses for an unknown topic."""
    from datasette.utils import tilde_decode
    from datasette.utils.asgi import NotFound

    page = await page_request(datasette, request)
    topic = tilde_decode(request.url_vars["topic"] or "")
    try:
        found = page_of(topic, page.registry)
    except UnknownNameError as unknown:
        raise NotFound(fault_words(unknown)) from unknown
    return await page.render(
        PAGE,
        found.title,
        manual=found,
        up=list(_pages_above(page, found.topic)),
        onward=_onward(page, found.topic),
        address_of=lambda one: page.links.page(f"help/{one}"),
    )


def _pages_above(page: PageRequest, topic: str) -> Iterator[tuple[str, str]]:
    """Address and words of the pages that lead to a topic."""
    if topic:
        yield page.links.page("help"), "Manual"
    head, _, name = topic.partition("/")
    if name:
        yield page.links.page(f"help/{head}"), head.capitalize()


def _onward(page: PageRequest, topic: str) -> tuple[str, str] | None:
    """Address and words of the page where what a topic describes is used."""
    head, _, name = topic.partition("/")
    if head == "calculators" and name:
        return page.links.page(f"calc/{name}"), "Work it out"
    if head == "tables" and name:
        return str(page.datasette.urls.table(page.team.name, name)), "Show its rows"
    return None


async def redirected(request: Any, datasette: Any) -> Any:
    """The manual without a database in its address: that of the first bevelbook database."""
    from datasette.utils.asgi import Response

    topic = request.url_vars["topic"]
    database = state_of(datasette).names(datasette)[0]
    return Response.redirect(page_address(datasette, database, f"help/{topic}" if topic else "help"))


PAGE: Final = Page(
    "help", manual, TOPIC_OR_NONE, navigation=NavigationEntry("Manual", 60), elsewhere=((WITHOUT_DATABASE, redirected),)
)
