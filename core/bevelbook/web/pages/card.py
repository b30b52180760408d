"""The card of a build, to work from and to print."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.card.procedure import Procedure
from bevelbook.declare.counting import counted
from bevelbook.plugin.registry import Registry
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.waits_here import waits_here
from bevelbook.web.shared.writing_here import writing_here


class CardPage(NamedTuple):
    """The label of the build, its card as HTML with its style sheet, and how many sheets of paper it takes."""

    build: str
    fragment: str
    styles: str
    sheets: int


def card_page_of(
    connection: sqlite3.Connection, registry: Registry, row_id: str, procedure: Procedure | None = None
) -> CardPage:
    """The card of a build, by its id; with a team's own ``procedure`` its steps."""
    from bevelbook.card.build_card import card_of
    from bevelbook.card.fit import paper_of
    from bevelbook.card.html import card_page, card_styles

    made = card_of(connection, registry, row_id, procedure)
    return CardPage(made.build, card_page(made), card_styles(), paper_of(made).sheets)


async def card(request: Any, datasette: Any) -> Any:
    """The card of a build, to work from and to print."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("build")
    found = await page.ask(card_page_of, page.registry, row_id, state_of(page.datasette).procedure)
    writing = await writing_here(page)
    is_paired = writing is not None and not writing.pair
    return await page.render(
        PAGE,
        f"{found.build}: card",
        build=page.links.record("builds", row_id, found.build),
        styles=Markup(found.styles),
        fragment=Markup(found.fragment),
        prints=f"{counted(found.sheets, 'sheet')} of A4 or Letter",
        writing=writing if is_paired else None,
        waits=await waits_here(page, row_id) if is_paired else [],
        run_sheet=page.links.to("sheet", "a run sheet, six runs a sheet"),
    )


PAGE: Final = Page("card", card, ROW)
