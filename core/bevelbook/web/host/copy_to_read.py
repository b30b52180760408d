"""What the pages say of a copy to read: where they are written as files, where an edition is served, and where a book
lies in a folder that cannot be written."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.clock import clock_in_words
from bevelbook.display.days import day_in_words
from bevelbook.store.edition_folder import database_in, said_in
from bevelbook.store.edition_mark import DAYS, PEOPLE

_DATED: Final = late_pattern(r".+-(\d{4}-\d{2}-\d{2})")
POLICY_IN_PAGE: Final = "; ".join(
    (
        "default-src 'none'",
        "img-src 'self' data:",
        "style-src 'self' 'unsafe-inline'",
        "script-src 'self'",
        "form-action 'none'",
        "base-uri 'none'",
    )
)
"""What a page itself can say where nobody sends a header with it: nothing is fetched but files of the copy."""


class CopyToRead(NamedTuple):
    """A copy of a book as pages, and as of when: in words, and the day, None where nobody said it."""

    as_of: str
    day: date | None = None

    @property
    def policy(self) -> str:
        """The content security policy of every page."""
        return POLICY_IN_PAGE


class EditionWords(NamedTuple):
    """What the pages of an edition say: of which day it is, as ISO 8601 and in words, empty where nobody knows it, and
    what it holds of people and days."""

    day: str
    day_words: str
    holds: str


def edition_words(path: Path, without: frozenset[str]) -> EditionWords:
    """The words of the edition in a file: its day is said in its folder, else in its name."""
    said = said_in(path.parent) if database_in(path.parent) == path else None
    in_name = _DATED.fullmatch(path.stem)
    day = str(said["day"]) if said is not None else in_name[1] if in_name else ""
    people = "Without people." if PEOPLE in without else "With the names of people."
    days = " Days are numbered within their quarter, and none is a real one." if DAYS in without else ""
    return EditionWords(day, day_in_words(day), f"{people}{days}")


def aside_words(made_at: str) -> str:
    """That pages show a copy made at a moment (UTC) of a book whose newest rows SQLite cannot read where they are."""
    return (
        "The folder of this book cannot be written, and its newest rows are in a second file beside it (-wal). So this "
        f"is a copy of both as of {clock_in_words(made_at)}; start the server again to see what was written later."
    )
