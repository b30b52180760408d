"""A person's settings for a file: options of the command line override those of a profile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import Place
from bevelbook.notes.headings import IGNORED, own_map
from bevelbook.notes.line_range import LineRange, line_range
from bevelbook.notes.questions import FileQuestion
from bevelbook.notes.split_rule import SplitRule, split_rule
from bevelbook.notes.wording import IMPORT_OPTIONS
from bevelbook.reading import Options
from bevelbook.reading.heading_words import folded
from bevelbook.reading.options import ReadingOption

ALL_SHEETS: Final = "all"
"""What is said in place of a sheet's name to import every sheet with a heading of notes."""
_UNITS: Final = {"C": "°C", "F": "°F", "K": "K"}
_WHOLE: Final = (ReadingOption.DATE_BASE, ReadingOption.HEADER_LINE, ReadingOption.YEAR)
_NOT_KEPT: Final = ("today", "accept_map", "named_headings", "profile_headings")
_OF_THE_SHEET: Final = (
    *("encoding", "header_line", "lines", "sheet", "sheet_as_diff"),
    *("as_above", "transpose", "constants"),
)
"""What says where and how the rows are in a sheet: the file of its rejected rows, written by this program, is a plain
table of them, with a column for each constant."""


class Settings(NamedTuple):
    """Everything that settles how a file is read. None: only proof counts."""

    decimal: str | None = None
    date_order: str | None = None
    temp_unit: str | None = None
    encoding: str | None = None
    date_base: int | None = None
    delimiter: str | None = None
    header_line: int | None = None
    lines: str | None = None
    allow_out_of_range: bool = False
    accept_map: bool = False
    columns: Mapping[str, str] = {}
    units: Mapping[str, str] = {}
    words: Mapping[str, Mapping[str, str]] = {}
    today: str | None = None
    constants: Mapping[str, str] = {}
    """The cells of columns that the file does not have, the same for all rows, by canonical name."""
    as_above: Sequence[str] = ()
    """The columns in which a blank cell or a ditto mark means the cell above."""
    transpose: bool = False
    """Whether the columns of the file are the rows of notes."""
    year: int | None = None
    months: Mapping[str, int] = {}
    sheet: str | None = None
    """The sheet of a workbook, or ``all``."""
    sheet_as_diff: bool = False
    """Whether the name of the sheet is the diff of its rows, where no column says it."""
    split: Mapping[str, Any] = {}
    """The section of a profile that splits cells with one value for each place in the car."""
    split_place: str | None = None
    """The place of which the values are read, where cells are split."""
    named_headings: Sequence[str] = ()
    """The headings that a person named one by one, as typed: each has to be in the file. Not kept."""
    profile_headings: Sequence[str] = ()
    """The headings that a profile of the team names; one that the file does not have is a warning. Not kept."""
    settled: Mapping[str, Mapping[str, Any]] = {}
    """For rejected rows: what the cells of their sheet settled, by canonical name of the column; the keys are those of
    :class:`~bevelbook.reading.Options`. An option holds for columns of which nothing was settled."""

    def reading_options(self) -> Options:
        from bevelbook.reading.dates import today_iso

        return Options(
            self.decimal,
            self.date_order,
            self.temp_unit,
            self.date_base,
            self.today or today_iso(),
            year=self.year,
            months=self.months,
        )

    @property
    def part(self) -> str:
        """The part of the file that is read, as it counts for the id of the kept file; empty for all of it.

        A part is named in words, such as ``lines 1-40``; several are joined by a comma.
        """
        parts = [f"sheet {self.sheet}"] if self.sheet is not None and not self.all_sheets else []
        if self.lines:
            parts.append(f"lines {self.lines}")
        return ", ".join([*parts, self.split_place] if self.split_place else parts)

    @property
    def split_rule(self) -> SplitRule | None:
        """How cells with one value for each place are split; None where none are."""
        return split_rule(self.split) if self.split else None

    @property
    def is_in_parts(self) -> bool:
        """Whether the file is read in parts, each with a report of its own."""
        return self.all_sheets or (bool(self.split) and self.split_place is None)

    def for_each_place(self) -> list[Settings]:
        """These settings for each of the parts that the cells are split into; themselves where none are."""
        rule = self.split_rule
        return [self._replace(split_place=place) for place in rule.into] if rule else [self]

    @property
    def line_range(self) -> LineRange | None:
        """The lines that are read; None for all."""
        return line_range(self.lines, Place(column=IMPORT_OPTIONS[ReadingOption.LINES].name)) if self.lines else None

    def for_part_of(self, kept: Settings) -> Settings:
        """These settings, for the part of the file that a kept file is: what it was read with says which."""
        return self._replace(
            sheet=kept.sheet,
            lines=kept.lines,
            sheet_as_diff=self.sheet_as_diff or kept.sheet_as_diff,
            split=(self.split or kept.split) if kept.split_place else {},
            split_place=kept.split_place,
        )

    def for_rejects(self) -> Settings:
        """These settings for the file of the rejected rows of a sheet that was read with them."""
        names = [*_OF_THE_SHEET]
        if self.transpose:
            names.append("delimiter")
        if self.split_place:
            names += ["split", "split_place"]
        return self._replace(**{name: self._field_defaults[name] for name in names})

    @property
    def all_sheets(self) -> bool:
        """Whether all sheets with a heading of notes are wanted."""
        return self.sheet is not None and self.sheet.strip().casefold() == ALL_SHEETS

    def answered(self, question: FileQuestion, value: str, columns: Mapping[str, str] | None = None) -> Settings:
        """These settings with the answer to a question; ``value`` is what its option takes.

        ``columns`` are the fields by heading, where they are known: the unit of temperatures is then that of the column
        asked about, else of all that have none. Raises UnknownNameError for a field that does not exist.
        """
        option = question.option
        if option is ReadingOption.COLUMNS:
            heading, _, name = value.rpartition("=")
            return self._replace(columns={**self.columns, **own_map([(heading or question.about, name)])})
        if option is ReadingOption.CONSTANT:
            name, _, cell = value.partition("=")
            return self._replace(constants={**self.constants, name: cell})
        if option is ReadingOption.TEMPERATURE_UNIT and question.about in (columns or {}):
            return self._replace(units={**self.units, (columns or {})[question.about]: _UNITS[value]})
        is_flag = self._field_defaults[option.value] is False
        taken: Any = is_flag or (int(value) if option in _WHOLE else value)
        changed: dict[str, Any] = {option.value: taken}
        return self._replace(**changed)

    def over(self, other: Settings) -> Settings:
        """These settings where set, else the other's."""
        merged: dict[str, Any] = {
            name: mine if mine not in (None, False, (), []) else theirs
            for name, mine, theirs in zip(self._fields, self, other, strict=True)
            if name not in ("columns", "units", "words", "constants", "months", "split", "settled")
        }
        return Settings(
            **merged,
            columns={**other.columns, **self.columns},
            units={**other.units, **self.units},
            words={**other.words, **self.words},
            constants={**other.constants, **self.constants},
            months={**other.months, **self.months},
            split=self.split or other.split,
            settled={**other.settled, **self.settled},
        )

    def over_kept(self, kept: Settings) -> Settings:
        """These settings where set, else those that a kept file was read with before, unless the two would contradict
        one another: what is said now of a field is said of it alone, and so is a unit of temperatures."""
        named = {self.columns.get(folded(heading)) for heading in self.named_headings} - {IGNORED}
        said_now = named | self.constants.keys()
        columns = {heading: name for heading, name in kept.columns.items() if name not in said_now}
        constants = {name: cell for name, cell in kept.constants.items() if name not in named}
        units = kept.units
        if self.temp_unit not in (None, kept.temp_unit):
            units = {name: unit for name, unit in units.items() if unit not in _UNITS.values()}
        return self.over(kept._replace(columns=columns, constants=constants, units=units))

    def of_a_team(self) -> Settings:
        """These settings of a team's own profile, whose headings its sheets should have; the profile of a language has
        those of many teams."""
        return self._replace(profile_headings=tuple(self.columns))

    def with_columns(self, accepted: Mapping[str, str]) -> Settings:
        """These settings with the proposals that were taken, so that the file is read alike with other words."""
        return self._replace(columns={**self.columns, **accepted}, accept_map=False) if accepted else self

    def said(self) -> dict[str, object]:
        """What was said, for the kept file's row."""
        return {
            name: value
            for name, value in self._asdict().items()
            if value not in (None, False, {}, (), []) and name not in _NOT_KEPT
        }
