"""Marks of what was erased that another program changed in the other book.

What was erased on either side is erased on both, so a mark that only the other book has comes in. Where its row says
what no erasing writes, names what none takes out, or has an id that its content does not give, the mark that stands
here stays, and the difference is named. What another program took out, or wrote just as an erasing would, looks like
what somebody did.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Final

from bevelbook.meeting.other_database import OTHER
from bevelbook.meeting.versions_met import Apart
from bevelbook.records import BY_NAME
from bevelbook.store.erased_marks import Mark, marks_as_kept

_KIND: Final = BY_NAME["erasure"]


def marks_apart(connection: sqlite3.Connection) -> Iterator[Apart]:
    """The marks in the other book that another program wrote, by id; asked before the marks of both are united."""
    here = marks_as_kept(connection)
    for row_id, theirs in marks_as_kept(connection, OTHER).items():
        own = here.get(row_id)
        if own == theirs or (theirs.id == row_id and theirs.is_as_made):
            continue
        yield Apart(
            _KIND,
            row_id,
            "",
            None if own is None else own._asdict(),
            theirs._asdict(),
            tuple(_differing(row_id, own, theirs)),
            is_settled=False,
        )


def _differing(row_id: str, own: Mark | None, theirs: Mark) -> Iterator[str]:
    """The columns that differ; where there is no such mark here, what it is of and what is odd in it."""
    for name in _KIND.columns:
        if own is not None:
            if getattr(own, name) != getattr(theirs, name):
                yield name
        elif name == _odd_in(row_id, theirs):
            yield name


def _odd_in(row_id: str, theirs: Mark) -> str:
    if theirs.id != row_id:
        return "row_id"
    return "instead" if theirs.is_of_what_may_go else "column_name"
