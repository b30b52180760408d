"""Removing one record with a reason: what goes with it, and what has to go first."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.bench import WRITTEN_AT_THE_BENCH
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.kept_past import remove_kept
from bevelbook.store.take_back import is_by_hand, is_placed, point_elsewhere
from bevelbook.store.users import Use, results_about, users_of
from bevelbook.taking_back.words import PART_OF, entry_words, kind_words, record_words

NAMED: Final = 5
"""Records that are named; more are counted."""


_FIRST: Final = "Move or remove those first. Nothing was removed."
_FROM_THE_BENCH: Final = (
    "Work at the bench is not removed by itself: correct what is wrong instead, or take back the entries of that work, "
    "the newest first, down to the one that made this. The history names them. Nothing was removed."
)


class Removal(NamedTuple):
    """A record to be removed, with its name as a sentence says it; ``parts`` go with it, ``results`` follow."""

    kind: Kind
    row_id: str
    name: str
    parts: tuple[tuple[Kind, str], ...]
    results: tuple[str, ...]

    def parts_in_words(self) -> str:
        """What goes with it, counted: ``2 seal fittings, 1 build shim``; empty where nothing does."""
        return parts_in_words(self.parts)


def parts_in_words(parts: Iterable[tuple[Kind, str]]) -> str:
    """Records that are part of another, counted: ``2 seal fittings, 1 build shim``; empty for none."""
    counts: dict[str, int] = {}
    for kind, _ in parts:
        counts[kind.name] = counts.get(kind.name, 0) + 1
    return ", ".join(
        f"{count} {kind_words(BY_NAME[name])}" if count == 1 else f"{count} {BY_NAME[name].title.lower()}"
        for name, count in counts.items()
    )


def removal_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> Removal:
    """What removing a record takes with it: of a build its oils, seals, parts and shims, of a run what was where in it.

    Note rows on a build go to the build that was in use then, if there is one. Nothing is written. Raises InputError,
    naming what uses the record, where anything else does: nothing of that is removed with it.
    """
    parts = tuple(_parts(connection, kind, row_id))
    going: dict[str, set[str]] = {kind.table: {row_id}}
    for part, part_id in parts:
        going.setdefault(part.table, set()).add(part_id)
    name = record_words(connection, kind, row_id)
    stays = [use for use in users_of(connection, going) if not _goes_elsewhere(connection, use)]
    uses = list(dict.fromkeys((use.kind, use.row_id) for use in stays))
    if uses:
        named = [record_words(connection, *use) for use in uses[:NAMED]]
        more = f" and {len(uses) - NAMED} more" if len(uses) > NAMED else ""
        raise InputError(
            f"{name} is used by {', '.join(named)}{more}",
            code="record_in_use",
            remedy=_FROM_THE_BENCH if any(kind.name in WRITTEN_AT_THE_BENCH for kind, _ in uses) else _FIRST,
        )
    entries = EntryBook(connection)
    results: list[str] = []
    for result, _, _, author in results_about(connection, going):
        if author is not None and is_by_hand(entries, author):
            raise InputError(
                f"a result that was kept by {entry_words(entries.by_id.get(author))} is about {name}",
                code="record_in_use",
                remedy="Take back that entry first. Nothing was removed.",
            )
        results.append(result)
    return Removal(kind, row_id, name, parts, tuple(results))


def _parts(connection: sqlite3.Connection, kind: Kind, row_id: str) -> Iterator[tuple[Kind, str]]:
    for part, owner in PART_OF.items():
        if owner == kind.name:
            table = BY_NAME[part].table
            for row in connection.execute(f"SELECT id FROM {table} WHERE {owner} = ? ORDER BY id", (row_id,)):
                yield BY_NAME[part], str(row[0])


def _goes_elsewhere(connection: sqlite3.Connection, use: Use) -> bool:
    """Whether a record is on a build only because notes were placed so, and there is another build to go to.

    The row that made a build itself stays with it: placed again it would make the build once more.
    """
    if use.used.name != "build" or not is_placed(connection, use) or use.row_id[:-1] == use.used_id[:-1]:
        return False
    other = "SELECT 1 FROM builds b JOIN builds o ON o.diff = b.diff AND o.id <> b.id WHERE b.id = ? LIMIT 1"
    return connection.execute(other, (use.used_id,)).fetchone() is not None


def remove(connection: sqlite3.Connection, removal: Removal, by: str | None) -> PlacedAgain:
    """Remove a record, inside the caller's transaction; history keeps it, and the entry the reason.

    Returns which note rows went to another build by it.
    """
    connection.execute(
        "PRAGMA defer_foreign_keys = ON"
    )  # what was written with one that it stands for goes back to that
    aside = point_elsewhere(connection, {removal.kind.table: {removal.row_id}})
    for part, part_id in reversed(removal.parts):
        connection.execute(f"DELETE FROM {part.table} WHERE id = ?", (part_id,))
    connection.execute(f"DELETE FROM {removal.kind.table} WHERE id = ?", (removal.row_id,))
    for result in removal.results:
        remove_kept(connection, BY_NAME["calculation"], "r.id = ?", (result,))
    return place_rows_of_touched_builds(connection, by, aside=aside)
