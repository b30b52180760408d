"""Profiles: what a team's sheet means by its headings, units and words, kept in a YAML file.

::

    columns:
      "Gewicht leer": "dry_mass_g"
      "Laune": "ignore"
    units:
      track_temp_c: "°F"
    words:
      grip: {"griffig": "high"}
    options:
      decimal: ","
      date_order: "dmy"
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from bevelbook.declare.errors import InputError, Place, UnknownNameError, near_misses, shown
from bevelbook.notes.headings import Heading, own_map
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.settings import Settings
from bevelbook.notes.table import DELIMITERS
from bevelbook.reading import ReadingError, read_choice
from bevelbook.reading.units import UnitError, scale_of

SECTIONS: Final = ("title", "about", "columns", "units", "words", "options")
_CHOICES: Final[dict[str, tuple[object, ...]]] = {
    "decimal": (".", ","),
    "date_order": ("dmy", "mdy", "ymd"),
    "temp_unit": ("C", "F", "K"),
    "date_base": (1900, 1904),
}
_OPTIONS: Final = (*_CHOICES, "encoding", "delimiter", "header_line", "allow_out_of_range")


def read_profile(path: Path) -> Settings:
    """The settings that a profile's file holds. Raises InputError with the place and near misses."""
    place = Place(str(path))
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as fault:
        raise InputError("the profile cannot be read", code="no_file", place=place, found=fault.strerror) from None
    except UnicodeDecodeError:
        raise InputError(
            "the profile is not in UTF-8", code="profile_encoding", place=place, remedy="Save it as UTF-8."
        ) from None
    return profile_from(text, str(path))


def profile_from(text: str, name: str) -> Settings:
    """The settings that a profile's text holds. Raises InputError."""
    import yaml

    place = Place(name)
    try:
        found = yaml.safe_load(text) or {}
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None)
        raise InputError(
            "the profile is no YAML",
            code="profile_yaml",
            place=Place(name, mark.line + 1 if mark else None),
            remedy="Put texts in quotes, and two blanks before what belongs to a section.",
        ) from None
    if not isinstance(found, dict):
        raise _wrong(place, "", "a profile is a list of sections", f"sections {', '.join(SECTIONS)}")
    _check_names("section", found, SECTIONS, place)
    columns = _texts(found, "columns", place)
    units = _texts(found, "units", place)
    try:
        mapped = own_map(columns.items())
    except UnknownNameError as fault:
        raise _misnamed(fault, place, "columns") from None
    _check_units(units, place)
    return Settings(
        columns=mapped, units=units, words=_words(found.get("words"), place), **_options(found.get("options"), place)
    )


def profile_text(heading: Heading, settings: Settings, units: Mapping[str, str | None]) -> str:
    """A profile for a file's headings, to be filled in: what is known stands there, the rest waits as ``ignore``."""
    lines = ["# What the headings of this sheet mean. Fields: " + ", ".join(BY_NAME), "columns:"]
    for column in heading.columns:
        if column.heading:
            lines.append(f"  {_quoted(column.heading)}: {_quoted(column.field.name if column.field else 'ignore')}")
    said = {name: unit for name, unit in units.items() if unit}
    lines.append('# Units of columns whose heading and cells say none, such as track_temp_c: "°F"')
    lines.append("units:" + ("" if said else " {}"))
    lines += [f"  {name}: {_quoted(unit)}" for name, unit in said.items()]
    lines.append('# Words of the team for the words that are kept, such as grip: {"grippy": "high"}')
    lines.append("words:" + ("" if settings.words else " {}"))
    for name, words in settings.words.items():
        inside = ", ".join(f"{_quoted(word)}: {_quoted(meant)}" for word, meant in words.items())
        lines.append(f"  {name}: {{{inside}}}")
    options = {name: getattr(settings, name) for name in _OPTIONS if getattr(settings, name) not in (None, False)}
    lines.append("options:" + ("" if options else " {}"))
    for name, value in options.items():
        shown_value = _quoted(value) if isinstance(value, str) else str(value).lower()
        lines.append(f"  {name}: {shown_value}")
    return "\n".join(lines) + "\n"


def _words(found: object, place: Place) -> dict[str, dict[str, str]]:
    if found is None:
        return {}
    if not isinstance(found, dict):
        raise _wrong(place, "words", "not a list of fields", 'grip: {"grippy": "high"}')
    choices = [name for name, field in BY_NAME.items() if field.kind == "choice"]
    _check_names("field with words", found, choices, place)
    words: dict[str, dict[str, str]] = {}
    for name, meant in found.items():
        pairs = _texts(found, name, place) if isinstance(meant, dict) else {}
        if not pairs:
            raise _wrong(place, f"words, {name}", "no words", f'{name}: {{"word": "{BY_NAME[name].choices[0]}"}}')
        try:
            words[name] = {
                word.strip().casefold(): str(read_choice(BY_NAME[name], value)) for word, value in pairs.items()
            }
        except ReadingError as fault:
            raise InputError(
                fault.what, code=fault.code, place=place, found=fault.found, wanted=fault.wanted, remedy=fault.remedy
            ) from None
    return words


def _options(found: object, place: Place) -> dict[str, Any]:
    if found is None:
        return {}
    if not isinstance(found, dict):
        raise _wrong(place, "options", "not a list of options", 'decimal: ","')
    _check_names("option", found, _OPTIONS, place)
    options: dict[str, Any] = {}
    for name, value in found.items():
        if name in _CHOICES and value not in _CHOICES[name]:
            raise _wrong(place, f"options, {name}", str(value), " or ".join(map(str, _CHOICES[name])))
        if name == "allow_out_of_range" and not isinstance(value, bool):
            raise _wrong(place, f"options, {name}", str(value), "true or false")
        if name == "header_line" and (not isinstance(value, int) or isinstance(value, bool) or value < 1):
            raise _wrong(place, f"options, {name}", str(value), "a line from 1")
        if name == "delimiter":
            value = delimiter_called(value, place)
        if name == "encoding" and not isinstance(value, str):
            raise _wrong(place, f"options, {name}", str(value), "a name such as cp1252")
        options[str(name)] = value
    return options


def delimiter_called(value: object, place: Place) -> str:
    """A delimiter by its sign or its name."""
    if isinstance(value, str):
        if value.strip().lower() in DELIMITERS:
            return DELIMITERS[value.strip().lower()]
        if value in ("\\t", "tab"):
            return "\t"
        if len(value) == 1 and not value.isalnum() and value not in "\"\r\n'.":
            return value
    raise _wrong(place, "delimiter", str(value), f"one sign, or {', '.join(DELIMITERS)}")


def _check_units(units: Mapping[str, str], place: Place) -> None:
    _check_names("field with a unit", units, [n for n, f in BY_NAME.items() if f.kind == "quantity"], place)
    for name, unit in units.items():
        try:
            scale_of(BY_NAME[name].unit or "1", unit)
        except UnitError as fault:
            raise InputError(
                fault.what, code=fault.code, place=place._replace(column=name), found=unit, remedy=fault.remedy
            ) from None


def _texts(found: Mapping[Any, Any], name: str, place: Place) -> dict[str, str]:
    section = found.get(name)
    if section is None:
        return {}
    if not isinstance(section, dict):
        raise _wrong(place, name, "not a list of pairs", '"heading": "field"')
    for key, value in section.items():
        if not isinstance(key, str) or not isinstance(value, str):
            raise _wrong(
                place, name, f"{key}: {value}", "both in quotes, since YAML reads no as false and 13:37 as 817"
            )
    return dict(section)


def _check_names(kind: str, found: Mapping[Any, Any], known: list[str] | tuple[str, ...], place: Place) -> None:
    for name in found:
        if name not in known:
            raise InputError(
                f"no {kind} is called {shown(str(name))}",
                code="unknown_profile_name",
                place=place,
                wanted=", ".join(known),
                remedy=near_misses(str(name), known) or None,
            )


def _misnamed(fault: UnknownNameError, place: Place, section: str) -> InputError:
    return InputError(fault.what, code=fault.code, place=place._replace(column=section), remedy=fault.remedy)


def _wrong(place: Place, column: str, found: str, wanted: str) -> InputError:
    return InputError(
        "the profile does not hold what it should",
        code="profile_value",
        place=place._replace(column=column or None),
        found=found,
        wanted=wanted,
    )


def _quoted(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False)
