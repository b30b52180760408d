"""Columns that hold the units of other columns: which they are, and of which column each is."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.errors import shown
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.units import tidy
from bevelbook.notes.cells import CellBesideUnit
from bevelbook.notes.decoding import rejected
from bevelbook.notes.headings import Column, matched
from bevelbook.notes.table import Row
from bevelbook.reading.faults import NUMBER_MISSING, trimmed
from bevelbook.reading.heading_words import folded
from bevelbook.reading.units import AMBIGUOUS, SAME, UnitError, looks_like_unit, names_unit, scale_of

_UNIT_WORDS: Final = late_pattern(r"\b(units? of|units?|uom)\b")
_SAME_WORDS: Final = {"temperature": "temp", "temps": "temp", "weight": "mass", "masses": "mass"}


class UnitColumns(NamedTuple):
    """The places of columns of units, with the place of the column that each is for.

    ``by_cells`` are those of which only the cells say that they are one; ``unclear`` those that may be for several.
    """

    places: dict[int, int]
    by_cells: tuple[int, ...] = ()
    unclear: Mapping[int, tuple[int, ...]] = {}


def unit_columns(columns: Sequence[Column], rows: Sequence[Row] = ()) -> UnitColumns:
    """The columns that hold the units of another column, by their headings and by the first rows below these.

    Such a column has ``unit`` in its heading or nothing but units of one quantity in its cells. It is for the column
    that its heading names (``track temp unit``, ``temp scale``); else for the one beside it that has this quantity, of
    two for that before it if it is called ``unit``. Else it is not clear.
    """
    return _SearchForUnits(columns, rows).found()


class _SearchForUnits:
    def __init__(self, columns: Sequence[Column], rows: Sequence[Row]) -> None:
        self.columns = columns
        self.rows = rows
        self.fields = {c.place: c.field for c in columns if c.field and c.field.kind == "quantity"}
        self.places: dict[int, int] = {}
        self.by_cells: list[int] = []
        self.options: dict[int, list[int]] = {}
        self.elsewhere: dict[int, list[int]] = {}
        """Columns of units that are beside none of the columns that they may be for."""

    def found(self) -> UnitColumns:
        names = {folded(column.heading): column.place for column in self.columns if column.place in self.fields}
        names |= {field.name: place for place, field in self.fields.items()}
        known = {column.field.name for column in self.columns if column.field}
        others: list[tuple[Column, str]] = []
        for column in self.columns:
            if column.field is not None or column.is_ignored or not known.issuperset(column.meanings):
                continue
            rest = _without_unit_words(column.heading)
            if rest is None or not rest:
                others.append((column, rest or ""))
                continue
            of = names.get(rest)
            meant = matched(rest, column.place, {}).field
            if of is None and meant:
                of = names.get(meant.name)
            if of in self.fields and of not in self.places.values():
                self.places[column.place] = of
            elif of is None and not (meant and meant.kind == "quantity"):
                others.append((column, rest))
        for column, rest in others:
            self._look_at(column, rest)
        self._settle()
        unclear = {place: left for place in self.options if len(left := self._free(self.options[place])) > 1}
        beside = {self.fields[self.places[place]].unit for place in self.by_cells if place in self.places}
        for place, options in self.elsewhere.items():
            left = self._free(options)
            if left and self.fields[left[0]].unit in beside:
                unclear[place] = [*left, *(of for one, of in self.places.items() if one in self.by_cells)]
        unclear = {place: left for place, left in unclear.items() if not self._says_nothing_new(place, left)}
        by_cells = tuple(place for place in self.by_cells if place in self.places)
        return UnitColumns(self.places, by_cells, {place: tuple(sorted(left)) for place, left in unclear.items()})

    def _look_at(self, column: Column, rest: str) -> None:
        """Find the columns that a column may be for."""
        place = column.place
        says_unit = _without_unit_words(column.heading) is not None
        words = self._words(column)
        if words is None and not says_unit:
            return
        fitting = [of for of, field in self.fields.items() if _name_units(field, words or (), some=says_unit)]
        if says_unit and not rest and not fitting and place - 1 in self.fields:
            fitting = [place - 1]
        if not fitting:
            return
        if not says_unit:
            self.by_cells.append(place)
        shared = {of: len(_words_of(rest or column.heading) & self._words_for(of)) for of in fitting}
        best = max(shared.values())
        if best:
            self.options[place] = [of for of in fitting if shared[of] == best]
            if len(self.options[place]) > 1:
                beside = [of for of in self.options[place] if abs(of - place) == 1]
                self.options[place] = beside if len(beside) == 1 else self.options[place]
            return
        beside = [of for of in fitting if abs(of - place) == 1]
        if beside:
            self.options[place] = beside
        elif says_unit or looks_like_unit(column.heading):
            self.options[place] = fitting
        else:
            self.elsewhere[place] = fitting

    def _settle(self) -> None:
        """Give each column the one that it can only be for, until no more is settled by what the others are for."""
        while True:
            free = {place: self._free(options) for place, options in self.options.items() if place not in self.places}
            settled = next(((place, left[0]) for place, left in free.items() if len(left) == 1), None)
            if settled is None:
                bare = (place for place, left in free.items() if place - 1 in left and self._is_bare(place))
                place = next(bare, None)
                settled = (place, place - 1) if place is not None else None
            if settled is None:
                return
            self.places[settled[0]] = settled[1]

    def _free(self, options: Sequence[int]) -> list[int]:
        return [of for of in options if of not in self.places.values()]

    def _is_bare(self, place: int) -> bool:
        return _without_unit_words(next(one.heading for one in self.columns if one.place == place)) == ""

    def _words(self, column: Column) -> set[str] | None:
        """The units in a column's cells; None if it has none, or other cells."""
        says_unit = _without_unit_words(column.heading) is not None
        own = folded(column.heading)
        words: set[str] = set()
        for row in self.rows:
            word = trimmed(row[column.place]).strip("()[]") if column.place < len(row) else ""
            if not word or word in words or word.lower() in NUMBER_MISSING or folded(word) == own:
                continue
            if not says_unit and not looks_like_unit(word):
                return None
            words.add(word)
        return words or None

    def _words_for(self, place: int) -> set[str]:
        heading = next(one.heading for one in self.columns if one.place == place)
        return _words_of(heading) | _words_of(self.fields[place].words)

    def _says_nothing_new(self, place: int, options: Sequence[int]) -> bool:
        """Whether the cells only say the units that the columns have without them."""
        words = self._words(next(one for one in self.columns if one.place == place)) or set()
        fields = [self.fields[of] for of in options]
        if any(field.unit == "°C" for field in fields):
            return False
        try:
            return all(scale_of(field.read_in, word) == SAME for field in fields for word in words)
        except UnitError:
            return False


def _without_unit_words(heading: str) -> str | None:
    """What a heading has beside the word unit; None if it does not have that word."""
    low = folded(heading).replace("(", " ").replace(")", " ").replace("[", " ").replace("]", " ")
    return " ".join(_UNIT_WORDS.sub(" ", low).split()) if _UNIT_WORDS.search(low) else None


def _words_of(heading: str) -> set[str]:
    words = re.findall(r"[^\W\d_]{2,}", folded(heading))
    return {_SAME_WORDS.get(word, word) for word in words}


def _name_units(field: Field, words: Collection[str], *, some: bool) -> bool:
    """Whether words are units of a field, usable or with two meanings; with ``some`` whether one of them is."""
    unit = field.read_in
    are = [names_unit(unit, word) or tidy(word).lower() in AMBIGUOUS.get(unit, ()) for word in words]
    return any(are) if some else bool(are) and all(are)


def check_unit_columns(found: UnitColumns, columns: Sequence[Column], said: Collection[str], line: int) -> None:
    """Raise FileRejected (units_unclear) if a column of units may be for several columns; ``said`` are the fields whose
    unit a person said."""
    by_place = {column.place: column for column in columns}
    for place, options in found.unclear.items():
        of = [by_place[one] for one in options if (field := by_place[one].field) and field.name not in said]
        if not of or of[0].field is None:
            continue
        called = column_words(by_place[place])
        headings = " or ".join(shown(one.heading) for one in of)
        unit = f'units: {{{of[0].field.name}: "{of[0].field.unit}"}}'
        raise rejected(
            "units_unclear",
            f"{called} holds units, and it may be for {headings}",
            line=line,
            remedy=f"Write {shown(f'{of[0].heading} unit')} above it in the file, or say the units of these columns in "
            f"a profile: {unit}.",
        )


def column_words(column: Column) -> str:
    """What a column is called in a sentence."""
    return f"the column {shown(column.heading)}" if column.heading else f"column {column.place + 1}, without a heading,"


def with_units_beside(rows: Sequence[Row], places: Mapping[int, int]) -> None:
    """Put the cells of columns of units to the numbers that they are for, in place."""
    for row in rows:
        for place, of in places.items():
            if place < len(row) and of < len(row) and trimmed(row[place]):
                row[of] = CellBesideUnit(row[of], trimmed(row[place]))
