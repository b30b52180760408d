"""A table of a page: each column with its heading and its cell, without the columns that are empty in every row."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, Generic, NamedTuple, TypeVar

R = TypeVar("R")


class PageColumn(NamedTuple, Generic[R]):
    """A column: its heading, the function that makes its cell of a row, and whether it holds figures."""

    heading: str
    cell: Callable[[R], Any]
    numeric: bool = False


class PageTable(NamedTuple):
    """A table of a page: headings (text, whether figures are under it), rows of cells, and a ``note`` under it."""

    caption: str
    headings: tuple[tuple[str, bool], ...]
    rows: tuple[tuple[Any, ...], ...]
    note: str = ""


def page_table(caption: str, columns: Sequence[PageColumn[R]], rows: Iterable[R]) -> PageTable:
    """The table of some rows; a column that is empty in every row is left out.

    >>> from operator import itemgetter
    >>> columns = [PageColumn("Build", itemgetter(0)), PageColumn("Mass [g]", itemgetter(1), numeric=True)]
    >>> page_table("Masses", [*columns, PageColumn("Note", itemgetter(2))], [("a/1", "14.26", None)]).headings
    (('Build', False), ('Mass [g]', True))
    """
    cells = [tuple(column.cell(row) for column in columns) for row in rows]
    kept = [place for place in range(len(columns)) if any(row[place] not in (None, "") for row in cells)]
    return PageTable(
        caption,
        tuple((columns[place].heading, columns[place].numeric) for place in kept),
        tuple(tuple("" if row[place] is None else row[place] for place in kept) for row in cells),
    )
