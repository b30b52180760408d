"""The headings that a person or a profile names: whether the file has them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from bevelbook.declare.errors import near_misses, shown
from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.headings import Heading, names_of
from bevelbook.notes.settings import Settings
from bevelbook.notes.wording import IMPORT_OPTIONS
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

_LISTED: Final = 8


def check_named(heading: Heading, settings: Settings, line: int) -> None:
    """Raise FileRejected (option_misfit) with near misses for a heading that was named and that the file does not
    have."""
    for named in absent(settings.named_headings, [heading]):
        raise not_there(named, [heading], line)


def absent_of_profile(heading: Heading, settings: Settings) -> Iterator[str]:
    """The warning of the headings that a profile names and the file does not have; none where it has all."""
    missing = [*absent(settings.profile_headings, [heading])]
    if missing:
        more = f" and {len(missing) - _LISTED} more" if len(missing) > _LISTED else ""
        yield f"headings_not_there:{', '.join(missing[:_LISTED])}{more}"


def absent(named: Iterable[str], headings: Iterable[Heading]) -> Iterator[str]:
    """Those of the named headings that none of these has, neither whole nor without the unit behind."""
    names = [*named]
    if not names:
        return
    there: set[str] = set()
    for one in headings:
        for row in ([column.heading for column in one.columns], one.cells, *one.written):
            there.update(*map(names_of, row))
    yield from (name for name in names if folded(name) not in there)


def not_there(named: str, headings: Iterable[Heading], line: int | None = None) -> FileRejected:
    """The refusal of a heading that is not in the file."""
    known = dict.fromkeys(column.heading for one in headings for column in one.columns if column.heading)
    name = IMPORT_OPTIONS[ReadingOption.COLUMNS].name
    near = near_misses(named, known) or f"Its headings: {', '.join([*known][:_LISTED])}."
    return rejected(
        "option_misfit",
        f"{name}: the file has no heading {shown(named)}",
        line=line,
        remedy=f"{near} Correct the heading after {name}, or leave it out.",
    )
