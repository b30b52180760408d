"""The form of a photograph as pages offer it: nothing where pictures cannot be read on this machine."""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import Markup

from bevelbook.declare.counting import counted
from bevelbook.facts.parts import PieceInDiff
from bevelbook.pictures.reader import pictures_can_be_read
from bevelbook.reports.photographs import Photograph
from bevelbook.web.host.photographs_shown import PHOTOGRAPH, comparison_address, same_pieces, side_of
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.blocks_of_pieces import PhotographsOfPiece
from bevelbook.web.shared.request import PageRequest
from bevelbook.web.shared.writing_here import FormOffered, ways_to_write


def photographs_of_pieces(page: PageRequest, diff: str, photos: Iterable[Photograph]) -> PhotographsOfPiece:
    """The photographs of each piece of a diff (by id) as a link to all of it, and the way to take one of a piece that
    is in it now, where the device may write."""
    known = {(one.piece, one.side): one for one in same_pieces(photos)}

    def of_piece(piece: PieceInDiff) -> Words:
        side = side_of(piece.place)
        same = known.get((piece.part, side))
        seen = comparison_address(page.links.page, same) if same else ""
        count = counted(len(same.photographs), "photograph") if same else ""
        form = photograph_form("photograph it", build=piece.builds[-1][0], piece=piece.part, side=side)
        ways = ways_to_write(page, *form) if piece.is_in else []
        return joined(
            Markup('<a href="{}">{}</a>').format(seen, count) if same else "",
            *(Markup('<a class="no-print" href="{}">{}</a>').format(way.address, way.words) for way in ways),
        )

    return of_piece


def photograph_form(words: str, **given: str | None) -> tuple[FormOffered, ...]:
    """The way to the form, with what the photograph is of and shows: ``build``, ``piece`` and others."""
    return ((words, PHOTOGRAPH, given),) if pictures_can_be_read() else ()
