"""The headings of a table as inputs of a calculator: which column gives which input, and in which unit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place, near_names
from bevelbook.declare.fields import Field
from bevelbook.plugin.calculator import Formula
from bevelbook.reading import Options
from bevelbook.reading.heading_words import folded, name_and_unit
from bevelbook.reading.units import UnitError, names_unit, scale_of

_SPELLINGS: Final = 4
_ALIKE: Final = 0.8
"""How much of a heading and a name is the same (difflib's ratio) where one is a slip for the other."""


class InputColumn(NamedTuple):
    """A column that gives an input; ``unit`` is that of its numbers that name none, empty for the canonical one."""

    place: int
    heading: str
    field: Field
    unit: str = ""


class TableInputs(NamedTuple):
    """The columns that give inputs, and the headings of the others; ``near`` are inputs that these may have meant,
    ``alike`` those of them that are spelt nearly so."""

    columns: tuple[InputColumn, ...]
    others: tuple[str, ...]
    near: Mapping[str, tuple[str, ...]]
    alike: Mapping[str, tuple[str, ...]]

    def options(self, every: Options) -> dict[str, Options]:
        """How the cells of each input are read: as all are, and in the unit of their column."""
        return {one.field.name: every._replace(unit=one.unit) for one in self.columns}

    def texts(self, cells: Sequence[str]) -> dict[str, str | list[str]]:
        """What a row gives; a cell that is empty gives nothing, and of a listing each line or part is an item."""
        found: dict[str, str | list[str]] = {}
        for place, _, field, _ in self.columns:
            cell = cells[place] if place < len(cells) else ""
            if not cell or cell.isspace():
                continue
            found[field.name] = _items(cell) if field.kind == "listing" else cell
        return found


def table_inputs(formula: Formula[Any, Any], headings: Sequence[str]) -> TableInputs:
    """The inputs that headings name: by an input's name (``dry_mass_g``), as its option has it (``dry-mass``) or in
    words, with a unit behind it or not (``dry mass [oz]``, ``dry mass (oz)``); blanks, lines and case do not matter.

    Raises InputError for two columns of one input, UnitError for a unit that the input does not take.

    >>> from bevelbook.formulas.fill_target import FILL
    >>> found = table_inputs(FILL, ("Dry mass [oz]", "oil_mass_g", "who"))
    >>> [(one.field.name, one.unit) for one in found.columns], found.others
    ([('dry_mass_g', 'oz'), ('oil_mass_g', '')], ('who',))
    """
    names: dict[str, Field] = {}
    for kind in range(_SPELLINGS):
        for field in formula.inputs:
            names.setdefault(_key(_spelt(field)[kind]), field)
    columns: dict[str, InputColumn] = {}
    others: list[str] = []
    for place, heading in enumerate(headings):
        column = _column(names, place, heading)
        if column is None:
            others.append(heading)
            continue
        held = columns.setdefault(column.field.name, column)
        if held is not column:
            raise InputError(
                f"two columns give the {column.field.words}",
                code="given_twice",
                place=Place(column=heading, field=column.field.name),
                found=f"{held.heading} and {heading}",
                remedy="Take one of them out, or call it something else.",
            )
    near = {heading: tuple(_near(names, columns, heading)) for heading in others if heading.strip()}
    alike = {heading: tuple(one for one in found if _is_alike(heading, one)) for heading, found in near.items()}
    return TableInputs(tuple(columns.values()), tuple(others), near, alike)


def _spelt(field: Field) -> tuple[str, ...]:
    """What an input may be called; where two inputs share a word, it is the one's for whom it comes first here."""
    return field.name, field.option.strip("-"), field.stem, field.words


def _column(names: Mapping[str, Field], place: int, heading: str) -> InputColumn | None:
    field = names.get(_key(heading))
    if field is not None:
        return InputColumn(place, heading, field)
    for bare, unit, is_marked in name_and_unit(heading):
        field = names.get(_key(bare))
        if field is None:
            continue
        if field.kind != "quantity":
            return InputColumn(place, heading, field) if is_marked else None
        canonical = field.read_in
        if is_marked or names_unit(canonical, unit):
            return InputColumn(place, heading, field, _unit(field, unit, heading, _key(bare) == _key(field.name)))
    return None


def _unit(field: Field, unit: str, heading: str, has_own: bool) -> str:
    """The unit behind a heading; empty for the canonical one. Raises UnitError, or InputError where the name itself
    says another."""
    try:
        scale = scale_of(field.read_in, unit)
    except UnitError as fault:
        fault.place = Place(column=heading, field=field.name)
        raise
    is_canonical = scale == scale_of(field.read_in, "")
    if has_own and not is_canonical:
        raise InputError(
            f"the heading says two units: {field.name} is in {field.unit}, and behind it stands {unit}",
            code="units_disagree",
            place=Place(column=heading, field=field.name),
            remedy=f"Call it {field.words} [{unit}], or leave the unit out.",
        )
    return "" if is_canonical else unit


def _near(names: Mapping[str, Field], columns: Mapping[str, object], heading: str) -> Iterator[str]:
    """Inputs that no column gives and whose name is like that of a heading, or has a word of it."""
    free = {name: field for name, field in names.items() if field.name not in columns}
    bare = _bare(heading)
    words = set(bare.split())
    alike = [*near_names(bare, free), *(name for name in free if words & set(name.split()))]
    yield from dict.fromkeys(free[name].name for name in alike if name in free)


def _bare(heading: str) -> str:
    """A heading folded, without the unit in brackets behind it."""
    return next((_key(bare) for bare, _, is_marked in name_and_unit(heading) if bare and is_marked), _key(heading))


def _is_alike(heading: str, name: str) -> bool:
    from difflib import SequenceMatcher

    return SequenceMatcher(None, _bare(heading), _key(name)).ratio() >= _ALIKE


def _key(text: str) -> str:
    return folded(text.replace("-", " "))


def _items(cell: str) -> list[str]:
    return [one.strip() for line in cell.splitlines() for one in line.split(";") if one.strip()]
