"""What tables a damaged file has, as far as its own list can be read, and the rows of each, also from pages that
nothing leads to any more."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.rescuing.pages import PageFile
from bevelbook.rescuing.trees import FoundRow, LostPart, Text, Tree, stray_leaf

_CREATE: Final = re.compile(r"CREATE (?:VIRTUAL )?TABLE \W?(\w+)")


class ListedPart(NamedTuple):
    """A table or an index in the file's own list, with its first page."""

    sort: str
    name: str
    table: str
    root: int
    sql: str


class FoundTables:
    """The tables of a file."""

    def __init__(self, file: PageFile) -> None:
        self.file = file
        own = Tree(file, 1)
        self.parts = [part for row in own.rows() if (part := _listed(row)) is not None]
        self.lost_of_list = own.lost
        self._seen = set(own.seen)
        self._walked: set[int] = {1}

    def table(self, name: str) -> ListedPart | None:
        """The table of that name; None where the list does not have it."""
        return next((one for one in self.parts if one.sort == "table" and one.name == name), None)

    def indexes(self, table: str) -> list[ListedPart]:
        """The indexes on a table."""
        return [one for one in self.parts if one.sort == "index" and one.table == table]

    def rows(self, part: ListedPart, lost: list[LostPart]) -> Iterator[FoundRow]:
        """Each row of a table, or entry of an index, that can be read; what cannot is added to ``lost``."""
        tree = Tree(self.file, part.root, is_index=part.sort == "index" or _is_without_rowid(part.sql))
        yield from tree.rows()
        self._seen |= tree.seen
        self._walked.add(part.root)
        lost += tree.lost

    def stray_pages(self) -> Iterator[tuple[int, list[FoundRow]]]:
        """The pages of tables that nothing leads to, each with its rows. Those that hold nothing any more are left out:
        what was removed does not come back."""
        for part in self.parts:
            if part.root and part.root not in self._walked:
                for _ in self.rows(part, []):
                    pass
        free = self.file.free_pages()
        for number in range(2, self.file.count + 1):
            if number in self._seen or number in free:
                continue
            rows = stray_leaf(self.file, number)
            if rows:
                yield number, rows


def fits(row: FoundRow, types: Sequence[str], required: Collection[int]) -> bool:
    """Whether a row may be of a table whose columns have these types; ``required`` are the places that are never
    empty."""
    if len(row.values) > len(types) or any(place >= len(row.values) for place in required):
        return False
    for place, (value, kind) in enumerate(zip(row.values, types, strict=False)):
        if value is None:
            if place in required:
                return False
        elif not isinstance(value, _TYPES[kind]) or (kind == "BLOB") != (type(value) is bytes):
            return False
    return True


_TYPES: Final[dict[str, tuple[type, ...]]] = {
    "TEXT": (Text,),
    "REAL": (float, int),
    "INTEGER": (int,),
    "BLOB": (bytes,),
}


def _listed(row: FoundRow) -> ListedPart | None:
    if len(row.values) < 5:
        return None
    sort, name, table, root, sql = row.values[:5]
    if not isinstance(root, int):
        return None
    said = [one.decode(errors="replace") if isinstance(one, bytes) else "" for one in (sort, name, table, sql)]
    made = _CREATE.match(said[3])
    if made is not None and said[0] != "index":
        return ListedPart("table", made[1] if said[1] != said[2] else said[1], said[2], root, said[3])
    return ListedPart(said[0], said[1], said[2], root, said[3])


def _is_without_rowid(sql: str) -> bool:
    return "WITHOUT ROWID" in sql[-40:]
