"""What is noted of an opening so far."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any

from bevelbook.facts.sql import rows


def opening_of(connection: sqlite3.Connection, opening: str | None) -> Mapping[str, Any]:
    """The columns of an opening (by id) that have a value; none without one."""
    found = rows(connection, "SELECT * FROM openings WHERE id = ?", (opening,))
    return {name: value for name, value in found[0].items() if value is not None} if found else {}
