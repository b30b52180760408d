"""A build is made like one that was there before it: anything else is refused in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from typing import Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.facts.made_like import like_fault
from bevelbook.records import Kind

_SAID_BY: Final = frozenset({"like", "built_on", "day_order", "diff"})


def refuse_odd_like(connection: sqlite3.Connection, kind: Kind, row_id: str, changed: Collection[str]) -> None:
    """Raise InputError if a build, of which the fields ``changed`` were written, is like itself, like a build that was
    built later, or like one that is like it."""
    if kind.name != "build" or _SAID_BY.isdisjoint(changed):
        return
    fault = like_fault(connection, row_id)
    if fault is None:
        return
    if "like" in changed:
        remedy = "Name the build before it that it was made like, or leave that empty."
    else:
        remedy = "Correct the day, or first what it is said to be like."
    raise InputError(
        f"{fault.label} {fault.words}",
        code="like_not_earlier",
        place=Place(field="like" if "like" in changed else next(name for name in changed if name in _SAID_BY)),
        remedy=f"{remedy} Nothing was changed.",
    )
