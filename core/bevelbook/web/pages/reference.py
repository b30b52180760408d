"""The reference tables: every row with its status and its source, so that unverified rows can be seen."""

from __future__ import annotations

from operator import itemgetter
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.sources import Source
from bevelbook.reference import RULES_FIRST, citations, rows
from bevelbook.web.host.page import NAME_OR_NONE, Page
from bevelbook.web.shared.page_table import PageColumn, page_table
from bevelbook.web.shared.request import PageRequest, page_request

LEAD: Final = (
    "The numbers behind the calculators. Every row says how it was seen: read, computed, or from memory and unverified."
)


async def reference(request: Any, datasette: Any) -> Any:
    """All reference tables by title, or the one named in the address with its sources below."""
    page = await page_request(datasette, request)
    name = request.url_vars["name"]
    return await (_one_table(page, name) if name else _all_tables(page))


async def _all_tables(page: PageRequest) -> Any:
    offered = sorted(page.registry.datasets().values(), key=lambda one: one.title)
    return await page.render(
        PAGE,
        "Reference tables",
        lead=LEAD,
        offered=[(page.links.page(f"reference/{one.name}"), one, len(rows(one.file, one.package))) for one in offered],
    )


async def _one_table(page: PageRequest, name: str) -> Any:
    from datasette.utils.asgi import NotFound

    one = page.registry.datasets().get(name)
    if one is None:
        raise NotFound("There is no such reference table.")
    found = rows(one.file, one.package)
    columns: list[PageColumn[dict[str, str]]] = (
        [PageColumn(name.replace("_", " "), itemgetter(name)) for name in found[0]] if found else []
    )
    sources = citations(one.package)
    cited = dict.fromkeys(row["source"] for row in found)
    return await page.render(
        PAGE,
        one.title,
        lead=f"{len(found)} rows. Each names its source; the sources are listed below with how each was seen.",
        under=RULES_FIRST if found and "caution" in found[0] else "",
        table=page_table("Rows", columns, found),
        sources=[ListedSource(key, _in_full(sources[key])) for key in cited],
    )


class ListedSource(NamedTuple):
    """A source under its key, with all its parts."""

    words: str
    value: Markup


def _in_full(source: Source) -> Markup:
    parts = ", ".join(part for part in (source.publisher, source.title, source.where, source.year) if part)
    seen = source.seen if source.seen.startswith(source.kind) else f"{source.kind}; {source.seen}"
    return Markup('{} <span class="quiet">({})</span>').format(parts, seen)


PAGE: Final = Page("reference", reference, NAME_OR_NONE)
