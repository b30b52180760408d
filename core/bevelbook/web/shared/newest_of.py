"""The newest rows of a list that may be long, and the words that lead to the rest."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from markupsafe import Markup

from bevelbook.facts.sql import Row
from bevelbook.web.shared.links import Linker


class Newest(NamedTuple):
    """The rows to show, and whether there are more."""

    rows: list[Row]
    is_cut: bool

    def rest(self, links: Linker, table: str, **given: Any) -> Markup:
        """That it is cut, with a link to all rows in the table; empty where it is not."""
        if not self.is_cut:
            return Markup("")
        return Markup("The newest are shown; {}.").format(links.rows(table, "the table has all", **given))


def newest_of(rows: Sequence[Row], most: int, whole: str | None = None) -> Newest:
    """At most ``most`` of rows of which one more was asked for; those with one value of ``whole`` stay together.

    >>> newest_of([{"run": "c"}, {"run": "b"}, {"run": "b"}], 2, "run")
    Newest(rows=[{'run': 'c'}], is_cut=True)
    """
    if len(rows) <= most:
        return Newest(list(rows), False)
    shown = [row for row in rows[:most] if whole is None or row[whole] != rows[most][whole]]
    return Newest(shown or list(rows[:most]), True)
