"""What a visitor wrote in an address that SQLite may work on for long: SQL, or a long text to search for."""

from __future__ import annotations

from typing import Any, Final, NamedTuple
from urllib.parse import parse_qsl

_SQL: Final = frozenset({"sql", "_where"})
"""The arguments whose value is SQL."""
_SEARCH: Final = "_search"
"""How the arguments begin whose value is searched for."""
LONGEST_SEARCH: Final = 200
"""A phrase is compared with every place of a note."""


class OwnSql(NamedTuple):
    """The pieces of SQL, and the texts to search for where they are long."""

    pieces: tuple[str, ...] = ()
    searches: tuple[str, ...] = ()

    def is_in(self, sql: str, given: Any) -> bool:
        """Whether a statement holds some of it. Datasette asks others of its own before it answers."""
        if self.pieces:
            letters = _letters(sql)
            if any(_letters(piece) in letters for piece in self.pieces):
                return True
        values = given.values() if isinstance(given, dict) else given or ()
        return bool(self.searches) and any(search in values for search in self.searches)


def own_sql_of(query: bytes) -> OwnSql:
    """What there is of it in the query of an address."""
    given = parse_qsl(query.decode("latin-1"))
    searches = tuple(value for name, value in given if name.startswith(_SEARCH))
    is_long = sum(map(len, searches)) > LONGEST_SEARCH
    return OwnSql(tuple(value for name, value in given if name in _SQL), searches if is_long else ())


def _letters(sql: str) -> str:
    """Letters and digits alone: spaces and semicolons at its ends are not always kept."""
    return "".join(filter(str.isalnum, sql))
