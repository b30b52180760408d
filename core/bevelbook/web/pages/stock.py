"""The page of the stock: parts with what is left, those that are short first, and bottles with what is in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from bevelbook.facts.bottles_left import BottleLeft
from bevelbook.facts.stock import StockLeft
from bevelbook.reports.stock import is_stock_kept, stock_of_team
from bevelbook.web.host.page import Page
from bevelbook.web.shared.blocks import ListedBlock, block
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.writing_here import ways_to_write


async def stock(request: Any, datasette: Any) -> Any:
    """What the team has, as far as it was counted."""
    page = await page_request(datasette, request)
    found = await page.ask(stock_of_team)
    links = page.links
    return await page.render(
        PAGE,
        "Stock",
        is_kept=await page.ask(is_stock_kept),
        write=ways_to_write(page, ("count, take in, weigh a bottle", "stock", {})),
        parts=list(_part_blocks(links, found.parts)),
        not_counted=[links.record("stock_parts", one.stock_part, one.label) for one in found.not_counted],
        bottles=list(_bottle_blocks(links, [one for one in found.bottles if one.is_known])),
        not_weighed=[links.record("bottles", one.bottle, one.label) for one in found.bottles if not one.is_known],
    )


def _part_blocks(links: Linker, parts: Sequence[StockLeft]) -> Iterator[ListedBlock]:
    for one in parts:
        least = f"you want at least {one.least}" if one.is_short and one.least is not None else ""
        yield block(
            links.record("stock_parts", one.stock_part, one.label), one.left_words, least, *one.unclear, quiet=one.how
        )


def _bottle_blocks(links: Linker, bottles: Sequence[BottleLeft]) -> Iterator[ListedBlock]:
    for one in bottles:
        yield block(links.record("bottles", one.bottle, one.label), one.short, quiet=one.how)


PAGE: Final = Page("stock", stock)
