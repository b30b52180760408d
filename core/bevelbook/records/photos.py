"""Photographs of what words do not show well: a groove in an outdrive, a seal, a gear, the label of a bottle.

The picture itself is kept once by its content (``bookkeeping.Picture``), however many photographs show it.
"""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import choice, date, record, reference, text
from bevelbook.declare.vocabulary import PHOTO_PIECES, PHOTO_SIDES

HUNG_ON: Final = ("opening", "build_part", "seal_fitting", "build", "bottle")
"""What a photograph hangs on: exactly one of these."""


@record
class Photo:
    opening: str | None = reference("opening", "The opening that found it", default=None, followed=False)
    build_part: str | None = reference("build_part", "The part that it shows", default=None, followed=False)
    seal_fitting: str | None = reference("seal_fitting", "The fitted seal that it shows", default=None, followed=False)
    build: str | None = reference("build", "The build that it shows", default=None, followed=False)
    bottle: str | None = reference("bottle", "The bottle that it shows", default=None, followed=False)
    piece: str = choice(PHOTO_PIECES, "What is seen", facet=True)
    side: str | None = choice(PHOTO_SIDES, "Which side, or the joint", default=None, facet=True)
    taken_on: str = date("Day")
    person: str | None = reference("person", "Who took it", default=None, followed=False)
    note: str | None = text("Anything else", default=None)
    picture: str = reference("picture", "The picture that it shows", followed=False)
