"""The folder of an edition as it says of itself, in a file for programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

EDITION_FILE: Final = "edition.json"
DATABASE_ENDING: Final = ".db"
_LONGEST_BYTES: Final = 1_000_000


def said_in(folder: Path) -> dict[str, Any] | None:
    """What the edition in a folder says of itself: its ``book``, ``day`` and ``files``; None where there is none."""
    try:
        path = folder / EDITION_FILE
        if path.stat().st_size > _LONGEST_BYTES:
            return None
        found = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    is_one = isinstance(found, dict) and "bevelbook_edition" in found and isinstance(found.get("files"), list)
    return found if is_one and isinstance(found.get("book"), str) and "day" in found else None


def database_in(folder: Path) -> Path | None:
    """The database file of the edition in a folder, by the name that it had or as the only one there; None where no
    edition is there, or its name leads elsewhere."""
    found = said_in(folder)
    name = "" if found is None else f"{found['book']}-{found['day']}{DATABASE_ENDING}"
    if not name or Path(name).name != name:
        return None
    there = sorted(folder.glob(f"*{DATABASE_ENDING}"))
    return there[0] if len(there) == 1 else folder / name
