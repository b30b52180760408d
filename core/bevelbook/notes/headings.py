"""Heading texts to canonical columns: the user's map, else exact synonyms; the unit after it in (), [] or bare."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.errors import UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.declare.unseen import without_unseen
from bevelbook.notes.note_columns import BY_NAME, NAMES, REJECT_FILE_COLUMNS, SYNONYMS, WITH_UNIT
from bevelbook.reading.faults import trimmed
from bevelbook.reading.units import names_unit

IGNORED: Final = "ignore"


class Column(NamedTuple):
    """One column of the file. ``field`` is None if it is unknown; ``unit`` is the one in the heading, None if it has
    none, empty if the canonical name has it."""

    place: int
    heading: str
    field: Field | None
    unit: str | None = None


class Heading(NamedTuple):
    """The heading of a file: the place of its (last) row, its columns and cells, and its rows as written, where they
    are not the cells: two lines that were joined."""

    row: int
    columns: tuple[Column, ...]
    cells: tuple[str, ...]
    delimiter: str
    written: tuple[tuple[str, ...], ...] = ()
    added: int = 0
    """How many columns at the end the file itself does not have."""

    @property
    def first_row(self) -> int:
        """The place of its first row."""
        return self.row - max(len(self.written), 1) + 1

    @property
    def width(self) -> int:
        """Fields up to the last column with a heading."""
        return max((column.place + 1 for column in self.columns if column.heading), default=0)

    @property
    def own_width(self) -> int:
        """The same of the columns that the file itself has."""
        own = self.columns[: len(self.columns) - self.added]
        return max((column.place + 1 for column in own if column.heading), default=0)

    def rows_folded(self) -> set[tuple[str, ...]]:
        """Its rows as they are in the file, folded, up to the last column with a heading."""
        rows = (self.cells, *self.written)
        return {tuple(folded(cell) for cell in cells[: self.own_width]) for cells in rows}

    @property
    def line_before(self) -> int | None:
        """The place of the column that says which line a rejected row had, in a file of rejected rows; else None."""
        places = {folded(column.heading): column.place for column in self.columns if beside(column)}
        return places["line"] if places.keys() >= set(REJECT_FILE_COLUMNS) else None

    @property
    def known(self) -> dict[str, Column]:
        return {column.field.name: column for column in self.columns if column.field}


def folded(heading: str) -> str:
    """A heading without differences of case, blanks, underscores and dots.

    >>> folded(" Dry_Mass ")
    'dry mass'
    """
    plain = unicodedata.normalize("NFC", without_unseen(trimmed(heading))).casefold()
    return " ".join(plain.replace("_", " ").replace(".", " ").split())


def matched(heading: str, place: int, own: Mapping[str, str]) -> Column:
    """The column that a heading names; ``own`` maps folded headings to canonical names, or to ``ignore``."""
    plain = unicodedata.normalize("NFC", without_unseen(trimmed(heading)))
    if not plain:
        return Column(place, "", None)
    low = folded(plain)
    if low in own:
        if own[low] == IGNORED:
            return Column(place, plain, None)
        field = BY_NAME[own[low]]
        return Column(place, plain, field, _unit_behind(plain, field)[1])
    for name, field in BY_NAME.items():
        if low == folded(name):
            return Column(place, plain, field, "" if field.kind == "quantity" else None)
    if low in SYNONYMS:
        return Column(place, plain, BY_NAME[SYNONYMS[low]])
    bare, unit = _split_unit(plain)
    if unit:
        meant = own.get(folded(bare)) or SYNONYMS.get(folded(bare))
        if meant is None and folded(bare) in WITH_UNIT:
            named = WITH_UNIT[folded(bare)]
            meant = named if names_unit(BY_NAME[named].unit or "1", unit) else None
        if meant is None:
            meant = next((one for one, field in BY_NAME.items() if folded(bare) == field.words and field.unit), None)
        if meant and meant != IGNORED and BY_NAME[meant].kind == "quantity":
            bracketed = plain[-1] in ")]"
            if bracketed or names_unit(BY_NAME[meant].unit or "1", unit):
                return Column(place, plain, BY_NAME[meant], unit)
    return Column(place, plain, next((field for field in BY_NAME.values() if low == field.words), None))


def own_map(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The user's headings, folded, with canonical names. Raises UnknownNameError with near misses."""
    more = f"; {IGNORED} leaves the column out"
    return {folded(heading): _called(name, (*NAMES, IGNORED), more) for heading, name in pairs}


def column_called(name: str) -> str:
    """The canonical name of a column by that name or by a heading that people write above it. Raises UnknownNameError
    with near misses.

    >>> column_called("Dry mass"), column_called("unit")
    ('dry_mass_g', 'diff')
    """
    return _called(name, NAMES)


def _called(name: str, names: Sequence[str], more: str = "") -> str:
    wanted = name.strip()
    low = folded(wanted)
    found = next((one for one in names if low == folded(one)), None) or SYNONYMS.get(low)
    if found is None:
        raise UnknownNameError(
            "field", wanted, list(names), by_command=f"'bevelbook help import' lists the fields{more}."
        )
    return found


def beside(column: Column) -> bool:
    """Whether a column is one that the file of rejected rows has besides the input's own."""
    return column.field is None and folded(column.heading) in REJECT_FILE_COLUMNS


def _unit_behind(heading: str, field: Field) -> tuple[str, str | None]:
    bare, unit = _split_unit(heading)
    if unit and field.kind == "quantity" and (heading[-1] in ")]" or names_unit(field.unit or "1", unit)):
        return bare, unit
    return heading, None


def _split_unit(heading: str) -> tuple[str, str]:
    """``dry mass (g)``, ``dry mass [g]``, ``dry mass g``, ``dry_mass_g`` -> the name and the unit's text."""
    for opening, closing in ("()", "[]"):
        if heading.endswith(closing) and opening in heading:
            bare, _, unit = heading[:-1].rpartition(opening)
            return bare.strip(), unit.strip()
    bare, _, unit = heading.replace("_", " ").strip().rpartition(" ")
    return bare.strip(), unit.strip()
