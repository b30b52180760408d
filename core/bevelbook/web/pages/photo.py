"""The page of a photograph, as wide as the screen, with what it shows; below its address the pictures themselves."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.days import day_in_words
from bevelbook.records import BY_NAME
from bevelbook.reports.photographs import Photograph, photograph, same_piece
from bevelbook.store.pictures import picture_bytes, thumbnail_bytes
from bevelbook.store.sqlite_errors import unread_record
from bevelbook.web.host.kept_answers import keep_for_ever
from bevelbook.web.host.page import ROW, Page
from bevelbook.web.host.photographs_shown import (
    PHOTOGRAPHS,
    SMALL,
    ShownPhotograph,
    capital,
    comparison_address,
    is_shown,
    same_pieces,
    shown_photograph,
    where_of,
)
from bevelbook.web.host.readonly import pictures_readable
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.photograph_forms import photograph_form
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.writing_here import FormOffered, ways_to_write

_PICTURE: Final = late_pattern(rf"([0-9a-f]{{64}})({re.escape(SMALL)})?\.jpg")
_ENDING: Final = ".jpg"


class PhotoPage(NamedTuple):
    """What the page asks of the database: the photograph, and all of the same piece, the newest first."""

    photo: Photograph
    same: list[Photograph]

    @property
    def place(self) -> int:
        """Its place among those of the same piece."""
        return next(place for place, one in enumerate(self.same) if one.id == self.photo.id)

    @property
    def later(self) -> Photograph | None:
        """The next one of the same piece."""
        return self.same[self.place - 1] if self.place else None

    @property
    def earlier(self) -> Photograph | None:
        """The one before it."""
        return self.same[self.place + 1] if self.place + 1 < len(self.same) else None


def photo_page_of(connection: sqlite3.Connection, row_id: str) -> PhotoPage:
    """All that is known of a photograph, by its id. Raises DatabaseError where its record cannot be read."""
    photo = photograph(connection, row_id)
    if photo is None:
        raise unread_record("photo")
    same = same_piece(connection, photo)
    return PhotoPage(photo, same if any(one.id == row_id for one in same) else [photo])


async def photo(request: Any, datasette: Any) -> Any:
    """One photograph, as wide as the screen; a name that ends like a picture is that of one."""
    page = await page_request(datasette, request)
    name = str(request.url_vars["row"])
    if name.endswith(_ENDING):
        return await _picture(page, name)
    found = await page.ask(photo_page_of, await page.row_id("photo"))
    links, one = page.links, found.photo
    return await page.render(
        PAGE,
        f"{capital(one.words)}, {where_of(one)}",
        photo=shown_photograph(links.page, one),
        facts=joined(_hung_on(links, one), day_in_words(one.taken_on), f"by {one.taken_by}" if one.taken_by else ""),
        note=one.note,
        write=ways_to_write(page, *_forms_for(one)),
        earlier=_beside(links, found.earlier),
        later=_beside(links, found.later),
        compare=comparison_address(links.page, same_pieces(found.same)[0]) if one.diff and len(found.same) > 1 else "",
        same_count=len(found.same),
        back=_back(links, one),
    )


def _beside(links: Linker, other: Photograph | None) -> ShownPhotograph | None:
    return shown_photograph(links.page, other) if other else None


def _hung_on(links: Linker, one: Photograph) -> Words:
    """What it is of, with links: the build and where in it, or the bottle."""
    if one.bottle is not None:
        return links.record("bottles", one.bottle, one.bottle_label)
    build = links.record("builds", one.build, one.build_label)
    if one.hung_on == "build":
        return build
    words = {"opening": "when opened", "build_part": "the part", "seal_fitting": "the seal"}[one.hung_on]
    return joined(build, links.record(BY_NAME[one.hung_on].table, one.hung_on_id, words))


def _forms_for(one: Photograph) -> Iterator[FormOffered]:
    yield "correct it", f"record/photo/{one.id}", {}
    of = {one.hung_on: one.hung_on_id}
    yield from photograph_form("another of the same piece", **of, piece=one.piece, side=one.side)


def _back(links: Linker, one: Photograph) -> list[Words]:
    """Where all photographs of its diff, or of its bottle, are."""
    if one.bottle is not None:
        return [links.to(PHOTOGRAPHS, f"All photographs of {one.bottle_label}", bottle=one.bottle)]
    return [
        links.to(PHOTOGRAPHS, f"All photographs of {one.build_label}", build=one.build),
        links.to(PHOTOGRAPHS, f"All photographs of {one.diff_label}", diff=one.diff),
    ]


def shown_bytes(
    connection: sqlite3.Connection, sha256: str, of_it: Callable[[sqlite3.Connection, str], bytes | None]
) -> bytes | None:
    """The bytes of a picture; None where no photograph shows it, or not any more."""
    if not is_shown(connection, sha256):
        return None
    with pictures_readable(connection):
        return of_it(connection, sha256)


async def _picture(page: PageRequest, name: str) -> Any:
    """The picture of that name, or its thumbnail."""
    from datasette.utils.asgi import Response

    asked = _PICTURE.fullmatch(name)
    of_it = thumbnail_bytes if asked and asked[2] else picture_bytes
    found = await page.ask(shown_bytes, asked[1], of_it) if asked else None
    if found is None:
        return Response.text("There is no such picture.\n", status=404, headers={"cache-control": "no-cache"})
    kept = keep_for_ever(page.request)
    headers = {**kept, "content-length": str(len(found)), "content-disposition": "inline"}
    return Response(found, 200, headers, "image/jpeg")


PAGE: Final = Page("photo", photo, ROW, shows="photos", in_copy=True)
