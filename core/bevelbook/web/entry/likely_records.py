"""The records that a reference most likely means: those still in use, the one used last first."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.entering.dated_build import is_dated
from bevelbook.facts.made_like import may_be_like_sql
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.store.record_names import names_of
from bevelbook.store.schema import quoted

MOST: Final = 40
"""Records that are offered at most; any other is typed."""
_IN_USE: Final = {
    "build": "t.id IN (SELECT current_build FROM diff_facts)",
    "bottle": "t.empty IS NOT 'yes'",
    "idea": "t.dropped IS NULL AND t.id NOT IN (SELECT tries FROM builds WHERE tries IS NOT NULL)",
}
"""The records of a kind that may still be meant."""
_ANY_BUILD: Final = frozenset({"like"})
"""References to a build that may be over."""
_LOOKED_AT: Final = 200
"""The last records that are looked at for which ones they refer to."""


def target_of(kind: Kind, field: Field) -> Kind:
    """The kind of record whose names a reference takes: for the build of a day that of its diff, which means the build
    in use on that day."""
    assert field.target is not None
    means_diff = field.target == "build" and (is_dated(kind) or kind.name == "run")
    return BY_NAME["diff" if means_diff else field.target]


def likely_records(connection: sqlite3.Connection, kind: Kind, field: Field, *, but: str = "") -> list[str]:
    """The names of the records that a field of a record of this kind most likely refers to, at most ``MOST``.

    Those that such a record referred to last come first, then the newest; the one with the id ``but`` is left out, and
    where it is a build, those that it cannot have been made like.
    """
    target = target_of(kind, field)
    where = _IN_USE.get(target.name, "1") if field.name not in _ANY_BUILD else "1"
    if kind.name == "build" and field.name in _ANY_BUILD and but:
        where = may_be_like_sql("t", ":but")
    if target.name in JOINED_KINDS:
        where = f"{where} AND {stands_alone_sql(target.name, 't.id')}"
    given = {"but": but}
    used = connection.execute(
        f"SELECT t.id FROM ({_last_used(kind, field, target)}) u JOIN {target.table} t ON t.id = u.id WHERE {where} "
        f"AND t.id <> :but GROUP BY t.id ORDER BY max(u.place) DESC, t.id LIMIT {MOST}",
        given,
    ).fetchall()
    newest = connection.execute(
        f"SELECT t.id FROM {target.table} t WHERE {where} AND t.id <> :but ORDER BY t.rowid DESC LIMIT {MOST}", given
    ).fetchall()
    ids = list(dict.fromkeys(row[0] for row in (*used, *newest)))[:MOST]
    names = names_of(connection, target, ids)
    return list(dict.fromkeys(names[one] for one in ids))


def _last_used(kind: Kind, field: Field, target: Kind) -> str:
    """The SQL of which records the last ones of this kind refer to, with their place in time."""
    if kind.name == "run" and field.name not in kind.columns:
        kind, column = BY_NAME["run_diff"], "build"
    else:
        column = field.name
    last = f"SELECT {quoted(column)} AS id, rowid AS place FROM {kind.table} ORDER BY rowid DESC LIMIT {_LOOKED_AT}"
    if target.name == "diff" and field.target == "build":
        return f"SELECT b.diff AS id, s.place FROM ({last}) s JOIN builds b ON b.id = s.id"
    return last
