"""The label of the bag of one build, to print."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.errors import InputError
from bevelbook.labels.bag import bag_labels
from bevelbook.labels.code import needs_library
from bevelbook.labels.html import printed_styles
from bevelbook.labels.pages import LabelPages, free_places, label_pages
from bevelbook.labels.sheet_words import ALL, AT_FULL_SIZE
from bevelbook.labels.sheets import SHEETS, sheet_of
from bevelbook.labels.svg import sheet_svg
from bevelbook.store.invented_mark import is_invented
from bevelbook.web.host.arguments import any_text, whole
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.pairing.host_names import LOCAL, address_for_labels
from bevelbook.web.shared.request import PageRequest, page_request

_PLACE_WORDS: Final = "Labels that are gone from the sheet already"


class SheetOffered(NamedTuple):
    """A sheet to choose: what its form sends, and its words."""

    value: str
    words: str
    is_chosen: bool


def label_page_of(
    connection: sqlite3.Connection, row_id: str, size: str, paper: str, skip: int, address: str
) -> LabelPages:
    """The label of a build on its sheet. Raises InputError for a sheet that is unknown, or has fewer places."""
    sheet = sheet_of(size or None, paper or None)
    if skip >= free_places(sheet):
        raise InputError(
            f"a sheet has {free_places(sheet)} labels, so that many cannot be gone",
            code="too_many_skipped",
            found=str(skip),
            remedy="Choose fewer, or take a new sheet.",
        )
    labels = list(bag_labels(connection, [row_id]))
    return label_pages(labels, sheet, address, skip=skip, is_invented=is_invented(connection))


async def label(request: Any, datasette: Any) -> Any:
    """The label of the bag of one build, to print."""
    page = await page_request(datasette, request)
    row_id = await page.row_id("build")
    missing = needs_library()
    if missing is not None:
        raise missing
    size, _, paper = page.given("sheet").partition(" on ")
    skip = _skipped(page.given("gone"))
    made = await page.ask(label_page_of, row_id, size, paper, skip, _address(page))
    name = next((one.label.name for one in made.labels), made.left_out[0].name if made.left_out else "")
    return await page.render(
        PAGE,
        f"{name}: label",
        build=page.links.record("builds", row_id, name),
        here=page.links.page(f"label/{row_id}"),
        sheets=[SheetOffered(f"{one.size} on {one.paper.name}", one.words, one == made.sheet) for one in SHEETS],
        gone=skip,
        gone_words=_PLACE_WORDS,
        said=[f"{AT_FULL_SIZE}, on {made.sheet.paper.shown}.", *made.said(), *ALL],
        styles=Markup(printed_styles(made.sheet)),
        drawn=[Markup(sheet_svg(one)) for one in made.pages],
    )


def _skipped(text: str) -> int:
    if not text:
        return 0
    if not text.isascii() or not text.isdecimal() or len(text) > 3:
        raise InputError(
            "this is not a number of labels", code="too_many_skipped", found=text, remedy="Choose 0 for a new sheet."
        )
    return int(text)


def _address(page: PageRequest) -> str:
    """Where this book is found by name: as this page was asked for, if by a name of the network."""
    host = str(page.request.host)
    name = host.partition(":")[0].lower()
    return f"http://{host.lower()}" if name.endswith(LOCAL) else address_for_labels(page.team.name)


PAGE: Final = Page("label", label, ROW, takes=(any_text("sheet"), whole("gone", 0, 999)))
