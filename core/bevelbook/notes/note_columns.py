"""From the declared note row: its headings, and which record columns its cells fill."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.declare.fields import Filling, fields_of
from bevelbook.records import BY_NAME as KINDS_BY_NAME
from bevelbook.records import KINDS
from bevelbook.records.building import Weighing
from bevelbook.records.note_row import NoteRow

COLUMNS: Final = fields_of(NoteRow)
BY_NAME: Final = {field.name: field for field in COLUMNS}
NAMES: Final = tuple(BY_NAME)
REQUIRED_COLUMNS: Final = tuple(field.name for field in COLUMNS if field.required)
MASSES: Final = ("dry_mass_g", "oil_mass_g", "total_mass_g")
LATER: Final = NAMES[NAMES.index("result_note") + 1 :]
"""Columns that came later. They count for the id of a row only if filled, so that a new column does not change the ids
of rows imported before; those up to ``result_note`` always count."""

FILLINGS: Final[dict[str, Filling]] = {field.name: field.filling for field in COLUMNS if field.filling}
SYNONYMS: Final = {heading: name for name, one in FILLINGS.items() for heading in one.headings}
"""Headings in lower case with one blank between words, besides the canonical names."""
WITH_UNIT: Final = {heading: name for name, one in FILLINGS.items() for heading in one.headings_with_unit}
"""Headings that name a column only with one of its units after them."""

REJECT_FILE_COLUMNS: Final = ("line", "reason", "column")
"""The columns that the file of rejected rows has besides the input's own."""

WORKED_OUT: Final[dict[str, tuple[str, ...]]] = {
    "build": ("label", "viscosity_from"),
    "weighing": ("build", "mass_basis"),
    "run": ("label",),
    "run_diff": ("run", "build"),
}
"""The records that a row may become, each with the columns that placing adds."""


def filled(kind_name: str) -> dict[str, str]:
    """The columns of a record that cells of the row fill, each with the name of the note column."""
    cls = KINDS_BY_NAME[kind_name].cls
    return {column: name for name, one in FILLINGS.items() for owner, column in one.fills if owner is cls}


STORED: Final = {name: (*worked_out, *filled(name)) for name, worked_out in WORKED_OUT.items()}
"""The columns of each record that an import writes, in order."""
REFERRED: Final = {
    name: kind.name for name, one in FILLINGS.items() if one.named for kind in KINDS if kind.cls is one.named
}
"""Note columns whose cells name another record, with its kind."""


def making(cls: type[Any]) -> tuple[str, ...]:
    """The note columns where a value makes a record of that class."""
    return tuple(name for name, one in FILLINGS.items() if one.makes is cls)


def _loose() -> dict[str, str]:
    classes = {KINDS_BY_NAME[name].cls: name for name in WORKED_OUT}
    found = {}
    for name, one in FILLINGS.items():
        owners = {classes[owner] for owner, _ in one.fills}
        if len(owners) == 1 and not one.of_build and one.makes in (None, Weighing):
            owner = owners.pop()
            found[name] = "run" if owner == "run_diff" else owner
    return found


LOOSE: Final = _loose()
"""Columns that only go into a record made by something else, with that record; a diff in a run comes with its run."""
