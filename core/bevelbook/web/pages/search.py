"""Search over all notes and names."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from markupsafe import Markup, escape

from bevelbook.reports import questions
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.request import page_request

EACH: Final = 15
LONGEST_QUERY: Final = 200


class Hit(NamedTuple):
    """A row that was found, with the words around what was searched for."""

    link: Markup | str
    excerpt: Markup


async def search(request: Any, datasette: Any) -> Any:
    """Search all notes and names."""
    page = await page_request(datasette, request)
    words = page.given("q")[:LONGEST_QUERY]
    found = await page.ask(questions.search, words, EACH) if words else []
    groups: dict[str, list[Hit]] = {}
    for one in found:
        link = page.links.record(one.kind.table, one.row_id, one.name)
        groups.setdefault(one.kind.title, []).append(Hit(link, _marked(one.excerpt)))
    known = [one.calculator for one in page.registry.calculators.values()]
    offered = [one for one in known if words and words.lower() in f"{one.title} {one.purpose} {one.question}".lower()]
    return await page.render(
        PAGE,
        f"Search: {words}" if words else "Search",
        words=words,
        groups=groups,
        each=EACH,
        calculators=[(page.links.page(f"calc/{one.name}"), one) for one in sorted(offered, key=lambda one: one.title)],
    )


def _marked(excerpt: str) -> Markup:
    told = str(escape(excerpt))
    return Markup(told.replace(questions.HIT_START, "<mark>").replace(questions.HIT_END, "</mark>"))


PAGE: Final = Page("search", search, navigation=NavigationEntry("Search", 50))
