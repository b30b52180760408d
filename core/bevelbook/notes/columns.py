"""Columns as a whole: decimal mark, order of dates, unit of temperatures; then cells, each spelling once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import islice
from typing import Final, NamedTuple

from bevelbook.declare.errors import near_names, shown
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.cells import SheetDay, SheetFormula, SheetNumber, UnsplitCell, parts_of_cell
from bevelbook.notes.column_units import NOTHING_SAID, ColumnUnit, is_usable, unit_of_cell
from bevelbook.notes.date_order import DayEvidence
from bevelbook.notes.pairs_in_cells import OIL_LABEL, PAIRS_IN_CELLS, is_pair
from bevelbook.notes.wording import PROFILE_SETTLES, worded
from bevelbook.reading import Options, ReadingError, implausible, names_record, read_choice, read_laps, read_text
from bevelbook.reading.date_forms import ORDERS, DayForms, FiveDigits, is_five_digits, is_written_day
from bevelbook.reading.dates import ambiguous_day, days_of, settled_day
from bevelbook.reading.faults import fault, has_control_character
from bevelbook.reading.labels import in_plain_signs, read_label, refuse_ditto
from bevelbook.reading.numbers import (
    Parts,
    ambiguous,
    check_bounds,
    is_sane,
    parts_of,
    refuse_control_characters,
    scale_for,
    wanted_in_words,
)
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.times import read_time
from bevelbook.reading.units import UnitError, UnitScale, converted, scale_of

CACHED_SPELLINGS: Final = 100_000
LONGEST_CACHED: Final = 60
SAMPLES: Final = 3
_DAY: Final = late_pattern(r"\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}:\d{2})?")
"""A day of a workbook as a text."""
_TEMPERATURES: Final = {"C": "°C", "F": "°F", "K": "K"}


class Fault(NamedTuple):
    """Why a cell was not taken."""

    reason: str
    column: str
    value: str
    words: str


class UndecidedError(Exception):
    """A cell has two readings, and the rest of its column is not read yet."""


class Settled(NamedTuple):
    """What was settled for one column of the file. ``certain`` means that the whole column was read.

    Where no ``date_order`` is settled, a day may be in one of ``date_orders``.
    """

    decimal: str | None = None
    date_order: str | None = None
    unit: str | None = ""
    unit_unknown: str = ""
    """Why a bare temperature is not taken, in words; empty if it is."""
    certain: bool = True
    date_orders: tuple[str, ...] = ORDERS
    five_digits: FiveDigits = "number"


class Evidence:
    """What the cells of one column prove, gathered over the whole file."""

    def __init__(self, field: Field, unit: str | None, options: Options, *, has_units_beside: bool = False) -> None:
        self.field = field
        self.unit = unit
        self.has_units_beside = has_units_beside
        self.options = options
        self.proofs: set[str] = set()
        self.two_readings: dict[str, Parts] = {}
        """The first numbers with two readings."""
        self.outside_under = {".": False, ",": False}
        self.celsius_impossible = False
        self.fahrenheit_impossible = False
        self.unitless = False
        self.units_of_cells: dict[str, UnitScale] = {}
        """The units that single cells name, as written there, each with its scale."""
        self.decimals: dict[str | None, int] = {".": 0, ",": 0, None: 0}
        """The most decimals under each mark; under None those of cells that need no mark settled."""
        self.days = DayEvidence(field, options)
        self.samples: list[str] = []
        """Some cells of temperatures without a unit, as written."""
        self._seen: set[str] = set()

    @property
    def wants_unit(self) -> bool:
        """Whether bare temperatures were met and nothing says their unit."""
        return self.unitless and self.options.temperature_unit is None

    def look(self, cells: Iterable[str]) -> None:
        """Take in the cells of a block."""
        new = [text for text in dict.fromkeys(cells) if text not in self._seen]
        if len(self._seen) > CACHED_SPELLINGS:
            self._seen.clear()
        self._seen.update(new)
        is_day = self.field.kind == "date"
        for text in new:
            if text.__class__ is UnsplitCell:
                continue
            try:
                if is_day:
                    self.days.look(text)
                elif text.__class__ is str:
                    self._look_at_number(text, "")
                else:
                    self._look_at_cell(text)
            except ReadingError:
                continue
        if self.unitless and len(self.samples) < SAMPLES:
            self._take_samples(new)

    def _look_at_cell(self, text: str) -> None:
        cell, shown_unit, beside = parts_of_cell(text)
        if isinstance(cell, SheetNumber):
            self._look_at_sheet_number(float(cell), beside or shown_unit)
        elif not isinstance(cell, UnsplitCell):
            self._look_at_number(cell, beside or shown_unit)

    def _take_samples(self, cells: Iterable[str]) -> None:
        for text in islice(cells, 100):
            plain = str(text).strip()
            if len(self.samples) < SAMPLES and plain not in self.samples and plain[-1:].isdigit():
                self.samples.append(plain)

    def _look_at_unit_of_cell(self, unit: str) -> None:
        """Take in a unit that a cell of temperatures names for itself, where nothing says one of the column."""
        if self.unit is None and self.field.unit == "°C" and unit not in self.units_of_cells:
            try:
                self.units_of_cells[unit] = scale_of("°C", unit)
            except UnitError:
                return

    def _look_at_sheet_number(self, value: float, unit: str) -> None:
        if unit:
            self._look_at_unit_of_cell(unit)
        elif self.field.is_number:
            self._look_at_bare_temperature([value])
            self._count_decimals(f"{value:.9g}", ".", None)

    def _look_at_bare_temperature(self, readings: list[float]) -> None:
        """Take in a number without a unit, in its readings, if it is a temperature of which nothing says the unit."""
        if self.unit is None and self.field.unit == "°C" and not self.has_units_beside:
            self.unitless = True
            self.celsius_impossible |= not any(is_sane(self.field, one) for one in readings)
            fahrenheit = scale_of("°C", "°F")
            self.fahrenheit_impossible |= not any(is_sane(self.field, converted(one, fahrenheit)) for one in readings)

    def _look_at_number(self, text: str, unit: str) -> None:
        text = in_plain_signs(text)
        parts = parts_of(self.field, text)
        if parts is None:
            return
        if parts.proof:
            self.proofs.add(parts.proof)
        unit = parts.unit or unit
        if unit:
            self._look_at_unit_of_cell(unit)
        else:
            self._look_at_bare_temperature([one for one in {parts.point, parts.comma} if one is not None])
        if parts.ambiguous:
            if len(self.two_readings) < SAMPLES:
                self.two_readings[text] = parts
            scale = scale_for(self.field, unit or self.unit or "", text)
            for mark in ".,":
                if not is_sane(self.field, converted(parts.under(mark) or 0.0, scale)):
                    self.outside_under[mark] = True
        if unit in ("", "g"):
            for mark, value in ((".", parts.point), (",", parts.comma)):
                if value is not None:
                    self._count_decimals(text, mark, mark)
                    if parts.proof == mark:
                        self._count_decimals(text, mark, None)

    def _count_decimals(self, text: str, mark: str, under: str | None) -> None:
        if mark in text:
            self.decimals[under] = max(self.decimals[under], _decimals(text, mark))

    def decimals_under(self, mark: str | None) -> int:
        """The most decimals of a bare number of the column, once its decimal mark is settled."""
        return max(self.decimals[mark], self.decimals[None])


def unsettled(evidence: Mapping[str, Evidence]) -> dict[str, Settled] | None:
    """The settings for each column before reading it; None if a column has to be read as a whole first."""
    settled: dict[str, Settled] = {}
    for name, one in evidence.items():
        unit, options = one.unit, one.options
        if unit is None and one.field.unit == "°C":
            if options.temperature_unit is None:
                return None
            unit = _TEMPERATURES[options.temperature_unit]
        settled[name] = Settled(options.decimal, options.date_order, unit, certain=False)
    return settled


def settle(evidence: Mapping[str, Evidence]) -> tuple[dict[str, Settled], list[str]]:
    """The settings for each column, and the warnings of the file."""
    warnings: list[str] = []
    numbers = {name: one for name, one in evidence.items() if one.field.is_number}
    marks = set().union(*(one.proofs for one in numbers.values())) if numbers else set()
    if len(marks) == 2:
        warnings.append("mixed_decimal_marks")
    settled: dict[str, Settled] = {}
    for name, one in evidence.items():
        if one.field.kind == "date":
            days = one.days.settle(name, one.options.date_order, warnings)
            settled[name] = Settled(date_order=days.order, date_orders=days.left, five_digits=days.five_digits)
        elif one.field.is_number:
            mark = one.options.decimal or _decimal(one, marks, name, warnings)
            unit, unknown = _temperature_unit(one, name, warnings)
            settled[name] = Settled(decimal=mark, unit=unit, unit_unknown=unknown)
        else:
            settled[name] = Settled()
    return settled, warnings


def _decimal(one: Evidence, marks: set[str], name: str, warnings: list[str]) -> str | None:
    if len(marks) == 2 or "decimal" in one.options.undecided:
        return None
    if marks:
        return next(iter(marks))
    if one.two_readings and one.outside_under["."] != one.outside_under[","]:
        mark = "," if one.outside_under["."] else "."
        warnings.append(f"decimal_mark_by_plausibility:{name}={mark}")
        return mark
    return None


def _temperature_unit(one: Evidence, name: str, warnings: list[str]) -> tuple[str | None, str]:
    """The unit of bare temperatures, or why they are not taken: only where no cell of the column names another unit
    than the one that they would be taken in."""
    if one.unit is not None or one.field.unit != "°C":
        return one.unit, ""
    if one.options.temperature_unit:
        return _TEMPERATURES[one.options.temperature_unit], ""
    if not one.unitless:
        return "", ""
    if one.options.temperature_unknown:
        return "", one.options.temperature_unknown
    if one.celsius_impossible and one.fahrenheit_impossible:
        return "", "the column has no unit, and its values fit neither °C nor °F"
    unit, letter = ("°F", "F") if one.celsius_impossible else ("°C", "C")
    other = next((said for said, scale in one.units_of_cells.items() if scale != scale_of("°C", unit)), None)
    if other is not None:
        return "", f"no unit here, and other cells of the column say {shown(other)}"
    if letter == "F":
        warnings.append(f"unit_by_plausibility:{name}=F")
        return unit, ""
    warnings.append(f"unit_assumed:{name}=C")
    return "", ""


def _decimals(text: str, mark: str) -> int:
    behind = text.rpartition(mark)[2]
    count = 0
    for character in behind:
        if not character.isdigit():
            break
        count += 1
    return count


class Cells(dict[str, object]):
    """The value of every spelling met in one column, read once: a value, None, or a :class:`Fault`.

    ``findings`` has the warning codes of spellings with any, ``settled_by_option`` the reasons of cells that an option
    or a profile would settle.
    """

    def __init__(
        self,
        field: Field,
        settled: Settled,
        options: Options,
        words: Mapping[str, str],
        allow_out_of_range: bool,
        said: ColumnUnit = NOTHING_SAID,
    ) -> None:
        super().__init__()
        self.field = field
        self.settled = settled
        self.options = options
        self.words = words
        self.said = said
        self._is_bare_usable = not said.said or is_usable(field, said)
        self.allow_out_of_range = allow_out_of_range
        self._forms = DayForms(
            options.date_base, options.year, options.months, joined=True, five_digits=settled.five_digits
        )
        self.findings: dict[str, tuple[str, ...]] = {}
        self.faulty = False
        self.settled_by_option: set[str] = set()
        self._read: Callable[[str], object] = {
            "quantity": self._number,
            "whole": self._whole,
            "date": self._day,
            "choice": self._choice,
            "time": self._time,
        }.get(field.kind, self._label if names_record(field) else self._laps if field.of_laps else self._text)

    def is_read_in(self, unit: str) -> bool:
        """Whether bare numbers are read in this unit, or in one that a person said."""
        if self.said.is_by_person:
            return True
        canonical = self.field.read_in
        try:
            return scale_of(canonical, unit) == scale_of(canonical, self.settled.unit or "")
        except UnitError:
            return False

    def trim(self) -> None:
        """Forget all spellings once there are many. Called between blocks, since findings are looked up by spelling."""
        if len(self) > CACHED_SPELLINGS or len(self.findings) > CACHED_SPELLINGS:
            self.clear()
            self.findings.clear()

    def __missing__(self, text: str) -> object:
        value: object
        try:
            if isinstance(text, SheetFormula) or (self.options.of_workbook and text.startswith("=")):
                raise fault(
                    self.field,
                    "formula_in_cell",
                    "a formula whose value is not stored in the file",
                    text,
                    remedy="Open the file in a spreadsheet and save it there, or put in the value.",
                )
            cell = text if text.__class__ is str else parts_of_cell(text)[0]
            if isinstance(cell, UnsplitCell):
                raise fault(self.field, "cell_not_split", cell.what, str(text), remedy=cell.remedy)
            value = self._read(text)
            if value is None and self.field.required:
                value = Fault("missing_required", self.field.name, text, f"{self.field.words} is missing. Fill it in.")
                self.faulty = True
        except ReadingError as error:
            error = self._as_ditto(error, text)
            value = Fault(error.code, self.field.name, text, worded(error))
            self.faulty = True
            if error.settled_by is not None:
                self.settled_by_option.add(error.code)
        if len(text) <= LONGEST_CACHED:
            self[text] = value
        return value

    def _as_ditto(self, error: ReadingError, text: str) -> ReadingError:
        """The same fault, or that the cell only points to the one above."""
        try:
            refuse_ditto(self.field, text)
        except ReadingError as ditto:
            return ditto
        return error

    def _text(self, text: str) -> object:
        if has_control_character(text):
            refuse_control_characters(self.field, text)
        return read_text(str(text))

    def _laps(self, text: str) -> object:
        return read_laps(self.field, str(text), self.options)

    def _label(self, text: str) -> object:
        if isinstance(text, SheetDay) or (self.options.of_workbook and _DAY.fullmatch(text)):
            raise fault(
                self.field,
                "date_in_label",
                "a day in place of a name",
                text,
                wanted=self.field.words,
                remedy="A spreadsheet turns names such as 3-2 into days: format the column as text and type the name.",
            )
        if has_control_character(text):
            refuse_control_characters(self.field, text)
        label = read_label(self.field, str(text))
        if label and label[0].isdigit() and is_written_day(label, self.options.months):
            raise fault(
                self.field,
                "date_in_label",
                "a day in place of a name",
                text,
                wanted=self.field.words,
                remedy="A spreadsheet turns names such as 3-2 into days: type the name. If the day is the name, put a "
                "letter before it.",
            )
        if self.field.name == OIL_LABEL and is_pair(str(text)):
            self.findings[text] = (PAIRS_IN_CELLS,)
        return label

    def _choice(self, text: str) -> object:
        refuse_control_characters(self.field, text)
        word = self.words.get(text.strip().casefold()) or self.words.get(in_plain_signs(text).casefold())
        if word is not None:
            return word
        try:
            return read_choice(self.field, text)
        except ReadingError as error:
            if not error.code.endswith("_unknown"):
                raise
            self.settled_by_option.add(error.code)
            near = near_names(text.strip(), self.field.choices)
            meant = f'"{near[0]}"' if near else "..."  # what is near nothing may mean any of them
            own = f'words: {{{self.field.name}: {{"{text.strip()}": {meant}}}}}'
            raise fault(
                self.field,
                error.code,
                error.what,
                error.found,
                wanted=error.wanted,
                remedy=f"{error.remedy or ''} {PROFILE_SETTLES}{own}".strip(),
            ) from None

    def _day(self, text: str) -> object:
        refuse_control_characters(self.field, text)
        plain = str(text)
        if is_five_digits(in_plain_signs(plain)):
            self._want_certainty()
        days = days_of(self.field, plain, self._forms)
        if days is None:
            return None
        if days.ambiguous and self.settled.date_order is None:
            self._want_certainty()
            days = days.in_orders(self.settled.date_orders)
            if days.ambiguous:
                raise ambiguous_day(self.field, days, plain, self.options.today or "9999-12-31")
        day = settled_day(self.field, days, self.settled.date_order, self.options.today or "", plain)
        if days.warnings:
            self.findings[text] = days.warnings
        return day

    def _time(self, text: str) -> object:
        refuse_control_characters(self.field, text)
        return read_time(self.field, str(text))

    def _number(self, text: str) -> object:
        refuse_control_characters(self.field, text)
        cell, shown_unit, beside = (text, "", "") if text.__class__ is str else parts_of_cell(text)
        plain = str(cell)
        if isinstance(cell, SheetNumber):
            value, unit = float(plain), ""
        else:
            parts = parts_of(self.field, cell)
            if parts is None:
                return None
            if parts.ambiguous and self.settled.decimal is None:
                self._want_certainty()
                raise ambiguous(self.field, cell, parts)
            found = parts.under(self.settled.decimal or ".")
            value, unit = 0.0 if found is None else found, parts.unit
        if beside or shown_unit or not (unit or self._is_bare_usable):
            unit = unit_of_cell(self.field, self.said, plain, typed=unit, beside=beside, shown_unit=shown_unit)
        is_empty_beside = self.said.beside and self.said.unit is None and not self.options.temperature_unit
        if not unit and (self.settled.unit_unknown or (is_empty_beside and self.field.unit == "°C")):
            raise fault(
                self.field,
                "temp_unit_unknown",
                f"the column {self.said.beside} says no unit here" if is_empty_beside else self.settled.unit_unknown,
                plain,
                settled_by=ReadingOption.TEMPERATURE_UNIT,
            )
        scale = scale_for(self.field, unit or self.settled.unit or "", plain)
        value = converted(value, scale) + 0.0
        self._check(value, text, plain)
        return value

    def _whole(self, text: str) -> object:
        value = self._number(text)
        if not isinstance(value, float):
            return value
        if not value.is_integer():
            wanted = wanted_in_words(self.field)
            raise fault(self.field, "number_unparseable", "not a whole number", str(text), wanted=wanted)
        return int(value)

    def _want_certainty(self) -> None:
        if not self.settled.certain:
            raise UndecidedError

    def _check(self, value: float, text: str, plain: str) -> None:
        check_bounds(self.field, value, plain)
        window = self.field.plausible
        if window and not window[0] <= value <= window[1]:
            if not self.allow_out_of_range:
                raise fault(
                    self.field,
                    "out_of_range",
                    implausible(self.field, value) or "out of range",
                    plain,
                    remedy="Correct it.",
                    settled_by=ReadingOption.OUT_OF_RANGE,
                )
            self.findings[text] = ("implausible",)
