"""Search over all notes, what is worth a look, and the charts."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup, escape

from bevelbook.reports import questions
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.drawing import all_charts, asked_rows, drawn
from bevelbook.web.shared.request import asked

EACH: Final = 15
LONGEST_QUERY: Final = 200
CHECK_PATIENCE: Final = 15
"""How many times the limit for one query all checks together may take."""
_SIGN_OF: Final = {"stop": "stop", "caution": "caution"}


class Hit(NamedTuple):
    """A row that was found, with the words around what was searched for."""

    link: Markup | str
    excerpt: Markup


async def search(request: Any, datasette: Any) -> Any:
    """Search all notes and names."""
    page = await asked(datasette, request)
    words = page.given("q")[:LONGEST_QUERY]
    found = await page.ask(questions.search, words, EACH) if words else []
    groups: dict[str, list[Hit]] = {}
    for one in found:
        link = page.links.record(one.kind.table, one.row_id, one.name)
        groups.setdefault(one.kind.title, []).append(Hit(link, _marked(one.excerpt)))
    known = [one.calculator for one in page.registry.calculators.values()]
    offered = [one for one in known if words and words.lower() in f"{one.title} {one.purpose} {one.question}".lower()]
    return await page.page(
        "search",
        f"Search: {words}" if words else "Search",
        words=words,
        groups=groups,
        each=EACH,
        calculators=[(page.links.page(f"calc/{one.name}"), one) for one in sorted(offered, key=lambda one: one.title)],
    )


def _marked(excerpt: str) -> Markup:
    told = str(escape(excerpt))
    return Markup(told.replace(questions.HIT_START, "<mark>").replace(questions.HIT_END, "</mark>"))


async def look(request: Any, datasette: Any) -> Any:
    """Everything that the checks of all plugins find worth a look."""
    from bevelbook.reports.check import check
    from bevelbook.web.shared.links import Linker

    page = await asked(datasette, request)
    registry = page.registry

    def gather(connection: sqlite3.Connection) -> Any:
        return check(connection, registry)

    found = await page.ask(gather, patience=CHECK_PATIENCE)
    links: Linker = page.links

    def told(one: Any) -> tuple[Markup, Any, str, str]:
        sign = with_sign(_SIGN_OF.get(one.severity, one.severity))
        return sign, links.record(one.subject_table, one.subject_id, one.subject_label), one.words, one.remedy

    return await page.page(
        "look",
        "Worth a look",
        summary=found.summary(),
        diffs=[
            (
                links.record("diffs", group.diff, group.label),
                group.standing.since.words if group.standing else "not built",
                list(group.standing.lines()) if group.standing else [],
                [told(one) for one in group.findings],
            )
            for group in found.diffs
        ],
        team=[told(one) for one in found.team],
        bottles=list(found.bottles.lines()),
        left_out=[f"{one.origin.in_words} left out: {one.reason}" for one in found.left_out],
        ideas=[
            (venue, [links.record("ideas", one.id, one.text) for one in ideas]) for venue, ideas in found.ideas.items()
        ],
    )


async def charts(request: Any, datasette: Any) -> Any:
    """All charts by title."""
    page = await asked(datasette, request)
    return await page.page(
        "charts",
        "Charts",
        offered=[(page.links.page(f"chart/{one.name}"), one) for one in all_charts(page.registry)],
    )


async def chart(request: Any, datasette: Any) -> Any:
    """One chart with its table."""
    from datasette.utils.asgi import NotFound

    page = await asked(datasette, request)
    one = next((one for one in all_charts(page.registry) if one.name == request.url_vars["name"]), None)
    if one is None:
        raise NotFound("There is no such chart.")
    rows = await page.ask(asked_rows, one, page.registry)
    onward = page.links.page(f"calc/{one.of_calculator}") if one.of_calculator else None
    return await page.page("chart", one.title, chart=drawn(one, page.registry, rows), onward=onward)


async def dashboards(request: Any, datasette: Any) -> Any:
    """The address of another plugin's pages, which would run what a note says: our charts stand there instead."""
    from datasette.utils.asgi import Response

    from bevelbook.web.host.addresses import page_address
    from bevelbook.web.host.served import served

    return Response.redirect(page_address(datasette, served(datasette).names(datasette)[0], "charts"))
