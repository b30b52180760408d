"""A picture as it came made into what is kept: turned upright, without metadata, in sRGB, with a small one.

What is kept is drawn again from the pixels alone, so nothing else of the file can come along: no place, device, time,
comment, profile, thumbnail or bytes behind the picture.
"""

from __future__ import annotations

from hashlib import sha256
from threading import Lock
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.pictures.limits import LARGEST_FILE_BYTES, MOST_PIXELS, MOST_PIXELS_OTHERWISE, READABLE_WORDS
from bevelbook.pictures.reader import INSTALL, pictures_can_be_read
from bevelbook.pictures.signature import Format, signature_of, webp_size

PLACE: Final = Place(field="picture")
TO_JPEG: Final = 'Set the camera of the phone to JPEG ("most compatible"), or save the picture as JPEG'
_ONE_AT_A_TIME: Final = Lock()
"""A large picture takes hundreds of megabytes while it is read: eight phones must not do so at once."""


class PreparedPicture(NamedTuple):
    """A picture ready to be kept. ``id`` is the SHA-256 of ``jpeg``, ``came_sha256`` that of the file as it came;
    ``remarks`` are sentences to show once it is stored."""

    id: str
    came_sha256: str
    jpeg: bytes
    thumbnail: bytes
    width_px: int
    height_px: int
    thumbnail_width_px: int
    thumbnail_height_px: int
    remarks: tuple[str, ...] = ()


def prepared_picture(file: bytes) -> PreparedPicture:
    """What is kept of a picture. It takes about a second for 12 million pixels, and one at a time is read.

    Raises InputError: ``no_picture_sent``, ``picture_too_big``, ``picture_too_many_pixels``, ``not_a_picture``,
    ``picture_format``, ``picture_cut``; and ``pictures_not_readable`` where the library is not installed.
    """
    if not file:
        raise InputError(
            "a picture is missing", code="no_picture_sent", place=PLACE, remedy="Choose a picture. Nothing was stored."
        )
    refuse_too_big(len(file))
    known = signature_of(file)
    if known.format is None and known.other:
        raise unreadable(known.other)
    if known.format is None:
        raise InputError(
            "this file is not a picture",
            code="not_a_picture",
            place=PLACE,
            remedy=f"Choose a picture: {READABLE_WORDS}. Nothing was stored.",
        )
    size = webp_size(file) if known.format == "WebP" else None
    if size is not None:
        refuse_too_many_pixels(known.format, *size)
    if not pictures_can_be_read():
        raise InputError(
            "pictures cannot be read on this machine yet",
            code="pictures_not_readable",
            place=PLACE,
            remedy=f"Install what reads them with: {INSTALL}. Nothing was stored.",
        )
    from bevelbook.pictures.redrawn import redrawn

    with _ONE_AT_A_TIME:
        drawn = redrawn(file, known.format)
    return PreparedPicture(
        sha256(drawn.jpeg).hexdigest(),
        sha256(file).hexdigest(),
        drawn.jpeg,
        drawn.thumbnail,
        *drawn.size_px,
        *drawn.thumbnail_size_px,
        drawn.remarks,
    )


def refuse_too_big(byte_count: int) -> None:
    """Raise InputError for a file that is larger than a picture may be."""
    if byte_count > LARGEST_FILE_BYTES:
        raise InputError(
            f"this file has {byte_count / 1e6:.0f} MB, and a picture may have {LARGEST_FILE_BYTES // 1_000_000} MB",
            code="picture_too_big",
            place=PLACE,
            remedy="Take it with fewer pixels, or choose a smaller copy. Nothing was stored.",
        )


def refuse_too_many_pixels(known: Format, width_px: int, height_px: int) -> None:
    """Raise InputError for a picture with more pixels than one of its kind may have."""
    most = MOST_PIXELS if known == "JPEG" else MOST_PIXELS_OTHERWISE
    if width_px * height_px > most:
        raise InputError(
            f"this {known} picture has {width_px} x {height_px} pixels, and it may have {most // 1_000_000} million",
            code="picture_too_many_pixels",
            place=PLACE,
            remedy=f"{'Take it with fewer pixels' if known == 'JPEG' else 'Save it as JPEG'}, or choose a smaller "
            "copy. Nothing was stored.",
        )


def unreadable(words: str) -> InputError:
    """The error for a file of a kind that is known but not read, ``a HEIC picture``."""
    return InputError(
        f"this is {words}, which cannot be read here",
        code="picture_format",
        place=PLACE,
        remedy=f"{TO_JPEG}, and choose it again. Nothing was stored.",
    )
