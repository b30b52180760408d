"""Kept files and pictures of a database that came from outside: each is what its hash says, within bounds, and a
picture is a JPEG without anything beside the picture. No picture is drawn for it."""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from pathlib import Path
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.meeting.refusing import refuse_row, refuse_too_big
from bevelbook.pictures.limits import LONG_SIDE_PX, THUMBNAIL_BYTES, THUMBNAIL_SIDE_PX

LARGEST_FILE_BYTES: Final = 200_000_000
"""Of a kept file of notes, unpacked."""
ALL_FILES_BYTES: Final = 4_000_000_000
"""Of all of them together."""
LARGEST_PICTURE_BYTES: Final = 6_000_000
"""Of a picture; at the lowest quality that we keep none of 2000 x 2000 pixels is as large. All figures are our own."""
_PIECE: Final = 1 << 20
_HEX: Final = frozenset("0123456789abcdef")
_MAY_BE_IN_IT: Final = frozenset({0xE0, 0xDB, 0xC4, 0xDD})
"""APP0, quantisation tables, Huffman tables, restart intervals (ITU-T T.81, table B.1)."""
_FRAMES: Final = frozenset({0xC0, 0xC1, 0xC2})


def refuse_unsound_files(connection: sqlite3.Connection, path: Path) -> None:
    """Raise DatabaseError for the first kept file or picture that is not what its row says."""
    room = ALL_FILES_BYTES
    for sha256, packed in connection.execute("SELECT sha256, packed FROM note_bytes ORDER BY rowid"):
        if not _is_hash(sha256):
            raise refuse_row(path, "note_bytes", sha256, "has a name that is not a hash")
        size, found = _unpacked(packed, min(room, LARGEST_FILE_BYTES))
        if size < 0:
            raise refuse_too_big(
                path,
                f"the kept file {sha256[:16]} unpacks to more than {LARGEST_FILE_BYTES / 1e6:g} MB, or all of them to "
                f"more than {ALL_FILES_BYTES / 1e9:g} GB",
                wanted="files of notes",
            )
        if found != sha256:
            raise refuse_row(path, "note_bytes", sha256, "is not the file that was kept: its bytes have another hash")
        room -= size
    _refuse_pictures(connection, path)


def _unpacked(packed: bytes, most: int) -> tuple[int, str]:
    """How many bytes a packed file has and their hash; -1 where there are more, no text where nothing was packed so."""
    unpacker, digest, size, left = zlib.decompressobj(), hashlib.sha256(), 0, packed
    try:
        while left and not unpacker.eof:
            piece = unpacker.decompress(left, _PIECE)
            left = unpacker.unconsumed_tail
            digest.update(piece)
            size += len(piece)
            if size > most:
                return -1, ""
        rest = unpacker.flush()
    except zlib.error:
        return 0, ""
    digest.update(rest)
    is_whole = unpacker.eof and not unpacker.unused_data
    return size + len(rest), digest.hexdigest() if is_whole else ""


def _refuse_pictures(connection: sqlite3.Connection, path: Path) -> None:
    asked = (
        "SELECT b.sha256, b.jpeg, b.thumbnail, p.width_px, p.height_px, p.thumbnail_width_px, p.thumbnail_height_px, "
        "p.byte_count FROM picture_bytes b LEFT JOIN pictures p ON p.id = b.sha256 ORDER BY b.rowid"
    )
    for sha256, jpeg, small, width, height, small_width, small_height, count in connection.execute(asked):
        if not _is_hash(sha256):
            raise refuse_row(path, "picture_bytes", sha256, "has a name that is not a hash")
        if len(jpeg) > LARGEST_PICTURE_BYTES or len(small) > THUMBNAIL_BYTES:
            raise refuse_row(
                path, "picture_bytes", sha256, f"is larger than any picture that is kept: {counted(len(jpeg), 'byte')}"
            )
        if hashlib.sha256(jpeg).hexdigest() != sha256:
            raise refuse_row(path, "picture_bytes", sha256, "is not the picture that was kept: another hash")
        for bytes_, side, said in (
            (jpeg, LONG_SIDE_PX, (width, height)),
            (small, THUMBNAIL_SIDE_PX, (small_width, small_height)),
        ):
            found = plain_jpeg_size(bytes_)
            if found is None or max(found) > side:
                raise refuse_row(path, "picture_bytes", sha256, "is not a picture as this tool keeps them")
            if width is not None and said != found:
                raise refuse_row(path, "pictures", sha256, "says another size than its picture has")
        if count is not None and count != len(jpeg):
            raise refuse_row(path, "pictures", sha256, "says another size than its picture has")


def plain_jpeg_size(file: bytes) -> tuple[int, int] | None:
    """Width and height of a JPEG as this tool writes it: one picture, nothing beside it such as a place or a phone, and
    nothing behind it. None for any other file. Only what stands before the picture is read (ITU-T T.81, annex B).
    """
    if file[:2] != b"\xff\xd8" or file[-2:] != b"\xff\xd9":
        return None
    at, size = 2, None
    while at + 4 <= len(file):
        if file[at] != 0xFF:
            return None
        marker, length = file[at + 1], int.from_bytes(file[at + 2 : at + 4], "big")
        if length < 2 or at + 2 + length > len(file):
            return None
        if marker == 0xDA:
            return size
        if marker in _FRAMES and size is None and length >= 8:
            size = int.from_bytes(file[at + 7 : at + 9], "big"), int.from_bytes(file[at + 5 : at + 7], "big")
            if not all(size):
                return None
        elif marker not in _MAY_BE_IN_IT:
            return None
        at += 2 + length
    return None


def _is_hash(text: str) -> bool:
    return len(text) == 64 and _HEX.issuperset(text)
