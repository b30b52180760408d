"""Pictures kept once by their content: a row that says their size, and the bytes in a plain table beside it."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.pictures.prepare import PreparedPicture
from bevelbook.store.ids import now_utc

_HASH: Final = late_pattern(r"[0-9a-f]{64}")


def keep_picture(connection: sqlite3.Connection, picture: PreparedPicture) -> str:
    """Keep a picture, inside the caller's transaction, unless it or the file that it came in is known; returns its id.

    What is kept is never taken away again: a photograph that was removed may come back.
    """
    known = connection.execute(
        "SELECT p.id FROM pictures p JOIN picture_bytes b ON b.sha256 = p.id "
        "WHERE p.id = ?1 OR p.came_sha256 = ?2 ORDER BY p.id <> ?1, p.id LIMIT 1",
        (picture.id, picture.came_sha256),
    ).fetchone()
    if known is not None:
        return str(known[0])
    connection.execute(
        "INSERT INTO picture_bytes (sha256, thumbnail, jpeg) VALUES (?, ?, ?) ON CONFLICT (sha256) DO NOTHING",
        (picture.id, picture.thumbnail, picture.jpeg),
    )
    connection.execute(
        "INSERT INTO pictures (id, came_sha256, width_px, height_px, thumbnail_width_px, thumbnail_height_px, "
        "byte_count, kept_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING",
        (
            picture.id,
            picture.came_sha256,
            picture.width_px,
            picture.height_px,
            picture.thumbnail_width_px,
            picture.thumbnail_height_px,
            len(picture.jpeg),
            now_utc(),
        ),
    )
    return picture.id


def picture_bytes(connection: sqlite3.Connection, sha256: str) -> bytes | None:
    """The JPEG of a picture by its id; None where there is none."""
    return _bytes(connection, "jpeg", sha256)


def thumbnail_bytes(connection: sqlite3.Connection, sha256: str) -> bytes | None:
    """The small JPEG of a picture by its id; None where there is none."""
    return _bytes(connection, "thumbnail", sha256)


def _bytes(connection: sqlite3.Connection, column: str, sha256: str) -> bytes | None:
    if _HASH.fullmatch(sha256) is None:
        return None
    row = connection.execute(f"SELECT {column} FROM picture_bytes WHERE sha256 = ?", (sha256,)).fetchone()
    return bytes(row[0]) if row is not None else None
