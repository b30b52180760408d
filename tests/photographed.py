"""Pictures as phones take them, drawn here, and photographs in a database for the tests of the pages."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from io import BytesIO
from pathlib import Path
from typing import Final

from PIL import Image

from bevelbook.pictures.prepare import PreparedPicture, prepared_picture
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.saving.photographs import with_picture
from bevelbook.saving.record import SavedRecord, WantedRecord, read_wanted, save
from bevelbook.store.opening import open_for_writing, transaction

RED, BLUE, GREEN = (200, 30, 30), (30, 30, 200), (30, 160, 60)
ORIENTATION, MAKER, DESCRIPTION, GPS = 0x0112, 0x010F, 0x010E, 0x8825
"""Tags of CIPA DC-008-2023 (Exif 3.0): 4.6.5 and, for the place, 4.6.7."""
TURNED_RIGHT: Final = 6
"""The orientation of a phone held upright: row 0 of what is stored is the right-hand side (the same, tag 274)."""
HOSTILE_NAME: Final = '"><script>document.title="owned"</script>../../etc/x.jpg'
HOSTILE_WORDS: Final = "<script>document.title='owned'</script>"


def picture(
    size: tuple[int, int] = (48, 32),
    first: tuple[int, int, int] = RED,
    second: tuple[int, int, int] = BLUE,
    *,
    orientation: int | None = None,
) -> bytes:
    """A JPEG whose left half has the first colour and its right half the second; with an orientation also what a phone
    writes beside it: its maker, a hostile description and where it was."""
    drawn = Image.new("RGB", size, second)
    drawn.paste(first, (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    if orientation is not None:
        exif[ORIENTATION] = orientation
        exif[MAKER] = "QUINCE CAMERA WORKS"
        exif[DESCRIPTION] = HOSTILE_WORDS
        exif.get_ifd(GPS).update({1: "N", 2: (47.0, 12.0, 30.5), 3: "E", 4: (8.0, 30.0, 15.5)})
    held = BytesIO()
    drawn.save(held, "JPEG", quality=95, exif=exif)
    return held.getvalue()


def save_photograph(
    connection: sqlite3.Connection, registry: Registry, wanted: WantedRecord, picture: PreparedPicture, by: str
) -> SavedRecord:
    """Store a photograph as the command and the page do."""
    entry = read_wanted(connection, wanted, by)
    return save(connection, registry, with_picture(connection, entry, picture), by)


def photographed(path: Path, registry: Registry, *photos: tuple[Mapping[str, str], bytes]) -> list[str]:
    """Store photographs, each what is typed of it and its picture; returns their ids."""
    with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a test", by="ana"):
        return [_stored(connection, registry, texts, file) for texts, file in photos]


def _stored(connection: sqlite3.Connection, registry: Registry, texts: Mapping[str, str], file: bytes) -> str:
    wanted = WantedRecord(BY_NAME["photo"], dict(texts))
    return save_photograph(connection, registry, wanted, prepared_picture(file), "ana").row_id
