"""Whether what stands in a file that was rescued agrees with itself, as far as SQLite can still read it.

A program that changes records without their triggers leaves what follows from them as it was: that gives it away.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, DatabaseError
from bevelbook.plugin.guard import one_line
from bevelbook.plugin.registry import Registry
from bevelbook.reports.proof import prove
from bevelbook.store.opened_to_read import open_as_it_is

_PARTS: Final = (
    "versions, entries and clashes",
    "what follows from the records",
    "names and joins as they show",
    "rows of notes on their builds",
    "the search",
    "kept files and pictures",
)
"""The parts of a proof that compare what the file says in two places, without working all results out again."""
LONGEST_S: Final = 60.0
"""The longest that one of them may take; our own figure."""


class OwnAgreement(NamedTuple):
    """What in a file does not agree with itself, each in words, and what of it could not be looked at, with why."""

    disagreeing: tuple[str, ...]
    unchecked: tuple[str, ...]


def own_agreement(path: Path, registry: Registry) -> OwnAgreement:
    """Look at it; the file is only read."""
    try:
        connection = open_as_it_is(path, untouched=True)
    except (DatabaseError, sqlite3.Error, OSError) as fault:
        return OwnAgreement((), (str(fault.what) if isinstance(fault, BevelbookError) else one_line(fault),))
    found: list[str] = []
    unchecked: list[str] = []
    with closing(connection):
        for part in _PARTS:
            for one in prove(connection, path, registry, longest_s=LONGEST_S, only=part).parts:
                found += [f"{part}: {words.removesuffix('.')}." for words in one.found]
                more = one.found_in_all - len(one.found)
                found += [f"{part}: and {more:,} more."] if more else []
                unchecked += [f"{part}: {why}" for why in one.unchecked]
    return OwnAgreement(tuple(found), tuple(unchecked))
