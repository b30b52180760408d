"""The reference tables: every row with its status and its source, so that what is unverified can be seen to be."""

from __future__ import annotations

from typing import Any, NamedTuple

from markupsafe import Markup

from bevelbook.declare.sources import Source
from bevelbook.reference import RULES_FIRST, citations, rows
from bevelbook.web.shared.page_table import table
from bevelbook.web.shared.request import asked


async def reference_tables(request: Any, datasette: Any) -> Any:
    """All reference tables by title."""
    page = await asked(datasette, request)
    offered = sorted(page.registry.datasets().values(), key=lambda one: one.title)
    return await page.page(
        "reference",
        "Reference tables",
        offered=[(page.links.page(f"reference/{one.name}"), one, len(rows(one.file, one.package))) for one in offered],
    )


async def reference_table(request: Any, datasette: Any) -> Any:
    """One reference table, with its sources below."""
    from datasette.utils.asgi import NotFound

    page = await asked(datasette, request)
    one = page.registry.datasets().get(request.url_vars["name"])
    if one is None:
        raise NotFound("There is no such reference table.")
    found = rows(one.file, one.package)
    headings = "|".join(column.replace("_", " ") for column in found[0]) if found else ""
    sources = citations(one.package)
    cited = dict.fromkeys(row["source"] for row in found)
    return await page.page(
        "reference_table",
        one.title,
        lead=f"{len(found)} rows. Each names its source; the sources are listed below with how each was seen.",
        under=RULES_FIRST if found and "caution" in found[0] else "",
        table=table("Rows", headings, (tuple(row.values()) for row in found)),
        sources=[ListedSource(key, _in_full(sources[key])) for key in cited],
    )


class ListedSource(NamedTuple):
    """A source under its key, with every part of it."""

    words: str
    value: Markup


def _in_full(source: Source) -> Markup:
    told = ", ".join(part for part in (source.publisher, source.title, source.where, source.year) if part)
    seen = source.seen if source.seen.startswith(source.kind) else f"{source.kind}; {source.seen}"
    return Markup('{} <span class="quiet">({})</span>').format(told, seen)
