"""The columns that hold words of people: what an erasing may take out of a book, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bevelbook.records import BY_TABLE, Kind

_NO_TEXTS: Final = {
    "join": frozenset({"one", "other"}),
    "put_by": frozenset({"code", "subject_table", "subject_id"}),
    "bench_job": frozenset({"at_step"}),
    "bench_step": frozenset({"step"}),
}
"""Columns of text that hold ids and words of the tool."""
_TIME: Final = "_at"
OF_KEPT: Final[Mapping[str, Mapping[str, str]]] = {
    "note_file": {"name": "text", "options": "json", "part": "text"},
    "note_reject": {"column_name": "text", "value": "text", "words": "text", "raw": "json"},
    "note_extra": {"cells": "json keys"},
    "calculation": {
        **dict.fromkeys(("given", "found", "rows", "uncertainties", "origins", "reasons"), "json"),
        "calculated_by": "text",
    },
    "entry": {"made_by": "text", "asked": "typed", "reason": "text"},
}
"""The columns with words of people in what the tool keeps, and how they are read."""
_MARKED_OF_KEPT: Final[Mapping[str, frozenset[str]]] = {
    "entry": frozenset({"asked"}),
    **{name: frozenset(OF_KEPT[name]) - {"column_name"} for name in ("note_reject", "note_extra")},
}
"""The columns of what the tool keeps in which a text is blanked by a mark of its own."""


def text_columns(kind: Kind) -> tuple[str, ...]:
    """The columns of a record that hold words of people.

    >>> from bevelbook.records import BY_NAME
    >>> text_columns(BY_NAME["join"]), text_columns(BY_NAME["weighing"])
    (('note',), ('parts_on_pan', 'note'))
    """
    aside = _NO_TEXTS.get(kind.name, frozenset())
    return tuple(
        field.name
        for field in kind.fields
        if field.kind == "text" and field.name not in aside and not field.name.endswith(_TIME)
    )


def is_marked(table: str | None, version: str | None, column: str | None) -> bool:
    """Whether an erasing ever marks a text in this column: that of a version of a record, or of a row that the tool
    keeps. Numbers, choices and names stay; of a person the name goes.

    >>> is_marked("runs", "v", "note"), is_marked("diffs", "v", "label"), is_marked("people", "v", "name")
    (True, False, True)
    >>> is_marked("builds", None, "note"), is_marked("entries", None, "asked"), is_marked("nothing", None, None)
    (False, True, False)
    """
    kind = BY_TABLE.get(table or "")
    if kind is None or column is None:
        return False
    if kind.own:
        is_name = column == kind.label and kind.name != "person"
        return version is not None and column in text_columns(kind) and not is_name
    return version is None and column in _MARKED_OF_KEPT.get(kind.name, ())
