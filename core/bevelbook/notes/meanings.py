"""What the headings of a sheet mean, where a heading alone does not say it: the cells below it, and the columns beside.

A canonical name and what a person said are certain. A word of the trade gives way to those, and to its own cells: no
column of words is a mass. A word with several meanings, such as ``Track`` or ``Oil``, is settled by the first rows, and
the report says so. What stays open is asked about. A heading near to a known one is proposed, and taken on request.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.notes.columns_of_units import unit_columns
from bevelbook.notes.fitting import could_be, counts_on, fits, has_unit_of, is_oil_like, sampled
from bevelbook.notes.headings import IGNORED, Column, Heading, beside, matched
from bevelbook.notes.mass_pairs import mass_pair
from bevelbook.notes.near_headings import Near, near_fields
from bevelbook.notes.note_columns import BY_NAME, MASSES, NAMES
from bevelbook.notes.places_in_headings import place_and_rest
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.table import Row
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

SAMPLED_ROWS: Final = 200
"""Rows below the heading whose cells decide what it means."""
ASKED_ABOUT: Final = 40
"""Columns without a meaning that are looked at; a sheet with more is not a sheet of notes."""
OIL_AND_MASSES: Final = ("dry_mass_g", "oil_mass_g", "total_mass_g", "viscosity_cst", "fluid")
_SAMPLES: Final = 3
_NOWHERE: Final = -1
"""The place of a field whose value is given for the whole file."""
_MOST_ANSWERS: Final = 3


class Unclear(NamedTuple):
    """A column with cells whose meaning is not known: what it may be, best first, and the one that is proposed."""

    column: Column
    candidates: tuple[str, ...]
    proposal: str | None
    samples: tuple[str, ...]
    is_oil_or_mass: bool


class Understanding(NamedTuple):
    """The heading of a sheet with what its columns mean.

    ``accepted`` has the proposals that were taken, as a person's map has them; ``unclear`` the columns with cells that
    are still not understood.
    """

    heading: Heading
    warnings: tuple[str, ...] = ()
    accepted: Mapping[str, str] = {}
    unclear: tuple[Unclear, ...] = ()
    not_looked_at: int = 0
    """How many more columns with cells and without a meaning there are, past those that are looked at."""

    @property
    def is_without_oil(self) -> bool:
        """Whether no column of oil or masses was understood, and one that was not looks like it."""
        known = self.heading.known
        return not any(name in known for name in OIL_AND_MASSES) and any(one.is_oil_or_mass for one in self.unclear)

    @property
    def half_pair(self) -> tuple[Unclear, ...]:
        """The columns that may be the other one of dry and total mass, where only one of the two was understood."""
        known = self.heading.known
        if ("dry_mass_g" in known) == ("total_mass_g" in known) or "oil_mass_g" in known:
            return ()
        other = "total_mass_g" if "dry_mass_g" in known else "dry_mass_g"
        return tuple(
            one for one in self.unclear if other in one.candidates and (one.is_oil_or_mass or one.proposal == other)
        )

    def questions(self, *, are_needed: bool = False) -> tuple[FileQuestion, ...]:
        """A question about each column that was not understood."""
        return tuple(_question(one, is_needed=are_needed) for one in self.unclear)


def is_plain(heading: Heading) -> bool:
    """Whether every heading says by itself what its column is, so that no cell has to be looked at."""
    return all(
        column.is_ignored or not column.heading or beside(column) or (column.is_certain and column.field)
        for column in heading.columns
    )


def understood(
    heading: Heading, rows: Sequence[Row], *, given: Collection[str] = (), accept: bool = False
) -> Understanding:
    """The meanings of a heading's columns by the first rows below it.

    ``given`` are fields whose value a person gives for the whole file; ``accept`` takes what is proposed.
    """
    sheet = _Meanings(heading, rows, given)
    sheet.claim()
    sheet.settle_by_cells()
    unclear = tuple(sheet.unclear())
    accepted: dict[str, str] = {}
    while accept:
        proposed = next((one for one in unclear if one.proposal), None)
        if proposed is None:
            break
        accepted |= sheet.accept(proposed)
        sheet.settle_by_cells()
        unclear = tuple(sheet.unclear())
    heading = heading._replace(columns=tuple(sheet.columns))
    return Understanding(heading, tuple(sheet.warnings), accepted, unclear, sheet.not_looked_at)


class _Meanings:
    """The columns of a sheet while their meanings are found; ``taken`` has the place of each field with a column."""

    def __init__(self, heading: Heading, rows: Sequence[Row], given: Collection[str]) -> None:
        self.columns = list(heading.columns)
        self.rows = rows
        self.taken: dict[str, int] = dict.fromkeys(given, _NOWHERE)
        self.warnings: list[str] = []
        self.pair: dict[int, str] = {}
        """Two columns that say together which masses they are: one is proposed after the other."""
        self.not_looked_at = 0
        self._cells: dict[int, list[str]] = {}

    def cells(self, place: int) -> list[str]:
        """The cells of a column that say something."""
        if place not in self._cells:
            self._cells[place] = sampled(row[place] for row in self.rows[:SAMPLED_ROWS] if place < len(row))
        return self._cells[place]

    def claim(self) -> None:
        """Give each field the column that names it: certain headings first, then words of the trade that have one
        meaning and cells that could be it. Of two columns of text with the same meaning the first one has it."""
        for column in self.columns:
            if column.is_certain and column.field:
                self.taken.setdefault(column.field.name, column.place)
        for column in self.columns:
            field = column.field
            if field is None or column.is_certain:
                continue
            cells = self.cells(column.place)
            is_text = field.kind in ("text", "reference") and not field.required
            holder = self.taken.get(field.name)
            gives_way = holder not in (None, _NOWHERE) and (is_text or self.columns[holder].is_certain)
            if gives_way or (cells and not could_be(field, cells)) or (field.name == "diff" and counts_on(cells)):
                self.columns[column.place] = column._replace(field=None)
            else:
                self.taken.setdefault(field.name, column.place)

    def settle_by_cells(self) -> None:
        """Settle columns with several meanings, until no more of them is settled by what the others are."""
        is_new = True
        while is_new:
            is_new = False
            for column in self.columns:
                if column.field is None and len(column.meanings) > 1:
                    name = self._by_cells(column)
                    if name is not None:
                        self._take(column._replace(field=BY_NAME[name]), name)
                        self.warnings.append(f"meaning_by_cells:{column.heading}={name}")
                        is_new = True

    def _by_cells(self, column: Column) -> str | None:
        fitting = self._fitting(column)
        free = [name for name in fitting if name not in self.taken]
        if len(free) != 1 or (len(fitting) > 1 and BY_NAME[free[0]].unit == "°C"):
            return None
        return free[0]

    def _fitting(self, column: Column) -> list[str]:
        """The meanings that the cells allow. What may be the label of an oil is its label, as long as no other column
        has it: its viscosity is what a source says. A heading with a unit is one of a number."""
        cells = self.cells(column.place)
        found = [name for name in column.meanings if fits(name, column.unit, cells)]
        if column.unit:
            found = [name for name in found if BY_NAME[name].kind == "quantity"]
        if any(BY_NAME[name].kind == "choice" for name in found):
            found = [name for name in found if BY_NAME[name].kind == "choice"]
        if "viscosity_cst" in found and "fluid" in column.meanings:
            is_viscosity = "fluid" in self.taken or all(has_unit_of(BY_NAME["viscosity_cst"], cell) for cell in cells)
            left_out = "fluid" if is_viscosity else "viscosity_cst"
            found = [name for name in found if name != left_out]
        return found

    def _take(self, column: Column, name: str) -> None:
        self.columns[column.place] = column
        self.taken[name] = column.place

    def accept(self, unclear: Unclear) -> dict[str, str]:
        """Take a proposal; returns it as a person's map has it."""
        column, name = unclear.column, unclear.proposal
        assert name is not None
        said = {folded(column.heading): name}
        self._take(matched(column.heading, column.place, said), name)
        self.warnings.append(f"map_accepted:{column.heading}={name}")
        return said

    def unclear(self) -> Iterator[Unclear]:
        """The columns with cells and without a meaning, each with what it may be."""
        found = unit_columns(self.columns, self.rows)
        of_units = found.places.keys() | found.unclear.keys()
        open_columns = [
            column
            for column in self.columns
            if column.heading
            and not (column.field or column.is_ignored or beside(column))
            and column.place not in of_units
        ]
        waiting = [column for column in open_columns[:ASKED_ABOUT] if self.cells(column.place)]
        left_over = [column.place for column in open_columns[ASKED_ABOUT:]]
        self.not_looked_at = sum(
            1 for place in left_over if any(place < len(row) and row[place].strip() for row in self.rows)
        )
        days = [one for one in waiting if "date" not in self.taken and fits("date", None, self.cells(one.place))]
        pair = mass_pair(waiting, self.rows[:SAMPLED_ROWS])
        for place, name in (pair or self.pair).items():
            self.pair[place] = name
        pair = {place: name for place, name in self.pair.items() if name not in self.taken}
        for column in waiting:
            yield self._unclear(column, pair, is_only_day=days == [column])

    def _unclear(self, column: Column, pair: Mapping[int, str], *, is_only_day: bool) -> Unclear:
        cells = self.cells(column.place)
        in_pair = pair.get(column.place)
        near_by_words = Near((in_pair,), True) if in_pair else near_fields(column.heading, self._diff_at())
        meant = column.meanings or near_by_words.names
        fitting = self._fitting(column._replace(meanings=meant, unit=column.unit or _unit_near(column, meant)))
        near = [name for name in fitting if name not in self.taken]
        if is_only_day and "date" not in near:
            near.insert(0, "date")
        is_placed = bool(place_and_rest(folded(column.heading))[0])
        others = [] if near or is_placed else self._likely(column, cells)
        words_say = [name for name in column.meanings if name not in self.taken]
        answers = (near + others or words_say)[:_MOST_ANSWERS]
        if "diff" not in self.taken and "diff" not in answers:
            answers = [*answers[: _MOST_ANSWERS - 1], "diff"]
        return Unclear(
            column,
            tuple(answers),
            near[0] if is_only_day or (len(near) == 1 and self._is_proposed(column, near_by_words, near[0])) else None,
            tuple(map(str, cells[:_SAMPLES])),
            bool(set(meant) & set(OIL_AND_MASSES)) or is_oil_like(cells),
        )

    def _likely(self, column: Column, cells: Sequence[str]) -> list[str]:
        """What a column may be whose heading says nothing: what its cells look like, as far as the sheet lacks it."""
        names = ["date"]
        if column.unit:
            names += [name for name in NAMES if BY_NAME[name].kind == "quantity"]
        if is_oil_like(cells) and not any(name in self.taken for name in MASSES):
            names += MASSES
        if is_oil_like(cells):
            names += ("fluid", "viscosity_cst")
        names.append("result_note")
        found = [name for name in dict.fromkeys(names) if name not in self.taken and fits(name, column.unit, cells)]
        is_text = not any(_has_number_only(cell) for cell in cells)
        return [name for name in found if name not in ("fluid", "result_note") or is_text]

    def _diff_at(self) -> str:
        """The place in the car that the heading of the diffs names; empty if it names none."""
        place = self.taken.get("diff", _NOWHERE)
        return place_and_rest(folded(self.columns[place].heading))[0] if place != _NOWHERE else ""

    def _is_proposed(self, column: Column, by_words: Near, name: str) -> bool:
        """Whether the only meaning that is left is proposed: not of two columns with diffs at different places."""
        if name == "diff":
            others = (near_fields(one.heading) for one in self.columns if one.place != column.place)
            return not any(one.is_likely and one.names == ("diff",) for one in others)
        return bool(column.meanings) or by_words.is_likely


def _has_number_only(cell: str) -> bool:
    plain = str(cell).strip().replace(",", ".")
    return plain.replace(".", "", 1).lstrip("+-").isdigit()


def _unit_near(column: Column, names: Sequence[str]) -> str | None:
    """The unit behind a heading that only comes near a known one."""
    return matched(column.heading, 0, {folded(column.heading): names[0]}).unit if names else None


def field_answer(name: str) -> PossibleAnswer:
    """The answer that a column holds a field, in words."""
    return PossibleAnswer(name, f"{BY_NAME[name].words}: {BY_NAME[name].about}")


def _question(one: Unclear, *, is_needed: bool) -> FileQuestion:
    answers = [*map(field_answer, one.candidates)]
    answers.append(PossibleAnswer(IGNORED, "leave the column out; its cells are kept beside the row"))
    return FileQuestion(
        ReadingOption.COLUMNS,
        f'What is in the column "{one.column.heading}"?',
        tuple(answers),
        about=one.column.heading,
        samples=one.samples,
        is_needed=is_needed,
    )
