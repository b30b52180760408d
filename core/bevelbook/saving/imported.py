"""What follows from rows that an import brought in: kept results worked out again, and what the weighings say now."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.calculating.recalculate import Upkeep, recalculate_for_notes
from bevelbook.plugin.registry import Registry
from bevelbook.reports.what_changed import ImportNews, news_of_notes


class AfterImport:
    """What came of the files that one import brought in, by the id of the kept file."""

    def __init__(self, connection: sqlite3.Connection, registry: Registry, by: str | None) -> None:
        self._connection = connection
        self._registry = registry
        self._by = by
        self.upkeep: dict[str, Upkeep] = {}
        self.news: dict[str, ImportNews] = {}

    def work_out(self, note_file: str) -> None:
        """Work out what depends on the records of a file, inside the import's transaction."""
        self.upkeep[note_file] = recalculate_for_notes(self._connection, self._registry, note_file, self._by)

    def look(self, note_file: str) -> None:
        """See what the weighings of a file say, once it is stored."""
        self.news[note_file] = news_of_notes(self._connection, note_file)

    def lines(self, note_file: str | None) -> Iterator[str]:
        """Both for a terminal."""
        for found in (self.news.get(note_file or ""), self.upkeep.get(note_file or "")):
            if found is not None:
                yield from found.lines()

    def sentences(self, note_file: str | None) -> Iterator[str]:
        """Both, each in one piece."""
        news, upkeep = self.news.get(note_file or ""), self.upkeep.get(note_file or "")
        if news is not None:
            yield from map(str.strip, news.lines())
        if upkeep is not None:
            yield from upkeep.count_lines()
            yield from (one.line() for one in upkeep.over_a_limit())
            yield from upkeep.waiting_lines()
            yield from upkeep.sentences()
