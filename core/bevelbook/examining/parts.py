"""The parts of a plugin that take longer than a call of a function, by the names that a flaw gives them."""

from __future__ import annotations

from typing import Final

IMPORT: Final = "the import"
DRAWING: Final = "drawing its charts"
PROFILES: Final = "bevelbook_profiles"
BETWEEN: Final = "the look at it"
"""The work of the program itself, between the calls of a plugin."""
LONG: Final = (IMPORT, DRAWING, PROFILES)
"""Libraries are loaded in them."""
