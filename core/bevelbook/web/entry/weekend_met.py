"""A weekend that was fetched, met with the book: what would come of it, and then what came."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, InputError
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.taken_in import TakenIn, take_in, would_take_in
from bevelbook.meeting.unzipped import is_zip
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.records import KINDS
from bevelbook.store.folder_aside import folder_aside

MOST_ROWS: Final = 30_000
"""The most rows of a weekend that a page takes in, as many as lines of a file of notes."""
_MOST_SAID: Final = 20
"""Versions that say something else there of which a page says all; their number stands before them."""
_CALLED: Final = "weekend.zip"
"""What it is called in errors."""


class WeekendMet(NamedTuple):
    """What would come, or came, in lines; whether anything is new, whether that clashes, and what the copy of the book
    as it was before is called."""

    lines: tuple[str, ...]
    is_new: bool
    has_clashes: bool = False
    copy: str = ""


def would_meet(connection: sqlite3.Connection, path: Path, file: BinaryIO, registry: Registry) -> WeekendMet:
    """What would come of it; nothing is written. Raises BevelbookError where it cannot be taken."""
    with _opened(path, file) as other:
        return _said(would_take_in(connection, path, other, _calculators(registry)))


def meet(connection: sqlite3.Connection, path: Path, file: BinaryIO, registry: Registry) -> WeekendMet:
    """Take it in, all of it or nothing; a copy of the book as it was is kept beside it where anything is new."""
    with _opened(path, file) as other:
        return _said(take_in(connection, path, other, _calculators(registry)))


def _calculators(registry: Registry) -> list[Calculator[Any, Any]]:
    return [one.calculator for one in registry.with_rows()]


def _said(taken: TakenIn) -> WeekendMet:
    said = taken.said
    lines = (*said.lines, *(one.sentence for one in said.apart[:_MOST_SAID]))
    return WeekendMet(lines, not said.is_unchanged, bool(said.clashes), taken.copy.name if taken.copy else "")


@contextmanager
def _opened(path: Path, file: BinaryIO) -> Iterator[Path]:
    with folder_aside() as folder:
        zipped = folder / _CALLED
        with zipped.open("xb") as target:
            shutil.copyfileobj(file, target)
        if not is_zip(zipped):
            raise _not_one()
        with ExitStack() as until_used:
            try:
                other = until_used.enter_context(opened_aside(zipped, own=path))
            except DatabaseError as fault:
                if fault.code == "not_ours":
                    raise _not_one() from fault
                raise
            _refuse_many(other)
            yield other


def _refuse_many(other: Path) -> None:
    """Raise InputError for more records than a page takes in: while they are written no other phone can store."""
    with closing(sqlite3.connect(other)) as connection:
        count = sum(connection.execute(f"SELECT count(*) FROM {kind.table}").fetchone()[0] for kind in KINDS)
    if count > MOST_ROWS:
        raise InputError(
            f"it holds {count:,} rows, and a page takes in at most {MOST_ROWS:,}",
            code="not_gathered",
            remedy="Have a later day given, or bring it over as a file: 'bevelbook merge FILE' on the laptop. Nothing "
            "was stored.",
        )


def _not_one() -> InputError:
    return InputError(
        "what it sent is not a weekend",
        code="not_gathered",
        remedy="Look whether that is the right address. Nothing was stored.",
    )
