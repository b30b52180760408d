"""The names of the files: readable, the same each time, and fit for every web space and every disk.

A page is one folder deep, ``build/rear-a-12-1f0c8a34.html``: what it is called in plain letters and figures, and the
beginning of a hash of its address, so that two of one name, or of names that differ in case alone, have files of their
own and keep them when others come. No letter of a label reaches a name but a to z and 0 to 9.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from hashlib import sha256
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.web.static_site.standing import HOME, CopiedPage

LONGEST: Final = 48
"""Letters of a label in a name."""
HASH_LETTERS: Final = 8
ENDING: Final = ".html"
INDEX: Final = f"index{ENDING}"
_PLAIN: Final = late_pattern(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_OTHER: Final = late_pattern(r"[^a-z0-9]+")
_OF_THE_SYSTEM: Final = late_pattern(r"con|prn|aux|nul|com\d|lpt\d")
"""Names that a disk of some systems takes for a device."""


def plain(words: str) -> str:
    """Words as a part of a file's name; empty where no letter of them is left.

    >>> plain("rear-a/12 of Zoë"), plain("../../etc/passwd"), plain("🛞")
    ('rear-a-12-of-zoe', 'etc-passwd', '')
    """
    letters = unicodedata.normalize("NFKD", words[: 4 * LONGEST]).encode("ascii", "ignore").decode().lower()
    return _OTHER.sub("-", letters)[: LONGEST + 1].strip("-")[:LONGEST].strip("-")


def file_name(page: CopiedPage, title: str, letters: int = HASH_LETTERS) -> str:
    """The name of the file of a page with that title, below the folder of the copy."""
    if page.name == HOME:
        return INDEX
    if not page.below:
        return f"{page.name}{ENDING}"
    is_plain = _PLAIN.fullmatch(page.below) and len(page.below) <= LONGEST and not _OF_THE_SYSTEM.fullmatch(page.below)
    if is_plain and not page.is_record:
        return f"{page.name}/{page.below}{ENDING}"
    named = plain(title)
    mark = sha256(page.address.encode()).hexdigest()[:letters]
    return f"{page.name}/{f'{named}-' if named else ''}{mark}{ENDING}"


def file_names(pages: Iterable[tuple[CopiedPage, str]]) -> dict[str, str]:
    """The name of the file of each page, by its address; no two are the same, in no case of letters."""
    found: dict[str, str] = {}
    taken: set[str] = set()
    for page, title in sorted(pages, key=lambda one: one[0].address):
        longer = (file_name(page, title, letters) for letters in range(HASH_LETTERS, 65, HASH_LETTERS))
        name = next(name for name in longer if name not in taken)
        taken.add(name)
        found[page.address] = name
    return found
