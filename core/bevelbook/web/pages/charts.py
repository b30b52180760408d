"""All charts by title."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.drawing import all_charts, look_at_charts
from bevelbook.web.shared.request import page_request


async def charts(request: Any, datasette: Any) -> Any:
    """All charts by title."""
    page = await page_request(datasette, request)
    await look_at_charts(page.registry)
    return await page.render(
        PAGE,
        "Charts",
        offered=[(page.links.page(f"chart/{one.name}"), one) for one in all_charts(page.registry)],
        left_out=[
            f"{one.origin.in_words} left out: {one.reason}"
            for one in page.registry.failures
            if one.reason.startswith("bevelbook_charts")
        ],
    )


PAGE: Final = Page("charts", charts, navigation=NavigationEntry("Charts", 40), in_copy=True)
