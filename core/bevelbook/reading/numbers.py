"""Numbers with units, as people write them: ``12.4``, ``12,4 g``, ``7 000``, ``7'000``, ``12.5k``, ``1.000,5``.

A text is first split (:func:`parts_of`): its value with a decimal point, with a decimal comma, which of the two it
proves, and its unit. One cell alone is settled by :func:`settled`; the importer settles a whole column.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, NamedTuple

from bevelbook.declare.fields import LARGEST, SMALLEST, Field
from bevelbook.declare.known_units import A_SHARE
from bevelbook.reading.faults import ReadingError, fault, has_control_character, is_no_value, trimmed
from bevelbook.reading.labels import in_plain_signs
from bevelbook.reading.laps import EXAMPLE, OfClock, of_clock, takes_minutes
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.units import UnitError, UnitScale, converted, may_begin_with_one, names_unit, scale_of

MINUS_SIGNS: Final = "-−–"
_DIGITS: Final = "0123456789"
_MINUTE_S: Final = 60.0
_INFINITE: Final = (float("inf"), float("-inf"))
_GROUP_SPACES: Final = " \u00a0\u202f\u2009’'"
_BLANKS: Final = (" ", "\u00a0", "\u202f", "\u2009")
_BODY: Final = frozenset(_DIGITS + ".," + _GROUP_SPACES)
_MULTIPLIERS: Final = {"k": 3, "K": 3, "M": 6}
"""Letters behind a viscosity, as powers of ten."""
_LARGEST_POWER: Final = 300
_TINY: Final = 5e-324
"""The smallest number there is: what is nearer to 0 and not 0 is taken for it, which no field takes."""
_APPROXIMATE: Final = ("~", "≈", "≅", "ca", "circa", "about", "approx", "around", "roughly")
_BOUNDS: Final = ("<", ">", "≤", "≥", "max", "min", "up to", "under", "over", "below", "above", "at least", "at most")
_EXAMPLES: Final = {
    "cSt": "7000 or 7k cSt",
    "°C": "24 °C or 75 °F",
    "runs": "4 or 1.5",
    "1": "0.85",
    "min": "40 min or 1 h",
}

_OTHER_WANTED: Final = {
    "text": "words",
    "date": "a day such as 2026-05-03",
    "time": "a time such as 14:30",
    "which_day": "a day such as 2026-05-03, or its number",
}


class Parts(NamedTuple):
    """A number in parts. ``point`` and ``comma`` are its values with that decimal mark, None if that mark is
    impossible; ``proof`` is the mark that it proves to be the decimal one; ``unit`` the rest of the text."""

    point: float | None
    comma: float | None
    proof: str | None
    unit: str

    @property
    def ambiguous(self) -> bool:
        return self.point != self.comma and self.point is not None and self.comma is not None

    def under(self, mark: str) -> float | None:
        """The value with a decimal mark, or the only reading there is."""
        chosen, other = (self.comma, self.point) if mark == "," else (self.point, self.comma)
        return other if chosen is None else chosen


def parts_of(field: Field, text: str) -> Parts | None:
    """Split a text; None if it says that there is no value. Raises ReadingError with the reason code."""
    plain = in_plain_signs(text)
    if is_no_value(plain):
        return None
    if ":" in plain and (found := of_clock(plain)) is not None:
        if not _means_minutes(field, found):
            raise _not_a_number(field, plain)
        under_point, under_comma = (None if found.mark == other else found.value_s for other in (",", "."))
        return Parts(under_point, under_comma, found.mark, "s")
    sign, start = 1.0, 0
    if plain[0] in MINUS_SIGNS:
        sign, start = -1.0, 1
    elif plain[0] == "+":
        start = 1
    end = start
    length = len(plain)
    while end < length and plain[end] in _BODY:
        end += 1
    rest = plain[end:]
    body = plain[start:end]
    kept = body.rstrip(_GROUP_SPACES)
    if kept != body:
        rest = body[len(kept) :] + rest
        body = kept
    if rest.startswith("/") and body[-1:] == "1" and body[-2:-1] in _BLANKS and may_begin_with_one(field.read_in):
        body, rest = body[:-1].rstrip(), "1" + rest
    if not body or body[0] in _GROUP_SPACES or body.strip(".,") == "" or ".." in body:
        raise _not_a_number(field, plain)
    power, rest = _exponent(rest)
    unit = trimmed(rest)
    if unit and not (
        unit[0].isalpha() or unit[0] in '%°º˚"″”' or (unit[0] in "/1" and may_begin_with_one(field.read_in))
    ):
        raise _not_a_number(field, plain)
    if power is None:
        power, unit = _multiplier(field, unit)
    readings = _readings(body)
    if readings is None:
        raise _not_a_number(field, plain)
    if unit and (_says_no_single_value(unit) or unit.startswith(("to ", "bis ", "… "))):
        raise _not_a_number(field, plain)
    point, comma, proof = readings
    return Parts(_number(point, power, sign), _number(comma, power, sign), proof, unit)


def _means_minutes(field: Field, found: OfClock) -> bool:
    """Whether minutes and seconds are the only thing that a text can mean for a field: not a time of day either, which
    has no decimals and no seconds, and is not a sane value."""
    if not takes_minutes(field) or found.hours:
        return False
    return not found.may_be_of_day or is_sane(field, found.value_s)


def scale_for(field: Field, unit: str, text: str) -> UnitScale:
    """The scale of a unit as typed. Raises ReadingError."""
    try:
        return scale_of(field.read_in, unit)
    except UnitError as error:
        remedy = _without_percent(field, unit, text) or error.remedy
        raise fault(field, error.code, error.what, text, wanted=error.wanted, remedy=remedy) from None


def _without_percent(field: Field, unit: str, text: str) -> str | None:
    """What to write in place of a number with a percent sign where none is taken; None where it is another unit."""
    if field.unit != "1" or not names_unit(A_SHARE, unit):
        return None
    number = plain_value(trimmed(text).removesuffix(unit).strip())
    return None if number is None else f"Write {in_digits(number)}, or {in_digits(number / 100)} if a share is meant."


def settled(field: Field, parts: Parts, scale: UnitScale, mark: str | None, text: str) -> float:
    """The one value of a single cell, in the canonical unit.

    Without a decimal mark given, a number with two readings is taken only if its sane range leaves exactly one.
    """
    if parts.ambiguous and mark is None:
        point, comma = converted(parts.point or 0.0, scale), converted(parts.comma or 0.0, scale)
        sane = [value for value in (point, comma) if is_sane(field, value)]
        if len(sane) == 1 and (field.plausible or _bounded(field)):
            return sane[0] + 0.0
        raise ambiguous(field, text, parts)
    value = parts.under(mark or ".")
    return converted(0.0 if value is None else value, scale) + 0.0


def mark_by_hand(field: Field, parts: Parts, scale: UnitScale, text: str) -> str | None:
    """The decimal mark of a number typed by hand: a dot is one if that is sane; a comma proves nothing.

    A dot that groups thousands is taken for that only where it cannot be a decimal mark, by the field's bounds. Raises
    ReadingError with both spellings where the number with decimals is possible, and only unusual: nobody guesses.
    """
    if not parts.ambiguous or "," in text:
        return None
    decimal = converted(parts.point or 0.0, scale)
    if is_sane(field, decimal):
        return "."
    try:
        check_bounds(field, decimal, text)
    except ReadingError:
        return None
    raise ambiguous(field, text, parts)


def comma_in_words(field: Field, text: str, value: object) -> str | None:
    """What a person should confirm: a comma before three digits that was read as the decimal mark, because the number
    without it is out of the field's bounds. None otherwise; ``value`` is what was read.
    """
    parts = parts_of(field, text) if "," in text and field.is_number else None
    if parts is None or not parts.ambiguous or parts.point is None or parts.comma is None:
        return None
    scale = scale_for(field, parts.unit, text)
    grouped, decimal = converted(parts.point, scale), converted(parts.comma, scale)
    try:
        check_bounds(field, grouped, text)
    except ReadingError:
        if value == decimal + 0.0:
            unit = unit_in_words(field)
            return f"read as {in_digits(decimal)} {unit}, because {in_digits(grouped)} {unit} is out of its bounds"
    return None


def ambiguous(field: Field, text: str, parts: Parts, *, of: str = "it") -> ReadingError:
    """The fault of a number whose mark may group thousands or start the decimals; ``of`` is what the number is."""
    unit = f" {parts.unit}" if parts.unit else ""
    readings = " or ".join(f"{_unmistakable(value)}{unit}" for value in (parts.point, parts.comma) if value is not None)
    return fault(
        field,
        "ambiguous_number",
        "two readings are possible",
        text,
        remedy=f"Write {of} as {readings}.",
        settled_by=ReadingOption.DECIMAL_MARK,
    )


def _unmistakable(value: float) -> str:
    """A number in digits that no mark of which can be taken for one that groups thousands."""
    digits = in_digits(value)
    return digits if plain_value(digits) is not None or "." not in digits else f"{digits}0"


def in_digits(value: float) -> str:
    """A number in plain digits, as short as possible.

    >>> in_digits(7000.0)
    '7000'
    """
    return f"{value:.12g}"


def check_bounds(field: Field, value: float, text: str) -> None:
    """Raise ReadingError (out_of_range) where a value lies outside the field's physical bounds."""
    if value != value or value in _INFINITE:
        raise fault(field, "out_of_range", "not a finite number", text)
    wrong = ""
    if field.minimum is not None and value < field.minimum:
        wrong = f"at least {in_digits(field.minimum)}"
    elif field.maximum is not None and value > field.maximum:
        wrong = f"at most {in_digits(field.maximum)}"
    elif field.above is not None and value <= field.above:
        wrong = f"more than {in_digits(field.above)}"
    elif field.below is not None and value >= field.below:
        wrong = f"less than {in_digits(field.below)}"
    elif abs(value) > LARGEST:
        wrong = f"at most {LARGEST:,.0f}"
    elif value and abs(value) < SMALLEST:
        wrong = f"0 or at least {SMALLEST:g}"
    if wrong:
        raise fault(field, "out_of_range", "out of its bounds", text, wanted=f"{wrong} {unit_in_words(field)}".strip())


def surely_within(field: Field) -> Callable[[object], bool]:
    """A function that says of a number whether it lies inside the field's bounds, and on none of them; for what it does
    not say that of, :func:`check_bounds` decides."""
    low = max(one for one in (-LARGEST, field.minimum, field.above) if one is not None)
    high = min(one for one in (LARGEST, field.maximum, field.below) if one is not None)
    if low >= 0:
        low = max(low, SMALLEST)
        return lambda value: type(value) is float and low < value < high
    return lambda value: type(value) is float and low < value < high and not -SMALLEST <= value <= SMALLEST


def is_sane(field: Field, value: float) -> bool:
    """Whether a value lies inside the field's bounds and its range of sane values."""
    try:
        check_bounds(field, value, "")
    except ReadingError:
        return False
    return field.plausible is None or field.plausible[0] <= value <= field.plausible[1]


def unit_in_words(field: Field) -> str:
    return "" if field.unit in (None, "1") else str(field.unit)


def wanted_in_words(field: Field) -> str:
    """What to write instead, for an error."""
    if field.kind == "whole":
        return "a whole number"
    if takes_minutes(field):
        return f"seconds such as 74.9, or minutes:seconds such as {EXAMPLE}"
    unit = field.unit or "1"
    return "a number such as " + _EXAMPLES.get(unit, f"1.86 {unit}" if unit != "%" else "5 %")


def refuse_control_characters(field: Field, text: str) -> None:
    if has_control_character(text):
        raise fault(field, "control_character", "it contains a control character", text, remedy="Retype it.")


def _bounded(field: Field) -> bool:
    return any(one is not None for one in (field.minimum, field.maximum, field.above, field.below))


def _number(digits: str | None, power: int, sign: float) -> float | None:
    """The number of digits with a decimal point, times a power of ten: the nearest, infinite if out of reach."""
    if digits is None:
        return None
    if abs(power) > _LARGEST_POWER and not digits.strip("0."):
        return sign * 0.0
    if abs(power) > _LARGEST_POWER:
        return sign * (_INFINITE[0] if power > 0 else _TINY)
    value = float(f"{digits}e{power}" if power else digits)
    if not value and digits.strip("0."):
        value = _TINY
    return sign * value


def _exponent(rest: str) -> tuple[int | None, str]:
    if not rest or rest[0] not in "eE":
        return None, rest
    end = 2 if len(rest) > 1 and rest[1] in "+-−" else 1
    start = end
    while end < len(rest) and rest[end] in _DIGITS:
        end += 1
    if end == start or end - start > 4:
        return None, rest
    return int(rest[1:end].replace("−", "-")), rest[end:]


def _multiplier(field: Field, unit: str) -> tuple[int, str]:
    """The power of ten of ``k`` and ``M`` behind a viscosity; letters that form a unit are left alone."""
    if field.unit != "cSt" or not unit or unit[0] not in _MULTIPLIERS:
        return 0, unit
    behind = unit[1:].strip()
    if not behind or unit[1] == " " or names_unit("cSt", behind):
        return _MULTIPLIERS[unit[0]], behind
    return 0, unit


def _readings(body: str) -> tuple[str | None, str | None, str | None] | None:
    """The digits with a decimal point under point and comma, and the mark proven; None if the body cannot be read."""
    spaces = {c for c in body if c in _GROUP_SPACES}
    if spaces:
        return _with_group_spaces(body, spaces)
    points, commas = body.count("."), body.count(",")
    if not points and not commas:
        return body, body, None
    if points and commas:
        return _with_both_marks(body)
    mark = "." if points else ","
    grouped = _ungrouped(body, mark)
    if points + commas > 1:
        if grouped is None:
            return None
        return (None, grouped, ",") if mark == "." else (grouped, None, ".")
    whole, decimals = body.split(mark)
    digits = f"{whole or '0'}.{decimals or '0'}"
    if grouped is None:
        proof = mark if decimals else None
        return (digits, None, proof) if mark == "." else (None, digits, proof)
    return (digits, grouped, None) if mark == "." else (grouped, digits, None)


def _with_both_marks(body: str) -> tuple[str | None, str | None, str] | None:
    decimal = "." if body.rindex(".") > body.rindex(",") else ","
    grouping = "," if decimal == "." else "."
    if body.count(decimal) != 1:
        return None
    whole, decimals = body.split(decimal)
    grouped = _ungrouped(whole, grouping)
    if grouped is None:
        return None
    digits = f"{grouped}.{decimals or '0'}"
    return (digits, None, ".") if decimal == "." else (None, digits, ",")


def _with_group_spaces(body: str, spaces: set[str]) -> tuple[str | None, str | None, str | None] | None:
    if len(spaces) != 1:
        return None
    whole, decimals, mark = body, "", None
    for sign in ".,":
        if sign in body:
            if mark or body.count(sign) != 1:
                return None
            whole, decimals = body.split(sign)
            mark = sign
    if any(c not in _DIGITS for c in decimals):
        return None
    grouped = _ungrouped(whole, spaces.pop())
    if grouped is None:
        return None
    digits = f"{grouped}.{decimals or '0'}"
    if mark is None:
        return digits, digits, None
    return (digits, None, ".") if mark == "." else (None, digits, ",")


def _ungrouped(text: str, separator: str) -> str | None:
    """The digits without the marks between thousands, or None if these are not at every three digits."""
    groups = text.split(separator)
    first = groups[0]
    if len(groups) < 2 or not 1 <= len(first) <= 3 or first[0] == "0" or not _all_digits(first):
        return None
    if any(len(group) != 3 or not _all_digits(group) for group in groups[1:]):
        return None
    return "".join(groups)


def _all_digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _says_no_single_value(unit: str) -> bool:
    return unit.endswith("?") or "±" in unit or "+/-" in unit or "+-" in unit or unit.lower().endswith("ish")


def _not_a_number(field: Field, plain: str) -> ReadingError:
    """Say why: a formula, a spreadsheet error, about, a range, or not a number at all."""
    low = plain.lower()
    wanted = wanted_in_words(field)
    if plain[0] == "=":
        return fault(
            field, "formula_in_cell", "a spreadsheet formula", plain, wanted=wanted, remedy="Put in its value."
        )
    if is_spreadsheet_error(plain):
        return fault(
            field,
            "spreadsheet_error",
            "an error of a spreadsheet",
            plain,
            wanted=wanted,
            remedy="Correct the cell, or empty it.",
        )
    if _says_no_single_value(low) or _starts_with_word(low, _APPROXIMATE):
        return fault(
            field,
            "approximate_value",
            "a value with an uncertainty or a tolerance",
            plain,
            wanted=wanted,
            remedy="Write the value alone, and put the uncertainty in the note.",
        )
    if _starts_with_word(low, _BOUNDS) or _is_range(low):
        return fault(field, "range_not_value", "a range or a bound", plain, wanted=f"one value, {wanted}")
    if any(character.isdecimal() and not character.isascii() for character in plain):
        what = "its digits are not 0 to 9"
        return fault(field, "number_unparseable", what, plain, wanted=wanted, remedy="Write it with the digits 0 to 9.")
    if field.unit == "s" and ":" in plain and (said := _not_seconds(field, plain)) is not None:
        return fault(field, "number_unparseable", said[0], plain, wanted=wanted, remedy=said[1])
    return fault(field, "number_unparseable", "not a number", plain, wanted=wanted)


def _not_seconds(field: Field, plain: str) -> tuple[str, str | None] | None:
    """What is wrong with a text with a colon in a field of seconds, and what to write in its place, where that is a
    sane value of the field."""
    found = of_clock(plain)
    if found is None:
        return (
            ("not minutes and seconds: these are below 60, and have two digits", None) if takes_minutes(field) else None
        )
    what, value_s = "not a number of seconds", found.value_s
    if takes_minutes(field) and found.hours and not value_s % _MINUTE_S:
        value_s /= _MINUTE_S
        what = "hours and minutes, as a spreadsheet takes minutes and seconds that are typed without hours"
    if not is_sane(field, value_s):
        return "not a number of seconds", None
    return what, f"Write {in_digits(value_s)} s if minutes and seconds are meant."


def is_spreadsheet_error(plain: str) -> bool:
    """Whether a text is what a spreadsheet shows for a broken cell, or one too narrow."""
    if plain[0] == "#":
        word = plain[1:]
        return not word.strip("#") or (word[0].isalpha() and word.rstrip("!?").replace("/", "").isalnum())
    return plain.lower().startswith("err:")


def _starts_with_word(low: str, words: tuple[str, ...]) -> bool:
    for word in words:
        if low.startswith(word):
            behind = low[len(word) :].lstrip(". ").lstrip(MINUS_SIGNS)
            if behind[:1] in _DIGITS + "=" and behind:
                return True
    return False


def _is_range(low: str) -> bool:
    import re

    return re.match(r"^[-+−–]?\d[\d.,]{0,40}\s*(?:\w{1,4}\s*)?(-|−|–|—|\.\.+|…|to|bis)\s*\d", low) is not None


def plain_value(text: str) -> float | None:
    """The value of a text of ASCII digits with at most one point and one reading, else None."""
    digits = text[1:] if text[:1] == "-" else text
    if not digits.isascii():
        return None
    if digits.isdigit():
        return float(text) + 0.0
    whole, point, decimals = digits.partition(".")
    if point and whole.isdigit() and decimals.isdigit() and (len(decimals) != 3 or len(whole) > 3 or whole[0] == "0"):
        value = float(text) + 0.0
        return value if value or not digits.strip("0.") else None
    return None


def refuse_empty(field: Field, text: str) -> ReadingError:
    wanted = _OTHER_WANTED.get(field.kind) or ", ".join(field.choices) or wanted_in_words(field)
    return fault(field, "missing_required", f"{field.words} is missing", text or None, wanted=wanted)
