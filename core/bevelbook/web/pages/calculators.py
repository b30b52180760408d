"""All calculators with their questions, and what did not load."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.request import page_request


async def calculators(request: Any, datasette: Any) -> Any:
    """All calculators with their questions, and what did not load."""
    page = await page_request(datasette, request)
    offered = sorted(page.registry.calculators.values(), key=lambda one: one.calculator.title)
    return await page.render(
        PAGE,
        "Calculators",
        reference=page.links.page("reference"),
        offered=[(page.links.page(f"calc/{one.calculator.name}"), one.calculator) for one in offered],
        failures=[f"{one.origin.plugin}: left out" for one in page.registry.failures],
    )


PAGE: Final = Page("calculators", calculators, navigation=NavigationEntry("Calculators", 30))
