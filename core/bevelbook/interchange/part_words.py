"""What a part of a database holds, in words: said before it is written, and before another laptop gets it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.days import day_in_words
from bevelbook.interchange.since import Chosen
from bevelbook.records import BY_NAME, BY_TABLE
from bevelbook.taking_back.words import PART_OF

_NAMED: Final = ("build", "run", "weighing", "opening", "idea", "diff", "fluid", "bottle", "photo")
"""Kinds that are counted by their name, in this order."""
_PIECES: Final = (*PART_OF, "bench_step")
"""Kinds that are parts of another record: nobody counts them beside it."""
_GIVEN: Final = "(SELECT value FROM json_each(?))"
_FITS_CHAT: Final = 8_000_000
"""Bytes of a file that chats take (this project's proposal)."""


class PartHolds(NamedTuple):
    """What is in a part: ``counts`` of the touched records by kind, how many were removed, how many others belong to
    them, whose names are in it, and how many photographs and files of notes; ``with_files`` where what is in those
    goes along.
    """

    since: str
    counts: tuple[tuple[str, int], ...]
    others: int
    removed: int
    further: int
    people: tuple[str, ...]
    photographs: int
    notes: int
    with_files: bool

    @property
    def is_empty(self) -> bool:
        """Whether nothing was touched since then."""
        return not (self.counts or self.others or self.removed)

    @property
    def counted(self) -> str:
        """The touched records: ``3 builds, 14 runs and 2 other records``."""
        said = [counted(count, _words(name)) for name, count in self.counts]
        if self.others:
            said.append(counted(self.others, "other record" if said else "record"))
        if self.removed:
            said.append(f"{self.removed} removed")
        return _listed(said) or "nothing"

    def sentences(self) -> Iterator[str]:
        """What a person should know before it leaves the laptop."""
        since = day_in_words(self.since)
        if self.is_empty:
            yield f"Nothing was written down since {since}."
            return
        yield f"Since {since}: {self.counted}."
        if self.further:
            yield f"With them go {counted(self.further, 'record')} that they refer to, each with its whole past."
        if self.people:
            yield f"The names in it: {_listed(self.people)}. Remarks go as they were written."
        yield from self._files()

    def _files(self) -> Iterator[str]:
        if self.photographs:
            said = counted(self.photographs, "photograph")
            its = "its picture" if self.photographs == 1 else "their pictures"
            it = "it" if self.photographs == 1 else "them"
            yield f"{said}, with {its}." if self.with_files else f"{said} without {its}: a whole export brings {it}."
        if self.notes:
            said = f"{counted(self.notes, 'file')} of notes"
            its = "the file itself" if self.notes == 1 else "the files themselves"
            of = "it" if self.notes == 1 else "them"
            yield f"{said}, with {its}." if self.with_files else f"{said}: what was read of {of} goes, not {its}."


def holds_of(connection: sqlite3.Connection, chosen: Chosen, since: str, *, with_files: bool) -> PartHolds:
    """What a part of a database holds."""
    living: dict[str, int] = {}
    removed = 0
    for table, ids in chosen.touched.items():
        kind = BY_TABLE[table]
        if not kind.own:
            continue
        there = _count(connection, f"SELECT count(*) FROM main.{table} WHERE id IN {_GIVEN}", sorted(ids))
        living[kind.name] = there
        removed += 0 if kind.name in _PIECES else len(ids) - there
    counts = tuple((name, living[name]) for name in _NAMED if living.get(name))
    pieces = sum(count for name, count in living.items() if name in _PIECES)
    others = sum(count for name, count in living.items() if name not in (*_NAMED, *_PIECES))
    if not (counts or others or removed):
        others = pieces
    own = [table for table in chosen.records if BY_TABLE[table].own]
    return PartHolds(
        since,
        counts,
        others,
        removed,
        sum(len(chosen.records[table] - chosen.touched.get(table, frozenset())) for table in own),
        _people(connection, chosen),
        len(chosen.of(BY_NAME["photo"])),
        len(chosen.of(BY_NAME["note_file"])),
        with_files,
    )


def fits_chat(byte_count: int) -> bool:
    """Whether a file is small enough to be sent in a chat."""
    return byte_count <= _FITS_CHAT


def _people(connection: sqlite3.Connection, chosen: Chosen) -> tuple[str, ...]:
    """The names of the people in it: those recorded, and those who wrote."""
    recorded = json.dumps(chosen.of(BY_NAME["person"]))
    entries = json.dumps(chosen.of(BY_NAME["entry"]))
    found = connection.execute(
        f"SELECT name FROM main.people WHERE id IN {_GIVEN} UNION SELECT made_by FROM entries WHERE id IN {_GIVEN} "
        "AND made_by IS NOT NULL ORDER BY 1",
        (recorded, entries),
    )
    return tuple(str(row[0]) for row in found)


def _count(connection: sqlite3.Connection, sql: str, ids: list[str]) -> int:
    return int(connection.execute(sql, (json.dumps(ids),)).fetchone()[0])


def _words(name: str) -> str:
    return "photograph" if name == "photo" else name.replace("_", " ")


def _listed(words: list[str] | tuple[str, ...]) -> str:
    """Words in a row.

    >>> _listed(["3 builds", "14 runs", "1 idea"]), _listed(["ana"]), _listed([])
    ('3 builds, 14 runs and 1 idea', 'ana', '')
    """
    *first, last = words or [""]
    return f"{', '.join(first)} and {last}" if first else last
