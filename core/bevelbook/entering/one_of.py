"""A record that belongs to exactly one of several others: a photograph hangs on an opening, or a part, or a bottle."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any

from bevelbook.declare.errors import InputError, Place, with_article
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.records import Kind
from bevelbook.store.schema import selected_columns


def refuse_not_one_of(
    connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]
) -> None:
    """Raise InputError where a record, with ``values`` written into it, would belong to none or to several."""
    if not kind.one_of or (row_id is not None and values.keys().isdisjoint(kind.one_of)):
        return
    there: dict[str, Any] = {}
    if row_id is not None:
        row = connection.execute(
            f"SELECT {selected_columns(kind.table, kind.one_of)} FROM {kind.table} WHERE id = ?", (row_id,)
        ).fetchone()
        there = dict(zip(kind.one_of, row, strict=True)) if row is not None else {}
    filled = [name for name in kind.one_of if {**there, **values}.get(name) is not None]
    if len(filled) == 1:
        return
    what = f"{with_article(kind.name.replace('_', ' '))} belongs to one thing"
    if not filled:
        raise InputError(
            f"{what}, and none was given",
            code="none_of_several",
            place=Place(field=kind.one_of[0]),
            remedy=Sentence("Give one of ", *_listed(kind.one_of), "."),
        )
    raise InputError(
        f"{what}, not to {len(filled)}",
        code="several_of_one",
        place=Place(field=next((name for name in filled if values.get(name) is not None), filled[0])),
        remedy=Sentence("Leave all but one of ", *_listed(filled), " empty. Nothing was changed."),
    )


def _listed(names: tuple[str, ...] | list[str]) -> list[str | Named]:
    """Fields one after the other, with commas and an "or"."""
    found: list[str | Named] = []
    for place, name in enumerate(names):
        if place:
            found.append(" or " if place == len(names) - 1 else ", ")
        found.append(Named(name))
    return found
