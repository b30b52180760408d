"""Text and field in, value or reason code out: used for options, forms and imported cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.coverage import COVERAGE_K, EXAMPLE
from bevelbook.declare.errors import near_misses
from bevelbook.declare.fields import LAP_S, LARGEST, Field, fields_of
from bevelbook.reading.date_forms import FiveDigits
from bevelbook.reading.faults import TEXT_MISSING, ReadingError, fault, is_no_value, trimmed
from bevelbook.reading.labels import in_plain_signs, read_label
from bevelbook.reading.laps import LAP, PARTED, laps_in, may_be_joined, of_clock, takes_minutes
from bevelbook.reading.measured import Measured, split_measured
from bevelbook.reading.numbers import (
    Parts,
    ambiguous,
    check_bounds,
    comma_in_words,
    in_digits,
    is_sane,
    is_spreadsheet_error,
    mark_by_hand,
    parts_of,
    plain_value,
    refuse_control_characters,
    refuse_empty,
    scale_for,
    settled,
    unit_in_words,
    wanted_in_words,
)
from bevelbook.reading.units import converted

__all__ = [
    "BY_HAND",
    "Measured",
    "Options",
    "ReadingError",
    "comma_in_words",
    "implausible",
    "names_record",
    "outside_sane_range",
    "read",
    "read_choice",
    "read_laps",
    "read_listing_item",
    "read_listing_values",
    "read_measured",
    "read_text",
    "says_nothing",
]

_FIRST_DAY: Final = "1970-01-01"
"""Before it a day is more likely a slip than a day on which somebody worked on a small car."""
_REST_OF_LAP: Final = "Anything else about a lap goes into the note."
_LEVELS: Final = ("low", "medium", "high")
_LEVEL_WORDS: Final = {"l": "low", "m": "medium", "h": "high", "med": "medium", "mid": "medium", "hi": "high"}


class Options(NamedTuple):
    """Settings for texts that would be ambiguous. None: only proof counts."""

    decimal: str | None = None
    date_order: str | None = None
    temperature_unit: str | None = None
    date_base: int | None = None
    today: str | None = None
    by_hand: bool = False
    year: int | None = None
    months: Mapping[str, int] = {}
    five_digits: FiveDigits | None = None
    """How five digits in a column of days are read; None: its other cells decide."""
    undecided: Sequence[str] = ()
    """The names of options that no cell settles: those of a whole sheet contradict one another."""
    of_workbook: bool = False
    """Whether texts are cells of a workbook, written out: an equals sign begins a formula, and a day is not a name."""
    unit: str = ""
    """The unit of a number that names none, where its heading says one; empty: the canonical one."""
    temperature_unknown: str = ""
    """Why nothing but a person can say the unit of temperatures that say none; empty: the cells may."""


DEFAULT: Final = Options()
BY_HAND: Final = Options(by_hand=True)
"""For options and forms: a dot before three digits is the decimal mark, as help says, not a group mark."""


def read(field: Field, text: str, options: Options = DEFAULT) -> Any:
    """The value of a text for a field: in the canonical unit, ISO 8601, ``14:05``, one of the choices, a day or its
    name, or the text.

    None if the text says that there is none and the field may be left out. Physical bounds are checked; the range
    of sane values is not (see :func:`implausible`). Raises ReadingError.

    >>> from bevelbook.declare.fields import quantity, record
    >>> @record
    ... class Mass:
    ...     oil_mass_g: float = quantity("g", "Oil", minimum=0, plausible=(0, 10))
    >>> read(Mass.fields[0], "1,5 g"), read(Mass.fields[0], "1500 mg")
    (1.5, 1.5)
    """
    refuse_control_characters(field, text)
    value: Any
    if field.kind in ("quantity", "whole"):
        value = _number(field, text, options)
    elif field.kind == "date":
        value = _day(field, text, options)
    elif field.kind == "time":
        from bevelbook.reading.times import read_time

        value = read_time(field, text)
    elif field.kind == "which_day":
        from bevelbook.reading.dates import read_which_day

        value = read_which_day(field, text, options.date_order, options.date_base)
    elif field.kind == "choice":
        value = read_choice(field, text)
    elif field.kind == "listing":
        return tuple(read_listing_item(field, one, options) for one in text.split())
    elif names_record(field):
        value = read_label(field, text)
    elif field.of_laps:
        value = read_laps(field, text, options)
    else:
        value = read_text(text)
    if value is None and field.required:
        raise refuse_empty(field, text)
    return value


def read_measured(field: Field, text: str, options: Options = DEFAULT) -> Measured:
    """A number with its standard uncertainty (k = 1), if one is given.

    ``12.40 +/- 0.02 g (k = 2)``, ``12.40±0.01 g (k = 1)``, ``12.40 g +/- 20 mg``. Without a k the ± is taken as k = 2,
    as every ± is printed. A unit at the end applies to both if the value has none, but for kelvin behind a temperature
    that is sane in °C: ``38 +/- 0.5 K``. The uncertainty of a temperature is a difference: 1 °F is 0.556 °C. Raises
    ReadingError.

    >>> from bevelbook.declare.fields import quantity, record
    >>> @record
    ... class Mass:
    ...     dry_mass_g: float = quantity("g", "Dry", above=0)
    >>> read_measured(Mass.fields[0], "12.40 g +/- 20 mg")
    Measured(value=12.4, uncertainty=0.01, k_taken=True)
    >>> read_measured(Mass.fields[0], "12.40 +/- 0.01 g (k = 1)")
    Measured(value=12.4, uncertainty=0.01, k_taken=False)
    """
    split = split_measured(field, text)
    if split.uncertainty is None:
        return Measured(read(field, text, options))
    if not field.is_number or field.kind == "whole":
        raise fault(field, "number_unparseable", "it takes no uncertainty", text, wanted=wanted_in_words(field))
    refuse_control_characters(field, text)
    value_parts, uncertainty_parts = parts_of(field, split.value), parts_of(field, split.uncertainty)
    if value_parts is None or uncertainty_parts is None:
        raise fault(field, "number_unparseable", "half of it is missing", text, wanted=EXAMPLE)
    unit = value_parts.unit or _unit_at_end(field, value_parts, uncertainty_parts.unit, options, text)
    scale = scale_for(field, unit, text)
    step = scale_for(field, uncertainty_parts.unit or unit, text)
    mark = options.decimal or value_parts.proof or uncertainty_parts.proof
    if mark is None and options.by_hand:
        mark = mark_by_hand(field, value_parts, scale, text)
    value = settled(field, value_parts, scale, mark, text)
    if mark is None and value_parts.ambiguous:
        mark = "." if value == settled(field, value_parts, scale, ".", text) else ","
    if uncertainty_parts.ambiguous and mark is None:
        raise ambiguous(field, text, uncertainty_parts, of="the uncertainty")
    k = COVERAGE_K if split.k is None else split.k
    uncertainty = float(f"{(uncertainty_parts.under(mark or '.') or 0.0) * step.factor / k:.12g}")
    if uncertainty < 0:
        raise fault(field, "out_of_range", "an uncertainty cannot be negative", text)
    if uncertainty > LARGEST:
        raise fault(field, "out_of_range", "an uncertainty out of its bounds", text, wanted=f"at most {LARGEST:g}")
    check_bounds(field, value, text)
    return Measured(value, uncertainty, split.k is None)


def _unit_at_end(field: Field, value: Parts, unit: str, options: Options, text: str) -> str:
    """The unit of a value that has none, by the one behind its uncertainty. Kelvin there may be those of a difference:
    the value then is in the unit of the field, or in the one that was said. Raises ReadingError where both are sane."""
    said = _unit_said(field, options)
    if not unit:
        return said
    scale = scale_for(field, unit, text)
    is_kelvin = field.unit == "°C" and scale.factor == 1.0 and scale.zero != 0.0
    if not is_kelvin:
        return unit
    number = value.under(options.decimal or ".") or 0.0
    is_sane_said = is_sane(field, converted(number, scale_for(field, said, text)))
    is_sane_kelvin = is_sane(field, converted(number, scale))
    if is_sane_said and is_sane_kelvin:
        ways = " or ".join(f"{in_digits(number)} {one} +/- ... K" for one in (said or "°C", unit))
        raise fault(field, "ambiguous_number", "two readings are possible", text, remedy=f"Write {ways}.")
    return unit if is_sane_kelvin else said


def read_listing_item(field: Field, text: str, options: Options = DEFAULT) -> Any:
    """One item of a listing: its values joined by ``:`` in the order declared, ``6:22.34``. Raises ReadingError."""
    values, _ = read_listing_values(field, text, options)
    assert field.item is not None
    return field.item(**values)


def read_listing_values(
    field: Field, text: str, options: Options = DEFAULT
) -> tuple[dict[str, Any], dict[str, Measured]]:
    """The values of one item of a listing by name, and those numbers that have an uncertainty, with it."""
    parts = fields_of(field.item)
    pieces = _pieces(field, text, options)
    needed = len(field.needed_parts)
    if not needed <= len(pieces) <= len(parts):
        raise fault(
            field,
            "listing_item_parts",
            f"it has {counted(len(pieces), 'part')}",
            text,
            wanted=f"{field.needed_shape}, such as {field.item_example}"
            if len(pieces) < needed
            else f"at most {field.item_shape}",
            remedy="Join the values with a colon.",
        )
    values: dict[str, Any] = {}
    uncertain: dict[str, Measured] = {}
    for part, piece in zip(parts, pieces, strict=False):
        if part.kind == "quantity":
            measured = read_measured(part, piece, options)
            if measured.uncertainty is not None:
                uncertain[part.name] = measured
            value: Any = measured.value
        else:
            value = read(part, piece, options)
        if value is not None:
            values[part.name] = value
    return values, uncertain


def _pieces(field: Field, text: str, options: Options) -> list[str]:
    """The parts of one item, between colons. A colon within a time in minutes and seconds parts nothing: it is one
    where what is behind it cannot be the next part, or where only the whole is a sane time. Raises ReadingError where
    both may be meant, as where a bare number would be the next part and that is words, and where neither can be."""
    parts = fields_of(field.item)
    pieces = text.split(":")
    for place, (part, one, behind) in enumerate(zip(parts, pieces, pieces[1:], strict=False)):
        if not (takes_minutes(part) and may_be_joined(one, behind)):
            continue
        joined = f"{one.strip()}:{behind.strip()}"
        after = parts[place + 1] if place + 1 < len(parts) else None
        parted_s = _value_or_none(part, one, options)
        may_part = parted_s is not None and after is not None and _value_or_none(after, behind, options) is not None
        is_parted_sane = may_part and is_sane(part, parted_s)
        try:
            joined_s = read_measured(part, joined, options).value
        except ReadingError:
            if not is_parted_sane:
                raise
            clock = of_clock(joined)
            if clock is None or after is None or after.is_number:
                continue
            joined_s = clock.value_s
        is_joined_sane = joined_s is not None and is_sane(part, joined_s)
        is_asked = is_joined_sane == is_parted_sane or (is_parted_sane and after is not None and not after.is_number)
        if may_part and after is not None and is_asked:
            raise fault(
                field,
                "ambiguous_number",
                "two readings are possible",
                text,
                remedy=f"Write the {part.words} as {in_digits(joined_s or 0.0)}, or as {in_digits(parted_s)}.0 with "
                f"the {after.words} behind it.",
            )
        if not is_parted_sane:
            return [*pieces[:place], joined, *pieces[place + 2 :]]
    return pieces


def _value_or_none(field: Field, text: str, options: Options) -> Any:
    try:
        return read_measured(field, text, options).value if field.kind == "quantity" else read(field, text, options)
    except ReadingError:
        return None


def read_laps(field: Field, text: str, options: Options = DEFAULT) -> str | None:
    """Lap times in seconds with a blank between them, of a text that has them in seconds or as ``1:14.9``; what is
    written in plain seconds keeps its digits. None if the text says that there are none. Raises ReadingError that names
    the lap.

    >>> from bevelbook.declare.fields import record, text
    >>> @record
    ... class Timed:
    ...     laps: str = text("Laps", of_laps=True)
    >>> read_laps(Timed.fields[0], "1:14.9, 74.80 s; 1:15")
    '74.9 74.80 75'
    """
    if is_no_value(in_plain_signs(text)):
        return None
    read_in_s = []
    for place, piece in enumerate(laps_in(text), start=1):
        refuse_control_characters(field, piece)
        try:
            value = _number(LAP, piece, options)
        except ReadingError as error:
            raise fault(
                field,
                error.code,
                f"lap {place}: {error.what}",
                piece,
                wanted=error.wanted,
                remedy=" ".join(filter(None, (error.remedy, PARTED, _REST_OF_LAP))),
            ) from None
        if value is None or not piece[0].isdigit() or value < LAP_S[0]:
            raise fault(
                field,
                "number_unparseable",
                f"lap {place}: no lap that somebody runs",
                piece,
                wanted=f"laps of {LAP_S[0]} s and more",
                remedy=f"Leave out a lap that was not timed, and a dash between laps. {PARTED} {_REST_OF_LAP}",
            )
        number = piece.removesuffix("s").strip()
        read_in_s.append(number if plain_value(number) == value else in_digits(value))
    return " ".join(read_in_s) or None


def implausible(field: Field, value: object) -> str | None:
    """The words for a value outside the range of sane values, with the field's name; None if it is inside."""
    outside = outside_sane_range(field, value)
    if outside is not None and field.kind == "date":
        return f"{field.words} {value} is {outside}"
    if outside is None or not isinstance(value, (int, float)):
        return None
    return f"{field.words} of {in_digits(value)} {unit_in_words(field)}".rstrip() + f" is {outside}"


def outside_sane_range(field: Field, value: object) -> str | None:
    """``outside 5 to 100 g`` for a value outside the range of sane values, None if it is inside; of a day, that it is
    before 1970."""
    if field.kind == "date" and isinstance(value, str):
        return f"before {_FIRST_DAY[:4]}" if value < _FIRST_DAY else None
    if field.plausible is None or isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    low, high = field.plausible
    if low <= value <= high:
        return None
    return f"outside {in_digits(low)} to {in_digits(high)} {unit_in_words(field)}".rstrip()


def says_nothing(field: Field, text: str) -> bool:
    """Whether a text says that there is no value: it is empty, a dash, ``n/a``; of a number also ``NULL`` and others.

    A word that the field takes is a value: ``none`` of a choice that has it.
    """
    if field.kind in ("text", "which_day", "reference"):
        return in_plain_signs(text).lower() in TEXT_MISSING
    plain = in_plain_signs(text)
    return is_no_value(plain) and _folded(plain) not in map(_folded, field.choices)


def read_text(text: str) -> str | None:
    """Text as written, trimmed, accents composed (NFC); None for an empty text, "-" or "n/a".

    >>> read_text(" zoe\\u0308 ") == "zoë"
    True
    """
    plain = trimmed(text)
    if plain.isascii():
        return None if plain.lower() in TEXT_MISSING else plain
    import unicodedata

    return unicodedata.normalize("NFC", plain)


def names_record(field: Field) -> bool:
    """Whether a text of this field is the name of a record: a reference, or a column of notes that names one."""
    return field.kind == "reference" or (field.filling is not None and field.filling.named is not None)


def read_choice(field: Field, text: str) -> str | None:
    """One of the field's choices in any case, with blanks, dashes and underscores treated the same. Raises
    ReadingError."""
    plain = in_plain_signs(text)
    if plain in field.choices:
        return plain
    low = _folded(plain)
    for choice in field.choices:
        if _folded(choice) == low:
            return choice
    if is_no_value(plain) or not low:
        return None
    if low in _LEVEL_WORDS and set(_LEVELS) <= set(field.choices):
        return _LEVEL_WORDS[low]
    if is_spreadsheet_error(plain):
        raise fault(
            field, "spreadsheet_error", "an error of a spreadsheet", plain, remedy="Correct the cell, or empty it."
        )
    raise fault(
        field,
        f"{field.name}_unknown",
        "not one of the words it takes",
        plain,
        wanted=f"one of {', '.join(field.choices)}",
        remedy=near_misses(plain, field.choices) or None,
    )


def _folded(text: str) -> str:
    return " ".join(text.casefold().rstrip(".").replace("_", " ").replace("-", " ").split()) or text


def _number(field: Field, text: str, options: Options) -> float | int | None:
    value = plain_value(text) if options.temperature_unit is None and not options.unit else None
    if value is None:
        parts = parts_of(field, text)
        if parts is None:
            return None
        scale = scale_for(field, parts.unit or _unit_said(field, options), text)
        mark = options.decimal
        if mark is None and options.by_hand:
            mark = mark_by_hand(field, parts, scale, text)
        value = settled(field, parts, scale, mark, text)
    if field.kind == "whole":
        if value != int(value) if abs(value) < 1e15 else True:
            raise fault(field, "number_unparseable", "not a whole number", text, wanted=wanted_in_words(field))
        check_bounds(field, value, text)
        return int(value)
    check_bounds(field, value, text)
    return value


def _unit_said(field: Field, options: Options) -> str:
    """The unit of a number that names none; empty for the canonical one."""
    return options.unit or (options.temperature_unit or "" if field.unit == "°C" else "")


def _day(field: Field, text: str, options: Options) -> str | None:
    from bevelbook.reading.date_forms import DayForms
    from bevelbook.reading.dates import day_by_hand, days_of, today_iso

    days = days_of(field, text, DayForms(options.date_base, options.year))
    if days is None:
        return None
    return day_by_hand(field, days, options.date_order, options.today or today_iso(), text)
