"""The reference tables: every row with its status and its source, so that what is unverified can be seen to be."""

from __future__ import annotations

from typing import Any

from bevelbook.browser.asking import asked
from bevelbook.browser.parts import table
from bevelbook.reference import citations, rows
from bevelbook.sources import Source


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
        "thing",
        one.title,
        lead=f"{len(found)} rows. Each names its source; the sources are listed below with how each was seen.",
        onward=(),
        facts=(),
        tables=(
            table("Rows", headings, (tuple(row.values()) for row in found)),
            table(
                "Sources",
                "Source|Kind|Publisher|Title|Where|Year|How it was seen",
                ((key, *_parts(sources[key])) for key in cited),
            ),
        ),
    )


def _parts(source: Source) -> tuple[str, ...]:
    return source.kind, source.publisher, source.title, source.where, source.year, source.seen
