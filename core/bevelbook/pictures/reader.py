"""Whether pictures can be read on this machine: Pillow comes with the extra ``photos``."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Final

INSTALL: Final = "pip install 'bevelbook[photos]'"


def pictures_can_be_read() -> bool:
    """Whether the library is there."""
    return find_spec("PIL") is not None
