"""Whether a database of version 0.1.0, which had no mark for it, holds the demo of that version and nothing else.

The demo always made the same rows, ids among them; what differs is who made them and when. So one checksum over all its
records decides: one record more, fewer or corrected gives another.
"""

from __future__ import annotations

import json
import sqlite3
from hashlib import sha256
from typing import Final, Literal

from bevelbook.store.ids import file_id

_STEP: Final = 2
"""The last step of version 0.1.0."""
TABLES: Final = (
    *("people", "cars", "venues", "scales", "seals", "fluids", "bottles", "diffs", "fluid_comparisons", "limits"),
    *("ideas", "builds", "blend_parts", "seal_fittings", "build_parts", "build_shims", "weighings", "openings", "runs"),
    *("run_diffs", "note_files", "note_rejects", "note_extras", "clashes"),
)
"""The tables of that version that hold what people wrote, in a fixed order."""
_WHO_AND_WHEN: Final = frozenset({"created_at", "updated_at", "updated_by", "read_at"})
_NOTE_FILES: Final = frozenset(
    {
        "8a521072c026fa753dd4cc0fc9a85db3ee86ab85c710f64a0604c82ace09db50",
        "9a158add0f3cd957f4ab613907fad5c32bcf3dc772a4e097d041f519f15c5593",
        "b0697c750cd2d129b4b5b4f0e5732b2bcff1500cefafff8f58ffe0b744237f26",
    }
)
"""Checksums of the note files of that demo (SHA-256)."""
_ALL_ROWS: Final = "ccd2782b82b722fc17f294cf3c1c35ba052ac6bf3935965197b50e8587543bba"

Held = Literal["all", "some", "none"]
SAID_OF_OLD_DEMO: Final[dict[Held, str]] = {
    "all": "It holds the demo of version 0.1.0 and nothing else, and now says that everything in it is invented.",
    "some": "It holds notes of the demo of version 0.1.0 beside other records or changed ones: what is invented "
    "is not certain, so it does not say so.",
}


def note_files_of_old_demo() -> frozenset[str]:
    """The ids of that demo's kept note files, also after an upgrade."""
    return frozenset(map(file_id, _NOTE_FILES))


def old_demo_in(connection: sqlite3.Connection) -> Held:
    """How much of a database is the demo of version 0.1.0: all of it, some, or none. Called before an upgrade.

    "some" means that a note file of that demo is in it, and that its records differ from the demo's.
    """
    if connection.execute("PRAGMA user_version").fetchone()[0] != _STEP:
        return "none"
    files = {row[0] for row in connection.execute("SELECT sha256 FROM note_files")}
    if not files & _NOTE_FILES:
        return "none"
    return "all" if files == _NOTE_FILES and sum_of_rows(connection) == _ALL_ROWS else "some"


def sum_of_rows(connection: sqlite3.Connection) -> str:
    """One checksum (SHA-256) over all rows of those tables, except who wrote them and when."""
    total = sha256()
    for table in TABLES:
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})") if row[1] not in _WHO_AND_WHEN]
        listed = ", ".join(f'"{column}"' for column in columns)
        lines = sorted(json.dumps([*row]) for row in connection.execute(f"SELECT {listed} FROM {table}"))
        total.update(json.dumps([table, columns, lines]).encode())
    return total.hexdigest()
