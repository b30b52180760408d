"""How soon the same record counts as a repetition."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

WITHIN: Final = timedelta(minutes=2)
"""How soon after the first time the same record counts as a repetition."""


def since(now: str) -> str:
    """From when on the same record counts as a repetition, as the database keeps times."""
    earlier = datetime.fromisoformat(now.replace("Z", "+00:00")) - WITHIN
    return earlier.isoformat(timespec="milliseconds").replace("+00:00", "Z")
