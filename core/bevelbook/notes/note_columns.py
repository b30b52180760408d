"""From the declared note row: its headings, and which record columns its cells fill."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from bevelbook.declare.fields import Filling, fields_of
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.records import BY_NAME as KINDS_BY_NAME
from bevelbook.records import KINDS
from bevelbook.records.building import Build, Weighing
from bevelbook.records.note_row import NoteRow
from bevelbook.records.track import RunDiff

COLUMNS: Final = fields_of(NoteRow)
BY_NAME: Final = {field.name: field for field in COLUMNS}
NAMES: Final = tuple(BY_NAME)
REQUIRED_COLUMNS: Final = tuple(field.name for field in COLUMNS if field.required)
MASSES: Final = ("dry_mass_g", "oil_mass_g", "total_mass_g")
LATER: Final = NAMES[NAMES.index("result_note") + 1 :]
"""Columns that came later. They count for the id of a row only if filled, so that a new column does not change the ids
of rows imported before; those up to ``result_note`` always count."""

FILLINGS: Final[dict[str, Filling]] = {field.name: field.filling for field in COLUMNS if field.filling}


def _meanings() -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for name, one in FILLINGS.items():
        for heading in dict.fromkeys((*one.headings, BY_NAME[name].words)):
            found.setdefault(heading, []).append(name)
    return {heading: tuple(names) for heading, names in found.items()}


MEANINGS: Final = _meanings()
"""Headings in lower case with one blank between words, besides the canonical names, each with the columns that it may
name; of several the cells decide."""

REJECT_FILE_COLUMNS: Final = ("line", "reason", "column")
"""The columns that the file of rejected rows has besides the input's own."""

WORKED_OUT: Final[dict[str, tuple[str, ...]]] = {
    "build": ("label", "viscosity_from"),
    "weighing": ("build", "mass_basis", "basis_from"),
    "run": ("label",),
    "run_diff": ("run", "build", "temp_place"),
}
"""The records that a row may become, each with the columns that placing adds."""


@cache
def filled(kind_name: str) -> Mapping[str, str]:
    """The columns of a record that cells of the row fill, each with the name of the note column."""
    cls = KINDS_BY_NAME[kind_name].cls
    return {column: name for name, one in FILLINGS.items() for owner, column in one.fills if owner is cls}


STORED: Final = {name: (*worked_out, *filled(name)) for name, worked_out in WORKED_OUT.items()}
"""The columns of each record that an import writes, in order."""
REFERRED: Final = {
    name: kind.name for name, one in FILLINGS.items() if one.named for kind in KINDS if kind.cls is one.named
}
"""Note columns whose cells name another record, with its kind."""

MUST_EXIST: Final = {name: f"{kind}_unknown" for name, kind in REFERRED.items() if KINDS_BY_NAME[kind].needs_more}
"""Note columns that name a record which needs more than its name, with the finding about one that is not there."""


@cache
def making(cls: type[Any]) -> tuple[str, ...]:
    """The note columns where a value makes a record of that class."""
    return tuple(name for name, one in FILLINGS.items() if one.makes is cls)


ONCE: Final = {name: one for name, one in FILLINGS.items() if one.once}
"""Columns whose value goes into one record of the row: the run, else the weighing, else the build."""
_CLASSES: Final = {KINDS_BY_NAME[name].cls: name for name in WORKED_OUT}
_EVERY_RECORD: Final = 3
"""A column that fills the build, the weighing and the run has somewhere to go in every row."""


OF_A_WEIGHING: Final = frozenset(
    name
    for name, one in FILLINGS.items()
    if one.makes is None and not one.once and one.owners == frozenset((Build, Weighing))
)
"""Columns that say more of a weighed mass, be it of a build or of a weighing."""
UNKNOWN_BUILD: Final = "unknown build"
"""The build of a row on a diff without one, of which nobody wrote down the masses."""
CLOSED_WEIGHING: Final = "weighing closed"
"""The weighing of a row whose only mass is that of the closed diff."""


TEMP_AT: Final = {f"{place}_diff_temp_c": place for place in POSITIONS}
"""The columns of the temperature of the diff at a place, with that place."""


def _owners(name: str, one: Filling) -> frozenset[str]:
    owners = {"run" if owner is RunDiff else _CLASSES[owner] for owner in one.owners}
    if one.makes is Weighing:
        return frozenset(owners | {CLOSED_WEIGHING})
    if "weighing" in owners:
        owners.add(CLOSED_WEIGHING)
    return frozenset(owners if name in OF_A_WEIGHING or "build" not in owners else owners | {UNKNOWN_BUILD})


def _loose() -> dict[str, frozenset[str]]:
    found = {}
    for name, one in FILLINGS.items():
        may_be_left = len(one.owners) == 1 if one.makes is Weighing else len(one.owners) < _EVERY_RECORD
        is_left_alone = one.once or (may_be_left and one.makes in (None, Weighing)) or name in TEMP_AT
        if not BY_NAME[name].required and is_left_alone:
            found[name] = _owners(name, one)
    return found


LOOSE: Final = _loose()
"""Columns that only go into a record made by something else, with the records that would take them; a diff in a run
comes with its run. Those of the oil are among them: a row that repeats the oil of its build makes none. So are
temperatures by place: the diff of the row may be at another one."""
