"""Files that a computer adds by itself where a person packs or copies a folder: they are passed over."""

from __future__ import annotations

from typing import Final

_NAMES: Final = frozenset({"__MACOSX", ".DS_Store", "Thumbs.db", "desktop.ini"})
_BEGINNING: Final = "._"
"""What a file is called in which one system keeps beside another one what a stick has no room for."""


def is_added_by_computer(name: str) -> bool:
    """Whether a file or folder of this plain name is of a computer, not of an export. From memory.

    >>> is_added_by_computer(".DS_Store"), is_added_by_computer("._builds.csv"), is_added_by_computer("builds.csv")
    (True, True, False)
    """
    return name in _NAMES or name.startswith(_BEGINNING)
