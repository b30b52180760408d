"""Search over all notes and names."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup, escape

from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.reports.search import HIT_END, HIT_START, Found, search_records
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.request import page_request

EACH: Final = 15
LONGEST_QUERY: Final = 200


class Hit(NamedTuple):
    """A row that was found, with the words around what was searched for."""

    link: Markup | str
    excerpt: Markup


class SearchPage(NamedTuple):
    """The rows with all of the words, and the calculators that speak of them, by title."""

    hits: list[Found]
    calculators: list[Calculator[Any, Any]]


def search_page_of(connection: sqlite3.Connection, registry: Registry, words: str) -> SearchPage:
    """What is found for some words; nothing for none."""
    if not words:
        return SearchPage([], [])
    known = sorted((one.calculator for one in registry.calculators.values()), key=lambda one: one.title)
    sought = words.lower()
    speaking = [one for one in known if sought in f"{one.title} {one.purpose} {one.question}".lower()]
    return SearchPage(search_records(connection, words, EACH), speaking)


async def search(request: Any, datasette: Any) -> Any:
    """Search all notes and names."""
    page = await page_request(datasette, request)
    words = page.given("q")[:LONGEST_QUERY]
    found = await page.ask(search_page_of, page.registry, words)
    groups: dict[str, list[Hit]] = {}
    for one in found.hits:
        link = page.links.record(one.kind.table, one.row_id, one.name)
        groups.setdefault(one.kind.title, []).append(Hit(link, _marked(one.excerpt)))
    return await page.render(
        PAGE,
        f"Search: {words}" if words else "Search",
        words=words,
        groups=groups,
        each=EACH,
        calculators=[(page.links.page(f"calc/{one.name}"), one) for one in found.calculators],
    )


def _marked(excerpt: str) -> Markup:
    text = str(escape(excerpt))
    return Markup(text.replace(HIT_START, "<mark>").replace(HIT_END, "</mark>"))


PAGE: Final = Page("search", search, navigation=NavigationEntry("Search", 50))
