"""The card of a build, to print on one sheet."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from markupsafe import Markup

from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.request import page_request


async def card(request: Any, datasette: Any) -> Any:
    """The card of a build, to print on one sheet."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("build")
    registry = page.registry

    def gather(connection: sqlite3.Connection) -> tuple[str, str]:
        from bevelbook.card.build_card import card_of
        from bevelbook.card.html import card_page

        made = card_of(connection, registry, row_id)
        return made.build, card_page(made)

    label, fragment = await page.ask(gather)
    from bevelbook.card.html import card_styles

    return await page.render(
        PAGE,
        f"{label}: card",
        build=page.links.record("builds", row_id, label),
        styles=Markup(card_styles()),
        fragment=Markup(fragment),
    )


PAGE: Final = Page("card", card, ROW)
