"""One chart with its table."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.page import NAME, Page
from bevelbook.web.shared.drawing import all_charts, asked_rows, drawn_meanwhile, look_at_charts
from bevelbook.web.shared.request import page_request


async def chart(request: Any, datasette: Any) -> Any:
    """One chart with its table."""
    from datasette.utils.asgi import NotFound

    page = await page_request(datasette, request)
    await look_at_charts(page.registry)
    one = next((one for one in all_charts(page.registry) if one.name == request.url_vars["name"]), None)
    if one is None:
        why = page.registry.why_left_out(request.url_vars["name"])
        raise NotFound(f"This chart was left out: {why}." if why else "There is no such chart.")
    rows = await page.ask(asked_rows, one, page.registry)
    onward = page.links.page(f"calc/{one.of_calculator}") if one.of_calculator else None
    return await page.render(PAGE, one.title, chart=await drawn_meanwhile(one, page.registry, rows), onward=onward)


PAGE: Final = Page("chart", chart, NAME, in_copy=True)
