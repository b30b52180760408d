"""The photographs of a diff, a build or one record of it, or of a bottle; those of one piece beside each other."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError, UnknownNameError
from bevelbook.records import BY_NAME
from bevelbook.reports.photographs import (
    Photograph,
    photographs_of_bottle,
    photographs_of_build,
    photographs_of_diff,
    photographs_of_record,
)
from bevelbook.store.lookup import find_id
from bevelbook.store.record_names import title_of
from bevelbook.web.host.arguments import any_texts
from bevelbook.web.host.page import Page
from bevelbook.web.host.photographs_shown import (
    ShownPhotograph,
    capital,
    comparison_address,
    in_several_builds,
    same_pieces,
    shown_photograph,
)
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.photograph_forms import photograph_form
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.writing_here import ways_to_write

MOST: Final = 120
"""Photographs on one page; the table has all."""

Photographs = Callable[[sqlite3.Connection, str], list[Photograph]]


def _of_record(kind_name: str) -> Photographs:
    return lambda connection, row_id: photographs_of_record(connection, kind_name, row_id)


_OF: Final[Mapping[str, Photographs]] = {
    "diff": photographs_of_diff,
    "build": photographs_of_build,
    "bottle": photographs_of_bottle,
    "opening": _of_record("opening"),
    "build_part": _of_record("build_part"),
    "seal_fitting": _of_record("seal_fitting"),
}
"""The records of which the page shows all photographs, by the name in its address."""


class PhotosPage(NamedTuple):
    """What the page asks of the database: the record that was named, in words, and all its photographs, the newest
    first; ``takes`` is what a further one hangs on, by kind and id."""

    kind: str
    row_id: str
    name: str
    photos: list[Photograph]
    takes: dict[str, str]


def photos_page_of(connection: sqlite3.Connection, kind_name: str, named: str) -> PhotosPage:
    """The photographs of a record, by its id or name. Raises UnknownNameError."""
    kind = BY_NAME[kind_name]
    row_id = find_id(connection, kind, named)
    takes = {kind_name: row_id}
    if kind_name == "diff":
        last = connection.execute("SELECT current_build FROM diff_facts WHERE diff = ?", (row_id,)).fetchone()
        takes = {"build": last[0]} if last and last[0] else {}
    name = title_of(connection, kind, row_id) or ""
    return PhotosPage(kind_name, row_id, name, _OF[kind_name](connection, row_id), takes)


async def photos(request: Any, datasette: Any) -> Any:
    """All photographs of one record, or those of one piece beside each other."""
    from datasette.utils.asgi import NotFound

    page = await page_request(datasette, request)
    kind = next((name for name in _OF if page.given(name)), None)
    if kind is None:
        return await page.render(PAGE, "Photographs", of=None)
    try:
        found = await page.ask(photos_page_of, kind, page.given(kind))
    except UnknownNameError as fault:
        raise NotFound(fault_words(fault)) from fault
    except BevelbookError as fault:
        raise NotFound(str(fault)) from fault
    piece, side = page.given("piece"), page.given("side")
    if piece:
        return await _of_one_piece(page, found, piece, side)
    return await page.render(
        PAGE,
        f"Photographs of {found.name}",
        of=_record_link(page.links, found),
        shown=_shown(page.links, found.photos[:MOST]),
        more=_more(page.links, len(found.photos)),
        compared=[(comparison_address(page.links.page, one), one.words) for one in in_several_builds(found.photos)],
        write=ways_to_write(page, *(photograph_form("another photograph", **found.takes) if found.takes else ())),
    )


async def _of_one_piece(page: PageRequest, found: PhotosPage, piece: str, side: str) -> Any:
    """One piece beside itself, the newest first."""
    of_it = [one for one in found.photos if one.piece == piece and (not side or one.side == side)]
    others = [one for one in same_pieces(found.photos) if one.piece != piece or (side and one.side != side)]
    words = same_pieces(of_it)[0].what if of_it and side else capital(piece)
    return await page.render(
        PAGE,
        f"{words}, of {found.name}",
        of=_record_link(page.links, found),
        beside=_shown(page.links, of_it[:MOST]),
        more=_more(page.links, len(of_it)),
        compared=[(comparison_address(page.links.page, one), one.words) for one in others if one.photographs[0].diff],
        all_of_it=page.links.page(PAGE.name, **{found.kind: found.row_id}),
    )


def _shown(links: Linker, found: Sequence[Photograph]) -> list[ShownPhotograph]:
    return [shown_photograph(links.page, one) for one in found]


def _more(links: Linker, count: int) -> Any:
    if count <= MOST:
        return ""
    return links.rows("photos", f"The newest {MOST} of {counted(count, 'photograph')} are shown; the table has all.")


def _record_link(links: Linker, found: PhotosPage) -> Any:
    return links.record(BY_NAME[found.kind].table, found.row_id, found.name)


PAGE: Final = Page("photos", photos, in_copy=True, takes=any_texts((*_OF, "piece", "side")))
