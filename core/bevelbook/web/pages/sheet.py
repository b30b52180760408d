"""The run sheets to print: six runs a sheet with the diffs of each car, or four runs with all fields."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError, UnknownNameError
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.records import BY_NAME
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.lookup import find_id
from bevelbook.web.host.arguments import any_text, one_of
from bevelbook.web.host.page import Page
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.request import page_request

ALL_FIELDS: Final = "all"
"""The value of ``fields`` in the address that asks for the sheet with all fields."""


class SheetPage(NamedTuple):
    """The sheet as HTML, how it prints, and the other cars whose sheet can be had alone, by id and name."""

    title: str
    fragment: str
    prints: str
    cars: list[tuple[str, str]]


def run_sheet_page_of(connection: sqlite3.Connection, car: str) -> SheetPage:
    """The sheet of six runs, for one car by its name or id, or for all. Raises UnknownNameError for no such car."""
    from bevelbook.card.html import run_sheet_page
    from bevelbook.card.run_sheet import run_sheet_of

    car_id = find_id(connection, BY_NAME["car"], car) if car else None
    made = run_sheet_of(connection, car_id, invented=is_invented(connection))
    every = connection.execute(f"SELECT id, name FROM cars WHERE {stands_alone_sql('car')} ORDER BY name, id")
    cars = [(row[0], row[1]) for row in every]
    prints = f"{counted(len(made.sheets), 'sheet')} of A4 or Letter, across"
    return SheetPage(made.title, run_sheet_page(made), prints, cars)


def all_fields_page_of(connection: sqlite3.Connection) -> SheetPage:
    """The sheet with all fields."""
    from bevelbook.card.all_fields_sheet import all_fields_sheet
    from bevelbook.card.html import all_fields_page

    made = all_fields_sheet(is_invented(connection))
    return SheetPage(made.title, all_fields_page(made), "two sheets of A4 or Letter", [])


async def sheet(request: Any, datasette: Any) -> Any:
    """A run sheet to print and to write on at the track."""
    from datasette.utils.asgi import NotFound

    from bevelbook.card.html import card_styles

    page = await page_request(datasette, request)
    car = page.given("car")
    all_fields = page.given("fields") == ALL_FIELDS
    try:
        found = await (page.ask(all_fields_page_of) if all_fields else page.ask(run_sheet_page_of, car))
    except UnknownNameError as fault:
        raise NotFound(fault_words(fault)) from fault
    except BevelbookError as fault:
        raise NotFound(str(fault)) from fault
    links = page.links
    others = [links.to("sheet", f"for {name}", car=row_id) for row_id, name in found.cars if car not in (row_id, name)]
    if all_fields or car:
        others.insert(0, links.to("sheet", "six runs a sheet"))
    if not all_fields:
        others.append(links.to("sheet", "all fields", fields=ALL_FIELDS))
    return await page.render(
        PAGE,
        found.title,
        prints=found.prints,
        other_sheets=others,
        styles=Markup(card_styles()),
        fragment=Markup(found.fragment),
    )


PAGE: Final = Page("sheet", sheet, takes=(any_text("car"), one_of("fields", ALL_FIELDS)))
