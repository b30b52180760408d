"""What was said of a file when it was read before, so that the same file again is read alike and adds nothing."""

from __future__ import annotations

import hashlib
import io
import json
import sqlite3
from collections.abc import Mapping
from typing import BinaryIO

from bevelbook.notes.decoding import CHUNK
from bevelbook.notes.settings import Settings


def kept_answers(file: BinaryIO, connection: sqlite3.Connection) -> Mapping[str, Settings]:
    """What was said of each part of a file that is kept, by the part's name, empty for the whole; none where it is not
    kept."""
    size = file.seek(0, io.SEEK_END)
    file.seek(0)
    found = connection.execute(
        "SELECT sha256, coalesce(part, ''), options FROM note_files WHERE byte_count = ? AND options IS NOT NULL "
        "ORDER BY id",
        (size,),
    ).fetchall()
    if not found:
        return {}
    digest = hashlib.sha256()
    while chunk := file.read(CHUNK):
        digest.update(chunk)
    file.seek(0)
    return {part: Settings(**json.loads(options)) for sha256, part, options in found if sha256 == digest.hexdigest()}
