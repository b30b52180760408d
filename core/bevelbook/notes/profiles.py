"""Profiles: the meaning of a team's headings, units and words, kept in a YAML file.

::

    columns:
      "Gewicht leer": "dry_mass_g"
      "Laune": "ignore"
    units:
      track_temp_c: "°F"
    words:
      grip: {"griffig": "high"}
    months:
      "Februar": 2
    set:
      diff: "K-01"
    split:
      at: "/"
      into: [front, rear]
      columns: ["Oel", "Diff"]
    options:
      decimal: ","
      date_order: "dmy"

``split`` is for cells with one value for each place in the car: ``7k/10k`` is 7k at the front and 10k at the rear. The
file comes in once for each place, as parts of one entry. A cell with another number of values rejects its row;
``alone: both`` takes a single value for every place, never a diff. Where no column has the diffs they are given:
``diffs: {front: "F-03", rear: "R-07"}``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final
from unicodedata import normalize

from bevelbook.declare.errors import InputError, Place, UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.notes.headings import IGNORED, Heading, column_called, own_map
from bevelbook.notes.line_range import line_range
from bevelbook.notes.meanings import Unclear
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.settings import Settings
from bevelbook.notes.split_rule import BOTH
from bevelbook.notes.splitting import POSITION
from bevelbook.notes.table import DELIMITERS
from bevelbook.reading import ReadingError, read_choice
from bevelbook.reading.heading_words import folded
from bevelbook.reading.units import UnitError, scale_of
from bevelbook.reading.yaml_text import OpensBytes, YamlKind, YamlValue, read_yaml, yaml_value

SECTIONS: Final = ("title", "about", "columns", "units", "words", "months", "set", "split", "options")
YAML: Final = YamlKind(
    noun="profile",
    too_long_code="profile_too_long",
    encoding_code="profile_encoding",
    yaml_code="profile_yaml",
    value_code="profile_value",
    name_code="unknown_profile_name",
)
_EXAMPLES: Final = {
    "columns": '"heading": "field"',
    "units": 'track_temp_c: "°F"',
    "words": 'grip: {"grippy": "high"}',
    "months": '"Februar": 2',
    "set": 'diff: "K-01"',
    "split": 'at: "/"',
    "options": 'decimal: ","',
}
"""A line of each section, for errors."""
_CHOICES: Final[dict[str, tuple[str | int, ...]]] = {
    "decimal": (".", ","),
    "date_order": ("dmy", "mdy", "ymd"),
    "temp_unit": ("C", "F", "K"),
    "date_base": (1900, 1904),
}
_OPTIONS: Final = (
    *_CHOICES,
    *("year", "encoding", "delimiter", "header_line", "lines", "as_above", "transpose"),
    *("allow_out_of_range", "accept_map", "sheet", "sheet_as_diff"),
)
_SPLIT: Final = ("at", "into", "columns", "alone", "diffs")
_LONGEST_SIGN: Final = 3
_LONGEST_SAMPLE: Final = 40
_YES: Final = frozenset(("true", "yes", "on"))
_NO: Final = frozenset(("false", "no", "off"))
_LINE_NUMBER: Final = late_pattern(r"[1-9][0-9]{0,8}")
_MONTH: Final = late_pattern(r"[1-9]|1[0-2]")
_YEAR: Final = late_pattern(r"19[89][0-9]|20[0-7][0-9]")


def read_profile(path: OpensBytes) -> Settings:
    """The settings in a profile's file. Raises InputError with file, line and key, and near misses."""
    return _settings(read_yaml(path, YAML))


def profile_from(text: str, name: str) -> Settings:
    """The settings that a profile's text holds; ``name`` is the file's, for errors. Raises InputError."""
    return _settings(yaml_value(text, name, YAML))


def _settings(top: YamlValue) -> Settings:
    if not (top.is_mapping or top.is_nothing):
        raise _wrong(top, f"sections {', '.join(SECTIONS)}")
    found = top.fields(SECTIONS, called="section")
    columns, units, words, months, constants, split, options = (_section(found.get(name)) for name in SECTIONS[2:])
    return Settings(
        columns=_columns(columns),
        units=_units(units),
        words=_words(words),
        months=_months(months),
        constants=_constants(constants),
        split=_split(split),
        **_options(options),
    )


def _section(value: YamlValue | None) -> YamlValue | None:
    """A section, or None where there is nothing in it."""
    if value is None or value.is_nothing:
        return None
    if not value.is_mapping:
        raise _wrong(value, _EXAMPLES[value.path])
    return value


def profile_text(
    heading: Heading, settings: Settings, units: Mapping[str, str | None], unclear: Sequence[Unclear] = ()
) -> str:
    """A profile for a file's headings, to be filled in: known ones are set, those of columns without cells are
    ``ignore``; what is proposed for the others is in comments, since only a person can say it."""
    lines = ["# What the headings of this sheet mean. Fields: " + ", ".join(BY_NAME), "columns:"]
    waiting = {one.column.place for one in unclear}
    for column in heading.columns[: len(heading.columns) - heading.added]:
        if column.heading and column.place not in waiting:
            lines.append(f"  {_quoted(column.heading)}: {_quoted(column.field.name if column.field else IGNORED)}")
    if unclear:
        lines.append(f'  # Not understood. Take the # away and fill in the field, or "{IGNORED}" to leave it out:')
    for one in unclear:
        samples = ", ".join(map(_one_line, one.samples))
        lines.append(f"  # {_quoted(one.column.heading)}: {_quoted(one.proposal or '')}  # {samples}")
    said = {name: unit for name, unit in units.items() if unit}
    lines.append('# Units of columns without one in heading or cells, such as track_temp_c: "°F"')
    lines.append("units:" + ("" if said else " {}"))
    lines += [f"  {name}: {_quoted(unit)}" for name, unit in said.items()]
    lines.append('# Words of the team and what they mean, such as grip: {"grippy": "high"}')
    lines.append("words:" + ("" if settings.words else " {}"))
    for name, words in settings.words.items():
        inside = ", ".join(f"{_quoted(word)}: {_quoted(meant)}" for word, meant in words.items())
        lines.append(f"  {name}: {{{inside}}}")
    if settings.months:
        lines.append("months:")
        lines += [f"  {_quoted(word)}: {number}" for word, number in settings.months.items()]
    lines.append('# Columns that the sheet does not have, each with one value for all rows, such as diff: "K-01"')
    lines.append("set:" + ("" if settings.constants else " {}"))
    lines += [f"  {name}: {_quoted(cell)}" for name, cell in settings.constants.items()]
    lines += _split_lines(settings.split)
    options = {name: getattr(settings, name) for name in _OPTIONS if getattr(settings, name) not in (None, False, ())}
    if settings.as_above:
        options["as_above"] = ",".join(settings.as_above)
    lines.append("options:" + ("" if options else " {}"))
    for name, value in options.items():
        shown_value = _quoted(value) if isinstance(value, str) else str(value).lower()
        lines.append(f"  {name}: {shown_value}")
    return "\n".join(lines) + "\n"


def _columns(section: YamlValue | None) -> dict[str, str]:
    if section is None:
        return {}
    columns: dict[str, str] = {}
    for heading, value in section.pairs().items():
        try:
            columns |= own_map([(heading, value.text())])
        except UnknownNameError as fault:
            raise value.fault(fault.what, code=fault.code, remedy=fault.remedy) from None
    return columns


def _units(section: YamlValue | None) -> dict[str, str]:
    if section is None:
        return {}
    quantities = [name for name, field in BY_NAME.items() if field.kind == "quantity"]
    units: dict[str, str] = {}
    for name, value in section.fields(quantities, called="field with a unit").items():
        units[name] = value.text()
        try:
            scale_of(BY_NAME[name].read_in, units[name])
        except UnitError as fault:
            raise value.fault(fault.what, code=fault.code, found=units[name], remedy=fault.remedy) from None
    return units


def _words(section: YamlValue | None) -> dict[str, dict[str, str]]:
    if section is None:
        return {}
    choices = [name for name, field in BY_NAME.items() if field.kind == "choice"]
    fields = section.fields(choices, called="field with words")
    return {name: _words_of_field(BY_NAME[name], value) for name, value in fields.items()}


def _words_of_field(field: Field, value: YamlValue) -> dict[str, str]:
    pairs = value.pairs()
    if not pairs:
        raise _wrong(value, f'{field.name}: {{"word": "{field.choices[0]}"}}')
    words: dict[str, str] = {}
    for word, meant in pairs.items():
        try:
            words[word.strip().casefold()] = str(read_choice(field, meant.text()))
        except ReadingError as fault:
            raise meant.fault(
                fault.what, code=fault.code, found=fault.found, wanted=fault.wanted, remedy=fault.remedy
            ) from None
    return words


def _months(section: YamlValue | None) -> dict[str, int]:
    months: dict[str, int] = {}
    for word, value in section.pairs().items() if section else ():
        if not _MONTH.fullmatch(value.typed):
            raise _wrong(value, "the number of a month, 1 to 12")
        months[normalize("NFC", word.strip().rstrip(".")).casefold()] = int(value.typed)
    return months


def _constants(section: YamlValue | None) -> dict[str, str]:
    if section is None:
        return {}
    return {_column_called(name, value): value.text() for name, value in section.pairs().items()}


def _column_called(name: str, value: YamlValue) -> str:
    """The canonical name of a column. Raises InputError at the place of ``value``, with near misses."""
    try:
        return column_called(name)
    except UnknownNameError as fault:
        raise value.fault(fault.what, code=fault.code, remedy=fault.remedy) from None


def _split(section: YamlValue | None) -> dict[str, Any]:
    if section is None:
        return {}
    found = section.fields(_SPLIT, needed=_SPLIT[:3], called="key of split")
    at = found["at"].text()
    if not at.strip() or len(at) > _LONGEST_SIGN or any(sign.isalnum() or sign in "\"'.," for sign in at):
        raise _wrong(found["at"], 'the sign between the values, such as "/"; no letter, digit, quote, point or comma')
    into = [_place_in_car(value) for value in found["into"].items()]
    if len(set(into)) != len(into) or len(into) < 2:
        raise _wrong(found["into"], "two or three places in the order of the values, such as [front, rear]")
    columns = [value.text() for value in found["columns"].items()]
    if not columns:
        raise _wrong(found["columns"], 'the headings of the columns to split, such as ["Oil", "Diff"]')
    split: dict[str, Any] = {"at": at.strip(), "into": into, "columns": columns}
    if "alone" in found:
        if found["alone"].typed != BOTH:
            raise _wrong(found["alone"], f"{BOTH}, or nothing: a row with one value is then rejected")
        split["alone"] = BOTH
    if "diffs" in found:
        diffs = found["diffs"].fields(into, needed=into, called="place of this split")
        split["diffs"] = {place: value.text() for place, value in diffs.items()}
        twice = len(set(map(folded, split["diffs"].values()))) < len(into)
        if twice:
            raise _wrong(found["diffs"], f"one diff for each of {', '.join(into)}")
    return split


def _place_in_car(value: YamlValue) -> str:
    try:
        return str(read_choice(BY_NAME[POSITION], value.text()))
    except ReadingError as fault:
        raise value.fault(
            fault.what, code=fault.code, found=fault.found, wanted=fault.wanted, remedy=fault.remedy
        ) from None


def _split_lines(split: Mapping[str, Any]) -> list[str]:
    """The section split of a profile; none where nothing is split."""
    if not split:
        return []
    lines = ["split:", f"  at: {_quoted(split['at'])}", f"  into: [{', '.join(split['into'])}]"]
    lines.append(f"  columns: [{', '.join(map(_quoted, split['columns']))}]")
    if "alone" in split:
        lines.append(f"  alone: {split['alone']}")
    if "diffs" in split:
        lines.append(f"  diffs: {{{', '.join(f'{place}: {_quoted(diff)}' for place, diff in split['diffs'].items())}}}")
    return lines


def _options(section: YamlValue | None) -> dict[str, Any]:
    found = section.fields(_OPTIONS, called="option") if section else {}
    return {name: _option(name, value) for name, value in found.items()}


def _option(name: str, value: YamlValue) -> str | int | bool | tuple[str, ...]:
    typed = value.typed
    if name in _CHOICES:
        by_text = {str(choice): choice for choice in _CHOICES[name]}
        if typed not in by_text:
            raise _wrong(value, " or ".join(by_text))
        return by_text[typed]
    if name in ("allow_out_of_range", "accept_map", "sheet_as_diff", "transpose"):
        if typed.lower() not in _YES | _NO:
            raise _wrong(value, "true or false")
        return typed.lower() in _YES
    if name == "as_above":
        return tuple(_column_called(one, value) for one in typed.split(","))
    if name == "header_line":
        if not _LINE_NUMBER.fullmatch(typed):
            raise _wrong(value, "a line from 1")
        return int(typed)
    if name == "year":
        if not _YEAR.fullmatch(typed):
            raise _wrong(value, "a year such as 2026")
        return int(typed)
    if name == "lines":
        return str(line_range(value.text(), value.place))
    return delimiter_called(value.text(), value.place) if name == "delimiter" else value.text()


def delimiter_called(text: str, place: Place) -> str:
    """A delimiter by its character or name."""
    if text.strip().lower() in DELIMITERS:
        return DELIMITERS[text.strip().lower()]
    if text in ("\\t", "tab"):
        return "\t"
    if len(text) == 1 and not text.isalnum() and text not in "\"\r\n'.":
        return text
    raise InputError(
        "this is not a delimiter",
        code="profile_value",
        place=place,
        found=text,
        wanted=f"one character, or {', '.join(DELIMITERS)}",
    )


def _wrong(value: YamlValue, wanted: str) -> InputError:
    return value.fault("the profile has an invalid value", found=value.typed, wanted=wanted)


def _one_line(text: str) -> str:
    return " ".join(text.split())[:_LONGEST_SAMPLE]


def _quoted(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False)
