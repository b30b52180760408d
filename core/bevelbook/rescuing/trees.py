"""The rows of a table, or the entries of an index, from the pages that hold them; what cannot be read is named by
page."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.rescuing.pages import INDEX_INSIDE, INDEX_LEAF, TABLE_INSIDE, TABLE_LEAF, PageFault, PageFile

Value = int | float | bytes | None
_WHOLE: Final = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
_DEEPEST: Final = 40
LONGEST_ROW_BYTES: Final = 1_000_000_000


class Text(bytes):
    """A text as it lies in the file, which may not be UTF-8."""


class FoundRow(NamedTuple):
    """A row with its number in the table (None in an index) and the page it lies on."""

    rowid: int | None
    values: tuple[Value, ...]
    page: int


class LostPart(NamedTuple):
    """What of a tree could not be read. ``place`` counts the rows of a page from 1; without one it is the whole page,
    and ``is_inside`` where that page leads to others."""

    page: int
    why: str
    place: int | None = None
    is_inside: bool = False


class Tree:
    """One table or index, from its first page on."""

    def __init__(self, file: PageFile, root: int, *, is_index: bool = False) -> None:
        self.file = file
        self.root = root
        self.lost: list[LostPart] = []
        self.seen: set[int] = set()
        self._leaf, self._inside = (INDEX_LEAF, INDEX_INSIDE) if is_index else (TABLE_LEAF, TABLE_INSIDE)

    @property
    def has_lost_pages(self) -> bool:
        """Whether pages may be missing that nothing leads to any more."""
        return any(one.place is None for one in self.lost)

    def rows(self) -> Iterator[FoundRow]:
        """Each row that can be read; what cannot is in ``lost`` afterwards."""
        waiting = [(self.root, 0)]
        while waiting:
            number, depth = waiting.pop()
            if number in self.seen or depth > _DEEPEST:
                self.lost.append(LostPart(number, "it is led to twice"))
                continue
            self.seen.add(number)
            try:
                page = self.file.page(number)
                kind = page[_begin(number)]
                if kind not in (self._leaf, self._inside):
                    raise PageFault("it is not a page of this table")
                places = _places(self.file, page, number, kind)
            except PageFault as fault:
                self.lost.append(LostPart(number, str(fault), is_inside=True))
                continue
            if kind == self._inside:
                below, rows = self._below(page, number, places)
                waiting += [(one, depth + 1) for one in reversed(below)]
                yield from rows
            else:
                yield from self._of_leaf(page, number, places)

    def _of_leaf(self, page: bytes, number: int, places: list[int]) -> Iterator[FoundRow]:
        for place, at in enumerate(places, start=1):
            try:
                yield row_at(self.file, page, number, at, is_index=self._leaf == INDEX_LEAF)
            except PageFault as fault:
                self.lost.append(LostPart(number, str(fault), place))

    def _below(self, page: bytes, number: int, places: list[int]) -> tuple[list[int], list[FoundRow]]:
        """The pages that one leads to, and the entries of an index that lie on it."""
        found, rows = [], []
        for place, at in enumerate(places, start=1):
            if at + 4 > len(page):
                self.lost.append(LostPart(number, "a way to another page is cut", place, is_inside=True))
                continue
            found.append(int.from_bytes(page[at : at + 4], "big"))
            if self._inside == INDEX_INSIDE:
                try:
                    rows.append(row_at(self.file, page, number, at + 4, is_index=True))
                except PageFault as fault:
                    self.lost.append(LostPart(number, str(fault), place))
        begin = _begin(number)
        return [*found, int.from_bytes(page[begin + 8 : begin + 12], "big")], rows


def stray_leaf(file: PageFile, number: int) -> list[FoundRow] | None:
    """The rows of a page that nothing leads to, if it is one of a table and can be read whole; else None."""
    try:
        page = file.page(number)
        if page[_begin(number)] != TABLE_LEAF:
            return None
        places = _places(file, page, number, TABLE_LEAF)
        return [row_at(file, page, number, at, is_index=False) for at in places]
    except PageFault:
        return None


def _begin(number: int) -> int:
    return 100 if number == 1 else 0


def _places(file: PageFile, page: bytes, number: int, kind: int) -> list[int]:
    begin = _begin(number)
    many = int.from_bytes(page[begin + 3 : begin + 5], "big")
    first = begin + (12 if kind in (TABLE_INSIDE, INDEX_INSIDE) else 8)
    if first + 2 * many > file.usable_bytes:
        raise PageFault("it says that it holds more than it has room for")
    return list(struct.unpack_from(f">{many}H", page, first))


def row_at(file: PageFile, page: bytes, number: int, at: int, *, is_index: bool) -> FoundRow:
    """The row that begins there. Raises PageFault."""
    size, at = _varint(page, at)
    rowid: int | None = None
    if not is_index:
        rowid, at = _varint(page, at)
        rowid = rowid - (1 << 64) if rowid >= 1 << 63 else rowid
    if size > LONGEST_ROW_BYTES or size > file.count * file.page_bytes:
        raise PageFault("a row says that it is longer than the file")
    usable = file.usable_bytes
    most = ((usable - 12) * 64 // 255 - 23) if is_index else usable - 35
    if size <= most:
        payload = page[at : at + size]
    else:
        least = (usable - 12) * 32 // 255 - 23
        here = least + (size - least) % (usable - 4)
        here = here if here <= most else least
        payload = page[at : at + here] + _beyond(file, page, at + here, size - here)
    if len(payload) != size:
        raise PageFault("a row goes past the end of its page")
    return FoundRow(rowid, record_values(payload), number)


def _beyond(file: PageFile, page: bytes, at: int, missing: int) -> bytes:
    """What of a row lies on further pages."""
    following = int.from_bytes(page[at : at + 4], "big")
    found, seen = [], set()
    while missing > 0:
        if following in seen or not 0 < following <= file.count:
            raise PageFault("the rest of a row cannot be found")
        seen.add(following)
        piece = file.page(following)
        found.append(piece[4 : min(4 + missing, file.usable_bytes)])
        missing -= len(found[-1])
        following = int.from_bytes(piece[:4], "big")
    return b"".join(found)


def record_values(payload: bytes) -> tuple[Value, ...]:
    """The values of a row (sqlite.org/fileformat2.html#record_format). Raises PageFault."""
    length, at = _varint(payload, 0)
    if not at <= length <= len(payload):
        raise PageFault("a row does not say what it holds")
    kinds = []
    while at < length:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    if at != length:
        raise PageFault("a row does not say what it holds")
    values: list[Value] = []
    for kind in kinds:
        value, at = _value(payload, kind, at)
        values.append(value)
    if at != len(payload):
        raise PageFault("a row holds more or less than it says")
    return tuple(values)


def _value(payload: bytes, kind: int, at: int) -> tuple[Value, int]:
    if kind == 0:
        return None, at
    if kind in (8, 9):
        return kind - 8, at
    if kind in (10, 11):
        raise PageFault("a row holds a value of no known sort")
    size = _WHOLE[kind] if kind in _WHOLE else 8 if kind == 7 else (kind - 12) // 2
    piece = payload[at : at + size]
    if len(piece) != size:
        raise PageFault("a row holds less than it says")
    if kind in _WHOLE:
        return int.from_bytes(piece, "big", signed=True), at + size
    if kind == 7:
        return struct.unpack(">d", piece)[0], at + size
    return (Text(piece) if kind % 2 else piece), at + size


def _varint(page: bytes, at: int) -> tuple[int, int]:
    value = 0
    for place in range(8):
        if at + place >= len(page):
            raise PageFault("a row is cut")
        byte = page[at + place]
        value = (value << 7) | (byte & 0x7F)
        if byte < 0x80:
            return value, at + place + 1
    if at + 8 >= len(page):
        raise PageFault("a row is cut")
    return (value << 8) | page[at + 8], at + 9
