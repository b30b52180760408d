"""Heading texts to canonical columns: the user's map, else exact synonyms; the unit after it in (), [] or bare."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.declare.errors import UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.unseen import without_unseen
from bevelbook.notes.note_columns import BY_NAME, MEANINGS, NAMES, REJECT_FILE_COLUMNS
from bevelbook.reading.faults import trimmed
from bevelbook.reading.heading_words import folded, name_and_unit
from bevelbook.reading.units import looks_like_unit, names_unit

IGNORED: Final = "ignore"
_CANONICAL: Final = {" ".join(name.split("_")): field for name, field in BY_NAME.items()}
_DAY_PATTERN: Final = late_pattern(r"[dmytj]{1,4}([-./ ]?[dmytj]{1,4}){1,2}", re.IGNORECASE)
"""How a day is to be written, such as dd.mm.yyyy."""


class Column(NamedTuple):
    """One column of the file. ``field`` is None if it is unknown; ``unit`` is the one in the heading, None if it has
    none, empty if the canonical name has it.

    ``meanings`` are the names of the fields that a word of the trade may mean; where there are several, ``field`` is
    None until the cells decide. ``is_certain`` marks the name of a field, or what a person said; ``is_ignored`` a
    column that a person leaves out.
    """

    place: int
    heading: str
    field: Field | None
    unit: str | None = None
    meanings: tuple[str, ...] = ()
    is_certain: bool = False
    is_ignored: bool = False

    @property
    def is_known(self) -> bool:
        """Whether the heading is known, though its cells may have to decide what it means."""
        return self.field is not None or bool(self.meanings)


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
        return self.places_of_rejects.get("line")

    @property
    def places_of_rejects(self) -> dict[str, int]:
        """The places of the columns that a file of rejected rows has besides its sheet's, by name; else none."""
        places = {folded(column.heading): column.place for column in self.columns if beside(column)}
        return {name: places[name] for name in REJECT_FILE_COLUMNS} if places.keys() >= set(REJECT_FILE_COLUMNS) else {}

    @property
    def numbers(self) -> frozenset[int]:
        """The places of the columns of numbers."""
        return frozenset(column.place for column in self.columns if column.field and column.field.is_number)

    @property
    def known(self) -> dict[str, Column]:
        return {column.field.name: column for column in self.columns if column.field}


def matched(heading: str, place: int, own: Mapping[str, str]) -> Column:
    """The column that a heading names; ``own`` maps folded headings to canonical names, to words of the trade, or to
    ``ignore``."""
    plain = unicodedata.normalize("NFC", without_unseen(trimmed(heading)))
    if not plain:
        return Column(place, "", None)
    if own:
        said = _said(plain, place, own)
        if said is not None:
            return said
    return _built_in(plain)._replace(place=place)


def _said(plain: str, place: int, own: Mapping[str, str]) -> Column | None:
    """The column that a person's own headings name; None if they do not name this one."""
    low = folded(plain)
    if low in own:
        if own[low] == IGNORED:
            return Column(place, plain, None, is_ignored=True)
        if own[low] not in BY_NAME:
            return _of_meanings(plain, MEANINGS[own[low]], None)._replace(place=place)
        field = BY_NAME[own[low]]
        return Column(place, plain, field, _unit_behind(plain, field), (field.name,), is_certain=True)
    for bare, unit, is_marked in name_and_unit(plain):
        meant = own.get(folded(bare), IGNORED)
        if meant == IGNORED:
            continue
        names = _with_unit(MEANINGS.get(meant, (meant,)), unit, is_marked)
        if names:
            column = _of_meanings(plain, names, unit)
            return column._replace(place=place, is_certain=meant in BY_NAME)
    return None


@lru_cache(4096)
def _built_in(plain: str) -> Column:
    """The column that a heading names by itself, at no place yet."""
    low = folded(plain)
    if low in _CANONICAL:
        field = _CANONICAL[low]
        return Column(0, plain, field, "" if field.kind == "quantity" else None, (field.name,), is_certain=True)
    if low in MEANINGS:
        column = _of_meanings(plain, MEANINGS[low], None)
        return column._replace(is_certain=column.field is not None and low == column.field.words)
    for bare, unit, is_marked in name_and_unit(plain):
        names = _with_unit(MEANINGS.get(folded(bare), ()), unit, is_marked)
        if names:
            return _of_meanings(plain, names, unit)
        if is_marked and _DAY_PATTERN.fullmatch(unit) and "date" in (folded(bare), *MEANINGS.get(folded(bare), ())):
            return _of_meanings(plain, ("date",), None)
    return Column(0, plain, None)


def _of_meanings(plain: str, names: tuple[str, ...], unit: str | None) -> Column:
    return Column(0, plain, BY_NAME[names[0]] if len(names) == 1 else None, unit, names)


def _with_unit(names: tuple[str, ...], unit: str, is_marked: bool) -> tuple[str, ...]:
    """Those of the fields that take this unit; where none does and the unit is marked as one, all quantities."""
    quantities = tuple(name for name in names if BY_NAME[name].kind == "quantity")
    fitting = tuple(name for name in quantities if names_unit(BY_NAME[name].read_in, unit))
    return fitting or (quantities if is_marked and len(quantities) == 1 else ())


def own_map(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The user's headings, folded, with canonical names, or with a word of the trade that has several meanings.

    Raises UnknownNameError with near misses.
    """
    more = f"; {IGNORED} leaves the column out"
    return {folded(heading): _called(name, (*NAMES, IGNORED), more) for heading, name in pairs}


def column_called(name: str) -> str:
    """The canonical name of a column by that name or by a heading that people write above it. Raises UnknownNameError
    with near misses.

    >>> column_called("Dry mass"), column_called("unit")
    ('dry_mass_g', 'diff')
    """
    found = _called(name, NAMES)
    return found if found in BY_NAME else MEANINGS[found][0]


def _called(name: str, names: Sequence[str], more: str = "") -> str:
    wanted = name.strip()
    low = folded(wanted)
    found = next((one for one in names if low == folded(one)), None)
    if found is None and low in MEANINGS:
        found = MEANINGS[low][0] if len(MEANINGS[low]) == 1 else low
    if found is None:
        raise UnknownNameError(
            "field", wanted, list(names), by_command=f"'bevelbook help import' lists the fields{more}."
        )
    return found


def without_unit(heading: str) -> str:
    """A heading folded, without the unit or the remark behind it.

    >>> without_unit("Dry weight [g]"), without_unit("oil mass in mg"), without_unit("Notes (driver)")
    ('dry weight', 'oil mass', 'notes')
    """
    for bare, unit, is_marked in name_and_unit(heading):
        if bare and (is_marked or looks_like_unit(unit)):
            return folded(bare)
    return folded(heading)


def names_of(heading: str) -> set[str]:
    """What a person's own map may call a heading: the whole of it, or what is before its unit; folded.

    >>> sorted(names_of("Dry weight [g]"))
    ['dry weight', 'dry weight [g]']
    """
    return {folded(heading), *(folded(bare) for bare, _, _ in name_and_unit(heading) if bare)}


def beside(column: Column) -> bool:
    """Whether a column is one that the file of rejected rows has besides the input's own."""
    return column.field is None and folded(column.heading) in REJECT_FILE_COLUMNS


def _unit_behind(heading: str, field: Field) -> str | None:
    """The unit behind a heading of which a person said what it means; None if there is none."""
    for _, unit, is_marked in name_and_unit(heading):
        if unit and field.kind == "quantity" and (is_marked or names_unit(field.read_in, unit)):
            return unit
    return None
