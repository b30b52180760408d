"""Placing note rows again after builds were written, changed or removed by hand: one rule for every way of doing so."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from bevelbook.facts.rows_to_place import clear, diffs_with_rows_to_place
from bevelbook.notes.placed_again import PlacedAgain, place_again
from bevelbook.store.take_back import SetAside


def place_rows_of_touched_builds(
    connection: sqlite3.Connection,
    by: str | None,
    *,
    also: Iterable[str] = (),
    aside: Mapping[str, SetAside] = MappingProxyType({}),
) -> PlacedAgain:
    """Place the note rows of every diff again whose builds this transaction touched, where it has rows since then.

    Called inside the transaction, after writing and before the facts are worked out; returns what moved. ``also`` are
    more diffs, by id; for ``aside`` see :func:`place_again`.
    """
    diffs = [*diffs_with_rows_to_place(connection), *also]
    placed = place_again(connection, diffs, by=by, aside=aside) if diffs else PlacedAgain()
    clear(connection)
    return placed
