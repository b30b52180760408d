"""The kinds of record that have a page of their own to write them on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

OWN_PAGES: Final[Mapping[str, str]] = {
    "weighing": "weigh",
    "opening": "opening",
    "idea": "idea",
    "run": "run",
    "fluid_comparison": "comparison",
    "car_diff": "swap",
    "photo": "photo",
}
"""The page below ``enter/`` by the kind that is written on it; any other kind is written on ``record/KIND``."""
