"""Taking another database in: what is said of it, and the copy of their own one as it was before."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from bevelbook.meeting.met_words import MetSaid, looked_before, said_met
from bevelbook.meeting.union import merge_into
from bevelbook.plugin.calculator import Calculator
from bevelbook.store.copying import copy_aside
from bevelbook.store.opening import back_up


class TakenIn(NamedTuple):
    """What came of it, and the copy of the database as it was before; none where nothing was changed."""

    said: MetSaid
    copy: Path | None = None


def would_take_in(
    connection: sqlite3.Connection,
    path: Path,
    other: Path,
    calculators: Iterable[Calculator[Any, Any]],
    *,
    allow_invented: bool = False,
) -> TakenIn:
    """What would come of taking another database in, tried on a copy: nothing is written. Raises as ``merge_into``."""
    with closing(copy_aside(connection, path)) as tried:
        return TakenIn(_met(tried, path, other, calculators, allow_invented))


def take_in(
    connection: sqlite3.Connection,
    path: Path,
    other: Path,
    calculators: Iterable[Calculator[Any, Any]],
    *,
    allow_invented: bool = False,
) -> TakenIn:
    """Take another database in, all of it or nothing. A copy of this one as it was is kept beside it, unless nothing
    was written. Raises as ``merge_into``."""
    with _copy_kept(connection, path) as kept:
        said = _met(connection, path, other, calculators, allow_invented)
        kept.is_wanted = not said.is_unchanged
    return TakenIn(said, kept.copy if kept.is_wanted else None)


class _CopyBefore:
    def __init__(self, copy: Path) -> None:
        self.copy = copy
        self.is_wanted = False


@contextmanager
def _copy_kept(connection: sqlite3.Connection, path: Path) -> Iterator[_CopyBefore]:
    """A copy of the database, which goes again if it was not there before and turns out not to be wanted."""
    there = set(path.parent.iterdir())
    kept = _CopyBefore(back_up(connection, path.with_name(f"{path.stem}.before-merge{path.suffix}")))
    try:
        yield kept
    finally:
        if not kept.is_wanted and kept.copy not in there:
            kept.copy.unlink(missing_ok=True)


def _met(
    connection: sqlite3.Connection,
    path: Path,
    other: Path,
    calculators: Iterable[Calculator[Any, Any]],
    allow_invented: bool,
) -> MetSaid:
    before = looked_before(connection)
    met = merge_into(connection, path, other, allow_invented=allow_invented, calculators=calculators)
    return said_met(connection, met, before)
