"""The page of all scales: how each weighs, when it was checked, and what it sees."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.facts.scales import ScaleKnown, known_scales
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.request import page_request


class ScalesPage(NamedTuple):
    """What the page asks of the database."""

    scales: list[ScaleKnown]


class ScaleLine(NamedTuple):
    """A scale with its link, what is known of it, and whether it was ever checked."""

    name: str
    known: list[tuple[str, str]]
    is_checked: bool


def scales_page_of(connection: sqlite3.Connection) -> ScalesPage:
    """All scales, by name."""
    return ScalesPage(list(known_scales(connection)))


async def scales(request: Any, datasette: Any) -> Any:
    """All scales: how each weighs, when it was checked, and what it sees."""
    page = await page_request(datasette, request)
    found = await page.ask(scales_page_of)
    lines = [
        ScaleLine(page.links.record("scales", one.row_id, one.name), one.words, one.is_checked) for one in found.scales
    ]
    return await page.render(PAGE, "Scales", scales=lines)


PAGE: Final = Page("scales", scales, navigation=NavigationEntry("Scales", 45), in_copy=True)
