"""What is said of a column's unit, in all the places where a sheet says it, and what follows for a cell.

A unit that a cell names holds for the cell. Else the unit is what a column beside, the number format of a workbook, a
row of units, the heading or a profile says. Two of these that disagree, or one that cannot be used, refuse the column's
numbers; only a profile settles what heading and row of units say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.errors import shown
from bevelbook.declare.fields import Field
from bevelbook.notes.headings import Heading
from bevelbook.notes.layout import Layout
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.settings import Settings
from bevelbook.reading import ReadingError
from bevelbook.reading.faults import fault
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.units import UnitError, scale_of

_PROFILE: Final = "the profile"


class SaidUnit(NamedTuple):
    """A unit as written, and where; empty for the unit in a canonical name such as ``oil_mass_g``."""

    unit: str
    where: str


class ColumnUnit(NamedTuple):
    """What is said of the unit of one column as a whole; ``beside`` is the heading of a column of units for it."""

    said: tuple[SaidUnit, ...] = ()
    beside: str = ""

    @property
    def unit(self) -> str | None:
        """The unit that is said first, as written; None if none is."""
        return self.said[0].unit if self.said else None

    @property
    def is_by_person(self) -> bool:
        """Whether a person said it, against all that the sheet says."""
        return bool(self.said) and self.said[0].where == _PROFILE


NOTHING_SAID: Final = ColumnUnit()


def column_units(
    heading: Heading, layout: Layout, settings: Settings, unit_places: Mapping[int, int]
) -> dict[str, ColumnUnit]:
    """What is said of the unit of each known column. ``unit_places`` are the places of columns of units."""
    by_place = {column.place: column.heading for column in heading.columns}
    beside = {of: by_place[place] or f"number {place + 1}" for place, of in unit_places.items()}
    found: dict[str, ColumnUnit] = {}
    for name, column in heading.known.items():
        said: list[SaidUnit] = []
        if name in settings.units:
            said = [SaidUnit(settings.units[name], _PROFILE)]
        elif column.field is not None:
            if column.place in layout.units:
                said.append(SaidUnit(layout.units[column.place], f"the row of units in line {layout.units_line}"))
            if column.unit is not None:
                said.append(SaidUnit(column.unit, f"the heading {shown(column.heading)}"))
        found[name] = ColumnUnit(tuple(said), beside.get(column.place, ""))
    return found


def unit_of_cell(field: Field, column: ColumnUnit, text: str, *, typed: str, beside: str, shown_unit: str) -> str:
    """The unit of one number: the one typed with it, else what is said elsewhere; empty if nothing is said.

    ``beside`` is the cell of a column of units, ``shown_unit`` what the number format of a workbook shows. Raises
    ReadingError (units_disagree, or why a unit cannot be used).
    """
    of_cell = [
        SaidUnit(typed, "the cell"),
        SaidUnit(beside, f"the column {shown(column.beside)}"),
        SaidUnit(shown_unit, "its number format"),
    ]
    said = [one for one in of_cell if one.unit]
    if not typed:
        said += column.said
    if len(said) == 1 and typed:
        return typed  # its fault is the cell's own
    scales = [_scale(field, one, text) for one in said]
    for scale, one in zip(scales, said, strict=True):
        if scale != scales[0]:
            raise fault(
                field,
                "units_disagree",
                f"{_in_words(field, said[0])}, and {_in_words(field, one)}",
                text,
                remedy=_remedy(field, "Correct one of them"),
            )
    return said[0].unit if said else ""


def _scale(field: Field, said: SaidUnit, text: str) -> object:
    try:
        return scale_of(field.read_in, said.unit)
    except UnitError as error:
        raise fault(
            field,
            error.code,
            f"{_in_words(field, said)} for its unit: {error.what}",
            text,
            wanted=error.wanted,
            remedy=_remedy(field, (error.remedy or "Correct it").removesuffix(".")),
        ) from None


def _in_words(field: Field, said: SaidUnit) -> str:
    return f"{said.where} says {shown(said.unit or field.unit or '')}"


def _remedy(field: Field, first: str) -> str:
    return f'{first}, or say it in a profile: units: {{{field.name}: "{field.unit}"}}.'


def is_usable(field: Field, column: ColumnUnit) -> bool:
    """Whether a bare number of the column has a unit that can be used, or none is said."""
    try:
        unit_of_cell(field, column, "", typed="", beside="", shown_unit="")
    except ReadingError:
        return False
    return True


def temperature_question(field: Field, heading: str, samples: Sequence[str], *, is_needed: bool) -> FileQuestion:
    """What unit a column of temperatures has that says none."""
    return FileQuestion(
        ReadingOption.TEMPERATURE_UNIT,
        f"Is the {field.words} in °C or in °F?",
        (PossibleAnswer("C", "°C"), PossibleAnswer("F", "°F")),
        heading,
        tuple(samples),
        is_needed,
    )
