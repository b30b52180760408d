"""Photographs as pages show them: a thumbnail with piece, side and day in words under it, which leads to the large one,
and which photographs show the same piece of one diff in several builds."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import PHOTO_SIDES
from bevelbook.display.begun import begun
from bevelbook.display.days import day_in_words
from bevelbook.reports.photographs import Photograph, photograph

PHOTOGRAPH: Final = "photo"
"""The page of one photograph, below whose address the pictures themselves are too."""
PHOTOGRAPHS: Final = "photos"
"""The page of all photographs of a diff, a build, an opening or a bottle."""
SMALL: Final = "-small"
"""Ends the name of a thumbnail."""
MOST_HERE: Final = 6
"""Photographs that the page of a diff, a build or a row shows; the rest is behind a link."""
MOST_COMPARED: Final = 4
"""Pieces that such a page leads to beside each other."""
_BUILDS_NAMED: Final = 3

_SIDE_OF: Final[Mapping[str, str]] = {
    **{side: side for side in PHOTO_SIDES},
    "case-side shaft": "case side",
    "lid-side shaft": "lid side",
}

Address = Callable[..., str]
"""The address of one of our pages, with what is given to it."""


class ShownPhotograph(NamedTuple):
    """A photograph on a page: the address of its own page, of its picture and of the thumbnail, and what it shows.

    ``what`` is piece and side, ``where`` the build or the bottle, ``day`` the day in words; ``elsewhere`` says with
    whom the picture is, where it did not come along.
    """

    address: str
    picture: str
    thumbnail: str
    width_px: int
    height_px: int
    thumbnail_width_px: int
    thumbnail_height_px: int
    what: str
    where: str
    day: str
    elsewhere: str = ""

    @property
    def under(self) -> str:
        """Where and when, as it stands under what it shows."""
        return ", ".join(part for part in (self.where, self.day) if part)

    @property
    def alt(self) -> str:
        """The same for somebody who does not see it."""
        return f"Photograph: {self.what[:1].lower()}{self.what[1:]}, {self.under}"


class SamePiece(NamedTuple):
    """Photographs of one piece and side of one diff, the newest first."""

    piece: str
    side: str | None
    photographs: tuple[Photograph, ...]

    @property
    def what(self) -> str:
        """Piece and side: ``Outdrive, lid side``."""
        return capital(self.photographs[0].words)

    @property
    def builds(self) -> tuple[str, ...]:
        """The builds that they are of, the newest first."""
        return tuple(dict.fromkeys(one.build_label for one in self.photographs if one.build_label))

    @property
    def words(self) -> str:
        """``Outdrive, lid side: rear-a/11, rear-a/9``."""
        named = ", ".join(self.builds[:_BUILDS_NAMED])
        return f"{self.what}: {named}{' and before' if len(self.builds) > _BUILDS_NAMED else ''}"


class PhotographSection(NamedTuple):
    """The photographs of a page: the newest of them, pieces to see beside each other, and where all are; a link is its
    address and its words."""

    shown: tuple[ShownPhotograph, ...] = ()
    compared: tuple[tuple[str, str], ...] = ()
    rest: tuple[str, str] | None = None


def capital(words: str) -> str:
    """Words that begin a line."""
    return begun(words)


def side_of(place: str | None) -> str | None:
    """The side of a photograph of what sits in that place of a diff; None where it has none."""
    return _SIDE_OF.get(place or "")


def where_of(photo: Photograph) -> str:
    """The build or the bottle that a photograph is of: ``rear-a/9``, ``rear-a/9 when opened``."""
    if photo.bottle is not None:
        return photo.bottle_label or ""
    return f"{photo.build_label or ''}{' when opened' if photo.hung_on == 'opening' else ''}"


def shown_photograph(address: Address, photo: Photograph) -> ShownPhotograph:
    """A photograph with its addresses and words."""
    return ShownPhotograph(
        address(f"{PHOTOGRAPH}/{photo.id}"),
        address(f"{PHOTOGRAPH}/{photo.picture}.jpg"),
        address(f"{PHOTOGRAPH}/{photo.picture}{SMALL}.jpg"),
        photo.width_px,
        photo.height_px,
        photo.thumbnail_width_px,
        photo.thumbnail_height_px,
        capital(photo.words),
        where_of(photo),
        day_in_words(photo.taken_on),
        f"The picture is with {photo.with_whom}" if photo.with_whom else "",
    )


def same_pieces(photos: Iterable[Photograph]) -> list[SamePiece]:
    """The photographs by piece and side, each once, as they come first."""
    found: dict[tuple[str, str | None], list[Photograph]] = {}
    for photo in photos:
        found.setdefault((photo.piece, photo.side), []).append(photo)
    return [SamePiece(piece, side, tuple(of_one)) for (piece, side), of_one in found.items()]


def in_several_builds(photos: Iterable[Photograph]) -> list[SamePiece]:
    """The pieces that were photographed in more than one build, so that one can be judged against the last time."""
    return [one for one in same_pieces(photos) if len(one.builds) > 1]


def photograph_section(
    address: Address, photos: Sequence[Photograph], of: Mapping[str, str], of_diff: Sequence[Photograph] = ()
) -> PhotographSection:
    """The newest photographs of a record, with a link to the rest: ``of`` is what the page of all is given.

    ``of_diff`` are all of the diff: pieces of it that were photographed in several builds lead to these beside each
    other, where one of ``photos`` is among them.
    """
    here = {one.id for one in photos}
    compared = [one for one in in_several_builds(of_diff) if not here.isdisjoint(photo.id for photo in one.photographs)]
    is_cut = len(photos) > MOST_HERE
    return PhotographSection(
        tuple(shown_photograph(address, photo) for photo in photos[:MOST_HERE]),
        tuple((comparison_address(address, one), one.words) for one in compared[:MOST_COMPARED]),
        (address(PHOTOGRAPHS, **of), f"All {counted(len(photos), 'photograph')}")
        if is_cut or len(compared) > MOST_COMPARED
        else None,
    )


def is_shown(connection: sqlite3.Connection, picture: str) -> bool:
    """Whether a photograph shows a picture; the picture of one that was removed stays, and no page has it."""
    return connection.execute("SELECT 1 FROM photos WHERE picture = ?", (picture,)).fetchone() is not None


def photographs_with(connection: sqlite3.Connection, picture: str) -> list[Photograph]:
    """The newest photographs that show a picture, as many as a page has room for."""
    found = connection.execute(
        "SELECT id FROM photos WHERE picture = ? ORDER BY taken_on DESC, id DESC LIMIT ?", (picture, MOST_HERE)
    ).fetchall()
    shown = (photograph(connection, str(row[0])) for row in found)
    return [one for one in shown if one is not None]


def comparison_address(address: Address, same: SamePiece) -> str:
    """Where the photographs of one piece are beside each other."""
    return address(PHOTOGRAPHS, diff=same.photographs[0].diff, piece=same.piece, side=same.side)
