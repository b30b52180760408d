"""Whether kept files and pictures are what was kept: each by the hash that is its name."""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterator
from hashlib import sha256
from typing import Final

from bevelbook.pictures.reader import pictures_can_be_read

_PIECE: Final = 1 << 20


def count_kept(connection: sqlite3.Connection) -> int:
    """How many kept files and pictures have their bytes here."""
    return sum(
        int(connection.execute(f"SELECT count(*) FROM main.{table}").fetchone()[0])
        for table in ("note_bytes", "picture_bytes")
    )


def files_otherwise(connection: sqlite3.Connection) -> Iterator[str]:
    """Each kept file or picture whose bytes are not those of its name, or that nothing names; read one by one, so that
    memory does not grow with them. The sizes of pictures are compared where pictures can be read
    (``pictures_can_be_read``). Raises sqlite3.Error."""
    can_be_read = pictures_can_be_read()
    if can_be_read:
        from bevelbook.pictures.redrawn import jpeg_size_px

    cursor = connection.cursor()
    cursor.row_factory = None
    for name, packed in cursor.execute("SELECT sha256, packed FROM main.note_bytes ORDER BY sha256"):
        if hash_of_packed(packed) != name:
            yield f"the kept file {str(name)[:16]} is not what was kept: its bytes have another hash"
    for name, jpeg, size, thumbnail, *across in cursor.execute(
        "SELECT b.sha256, b.jpeg, p.byte_count, b.thumbnail, p.width_px, p.height_px, p.thumbnail_width_px, "
        "p.thumbnail_height_px FROM main.picture_bytes b LEFT JOIN main.pictures p ON p.id = b.sha256 "
        "ORDER BY b.sha256"
    ):
        if sha256(jpeg).hexdigest() != name:
            yield f"the picture {str(name)[:16]} is not what was kept: its bytes have another hash"
        elif size is not None and size != len(jpeg):
            yield f"the picture {str(name)[:16]} has {len(jpeg):,} bytes, and its record says {size:,}"
        elif can_be_read and size is not None and jpeg_size_px(jpeg) != (across[0], across[1]):
            yield f"the picture {str(name)[:16]} is not {across[0]} x {across[1]} pixels, as its record says"
        if can_be_read and size is not None and jpeg_size_px(thumbnail) != (across[2], across[3]):
            yield f"the small picture of {str(name)[:16]} is none of {across[2]} x {across[3]} pixels"
    for (name,) in cursor.execute(
        "SELECT id FROM main.pictures WHERE length(came_sha256) <> 64 OR came_sha256 GLOB '*[^0-9a-f]*' ORDER BY id"
    ).fetchall():
        yield f"of the picture {str(name)[:16]} no hash is kept of the file as it came"
    for (name,) in cursor.execute(
        "SELECT sha256 FROM main.note_bytes WHERE sha256 NOT IN (SELECT sha256 FROM main.note_files) AND sha256 NOT IN "
        "(SELECT json_extract(content, '$.sha256') FROM main.history WHERE table_name = 'note_files' "
        "AND json_valid(content) AND json_extract(content, '$.sha256') IS NOT NULL) ORDER BY sha256"
    ).fetchall():
        yield f"the kept file {str(name)[:16]} belongs to no file of notes"


def hash_of_packed(packed: bytes) -> str | None:
    """The hash of a kept file, unpacked piece by piece; None where it is not packed as kept files are."""
    unpacker, digest, left = zlib.decompressobj(), sha256(), packed
    try:
        while left and not unpacker.eof:
            digest.update(unpacker.decompress(left, _PIECE))
            left = unpacker.unconsumed_tail
        digest.update(unpacker.flush())
    except zlib.error:
        return None
    return digest.hexdigest() if unpacker.eof and not unpacker.unused_data else None
