"""A table of a page: headings and rows of cells, without the columns that are empty in every row."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple


class PageTable(NamedTuple):
    """A table of a page: headings (text, whether figures stand under it) and rows of cells."""

    caption: str
    headings: tuple[tuple[str, bool], ...]
    rows: tuple[tuple[Any, ...], ...]


def table(caption: str, headings: str, rows: Iterable[Sequence[Any]]) -> PageTable:
    """A table from headings in one line; one that starts with ``#`` has figures under it.

    A column that is empty in every row is left out.

    >>> table("Masses", "Build|#Mass [g]|Note", [("a/1", "14.26", None)]).headings
    (('Build', False), ('Mass [g]', True))
    """
    all_rows = [tuple(row) for row in rows]
    named = [(one.lstrip("#"), one.startswith("#")) for one in headings.split("|")]
    kept = [place for place in range(len(named)) if any(row[place] not in (None, "") for row in all_rows)]
    return PageTable(
        caption,
        tuple(named[place] for place in kept),
        tuple(tuple("" if row[place] is None else row[place] for place in kept) for row in all_rows),
    )
