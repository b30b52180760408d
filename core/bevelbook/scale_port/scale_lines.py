"""One line that a scale printed, read: its mass, and what it says beside it.

A line is taken as a reading only where everything in it is understood: one number with a unit of mass, and beside it
nothing but words of the table, a day, a time of day, and the number of an item. All else is shown as it came.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from decimal import Decimal
from enum import Enum
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.printable import printable
from bevelbook.reading.units import UnitError, names_unit, scale_of
from bevelbook.scale_port.sign_words import NOT, SIGNS, Sign

NO_UNIT: Final = "a number without a unit"
LONGEST_SHOWN: Final = 80
"""Letters of a line that are shown."""
MOST_DIGITS: Final = 15
"""Digits of a mass that are taken: a number of this program holds no more, and no scale prints as many."""


class LineKind(Enum):
    """What a line is, as far as that is certain."""

    READING = "a reading"
    TARE = "a tare, not what lies on the pan"
    OVERLOAD = Sign.OVERLOAD.value
    UNDERLOAD = Sign.UNDERLOAD.value
    FAULT = Sign.FAULT.value
    UNCLEAR = "a mass or noise in it, and it cannot be read with certainty"
    OTHER = "no mass in it"


class PrintedLine(NamedTuple):
    """A line read. ``text`` is the line as it came, fit to be shown; ``why`` says why it is not a reading.

    A reading has its ``mass_g``, and ``digits``: the same number in g as text, with the digits that were printed.
    ``is_steady`` is None where no sign of it is in the line. ``weighed_as`` is gross, net or empty.
    ``proves_comma`` says that its number can only have a decimal comma.
    """

    text: str
    kind: LineKind
    why: str = ""
    mass_g: float | None = None
    digits: str = ""
    is_steady: bool | None = None
    weighed_as: str = ""
    proves_comma: bool = False


class _Number(NamedTuple):
    sign: str
    digits: str
    unit: str


class _Unclear(Exception):
    """Why a line is not taken, in words."""


_MONTHS: Final = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_ENDS_HERE: Final = r"(?![A-Za-z0-9])(?![.,]\d)"
_DAY: Final = late_pattern(
    rf"(?:(\d{{4}})([-/.])(\d{{1,2}})\2(\d{{1,2}})|(\d{{1,2}})([-/.])(\d{{1,2}})\6(?:\d{{4}}|\d{{2}})"
    rf"|\d{{1,2}}[-. ](?:{_MONTHS})[a-z]*[-. ]{{1,2}}(?:\d{{4}}|\d{{2}})){_ENDS_HERE}",
    re.IGNORECASE,
)
_TIME: Final = late_pattern(r"([01]?\d|2[0-3]):[0-5]\d(?::[0-5]\d)?(?: ?[ap]\.?m\.?)?(?![A-Za-z0-9:])(?![.,]\d)", re.I)
_ITEM: Final = late_pattern(r"[ ]*[:.#]?[ ]*([A-Za-z]*\d[A-Za-z0-9-]*)(?![A-Za-z0-9])(?![.,]\d)")
_NUMBER: Final = late_pattern(r"([+-]?) *(\d+(?:[.,]\d+)?)(?![\d.,]*\d)(?!\.)")
_UNIT: Final = late_pattern(r"[,;]? *(?:([A-Za-zµμ]+)|\[([A-Za-zµμ]+)\]|\(([A-Za-zµμ]+)\))(?![A-Za-z0-9/^²³])")
_WORD: Final = late_pattern(r"[A-Za-z]+(?:[./-][A-Za-z]+)*\.?(?![A-Za-z0-9])|[?~#]")
_ERROR: Final = late_pattern(r"e(?:rr(?:or)?)?[ .:#-]*\d{1,3}$", re.IGNORECASE)
_TOP: Final = late_pattern(r"\^{2,}|H{4,}")
_BOTTOM: Final = late_pattern(r"L{4,}")
_DASHES: Final = late_pattern(r"[-=*_.]{3,}(?![-=*_.,\d])")
_STANDS_ALONE: Final = late_pattern(r"[;:|]?(?: |$)")
_SEPARATOR: Final = late_pattern(r"[,;:|]")
_MASS_IN_IT: Final = late_pattern(r"\d[ ]*[\[(,;]?[ ]*(?:k?g|mg|ct|oz|lbs?|grain)(?![A-Za-z])", re.IGNORECASE)


def read_line(text: str, *, comma_is_decimal: bool = False) -> PrintedLine:
    """What a whole line says. ``comma_is_decimal`` if the scale has proved that by another line: ``12,345`` is
    twelve and a bit then, and unclear else.

    >>> read_line("ST,GS,+00062.35  g").digits
    '62.35'
    >>> read_line("  - 0,12 g ?").mass_g
    -0.12
    >>> read_line("62.35 g 14.20 g").why
    'two numbers with a unit in one line'
    """
    shown = as_shown(text)
    try:
        if any(not one.isprintable() and one != "\t" for one in text.strip()):
            raise _Unclear("a control character in the middle of it")
        return _read(text.replace("\t", " ").strip(), shown, comma_is_decimal)
    except _Unclear as fault:
        has_mass = bool(_MASS_IN_IT.search(text)) or not text.isprintable()
        kind = LineKind.UNCLEAR if has_mass else LineKind.OTHER
        return PrintedLine(shown, kind, str(fault) if has_mass or str(fault) == NO_UNIT else kind.value)


def noise(text: str, why: str) -> PrintedLine:
    """A line of which it is known before that it cannot be read."""
    return PrintedLine(as_shown(text), LineKind.UNCLEAR, why)


def as_shown(text: str) -> str:
    """A line as it came, fit to be shown."""
    plain = printable(text.strip())
    return plain if len(plain) <= LONGEST_SHOWN else f"{plain[:LONGEST_SHOWN]} …"


def _read(text: str, shown: str, comma_is_decimal: bool) -> PrintedLine:
    if _ERROR.fullmatch(text):
        return PrintedLine(shown, LineKind.FAULT, LineKind.FAULT.value)
    signs: set[Sign] = set()
    masses: list[_Number] = []
    unclear = ""
    try:
        for found in _parts(text):
            if isinstance(found, Sign):
                signs.add(found)
            else:
                masses.append(found)
    except _Unclear as fault:
        unclear = str(fault)
    for sign, kind in (
        (Sign.OVERLOAD, LineKind.OVERLOAD),
        (Sign.UNDERLOAD, LineKind.UNDERLOAD),
        (Sign.FAULT, LineKind.FAULT),
    ):
        if sign in signs:
            return PrintedLine(shown, kind, kind.value)
    if unclear:
        raise _Unclear(unclear)
    if not masses:
        return PrintedLine(shown, LineKind.OTHER, LineKind.OTHER.value)
    if len(masses) > 1:
        raise _Unclear("two numbers with a unit in one line")
    if Sign.TARE in signs:
        return PrintedLine(shown, LineKind.TARE, LineKind.TARE.value)
    if {Sign.GROSS, Sign.NET} <= signs:
        raise _Unclear("gross and net in one line")
    (mass,) = masses
    proves_comma = _proves_comma(mass.digits)
    if _may_be_grouped(mass.digits) and not comma_is_decimal:
        raise _Unclear(f"{mass.digits} may have a decimal comma or not")
    digits = _in_g(mass)
    is_steady = False if Sign.NOT_STEADY in signs else True if Sign.STEADY in signs else None
    weighed_as = next((one.value for one in (Sign.GROSS, Sign.NET) if one in signs), "")
    return PrintedLine(shown, LineKind.READING, "", float(digits), digits, is_steady, weighed_as, proves_comma)


def _parts(text: str) -> Iterator[Sign | _Number]:
    """What stands in a line, from left to right. Raises _Unclear at what is not known."""
    at, is_number_before = 0, False
    while at < len(text):
        if text[at] == " ":
            at += 1
            continue
        is_apart = at == 0 or not text[at - 1].isalnum()
        if is_apart and (found := _day_at(text, at) or _TIME.match(text, at)):
            at, is_number_before = found.end(), False
            continue
        if found := _TOP.match(text, at) or _BOTTOM.match(text, at):
            yield Sign.OVERLOAD if found[0][0] in "^H" else Sign.UNDERLOAD
            at = found.end()
            continue
        if found := _NUMBER.match(text, at):
            if not is_apart and (not found[1] or text[at - 1].isdigit()):
                raise _Unclear("a number without a space before it")
            at, number = _with_unit(text, found)
            if number is None:
                if found[1] or not found[2].isdigit():
                    raise _Unclear(NO_UNIT)
                if not _STANDS_ALONE.match(text, at):
                    raise _Unclear("a number without a space after it")
                is_number_before = not text.startswith(("  ", "; ", ": ", "| "), at)
                continue
            if is_number_before and not found[1]:
                raise _Unclear("two numbers with one sign or space between them")
            is_number_before = False
            yield number
            continue
        if found := _DASHES.match(text, at):
            at = found.end()
            continue
        if found := _WORD.match(text, at):
            sign, at = _sign_at(text, found)
            is_number_before = False
            if sign is not Sign.COUNTER:
                yield sign
            continue
        if (found := _SEPARATOR.match(text, at)) and at and text[at - 1] not in " ,;:|":
            at = found.end()
            continue
        raise _Unclear("signs in it that are not known")


def _day_at(text: str, at: int) -> re.Match[str] | None:
    found = _DAY.match(text, at)
    if found is None:
        return None
    first, second = (found[3], found[4]) if found[1] else (found[5], found[7])
    if first is None:
        return found
    low, high = sorted((int(first), int(second)))
    return found if 1 <= low <= 12 and high <= 31 else None


def _with_unit(text: str, number: re.Match[str]) -> tuple[int, _Number | None]:
    """Where it goes on after a number, and the number with its unit; None without a unit of mass."""
    sign, digits = number[1], number[2]
    unit = _UNIT.match(text, number.end())
    if unit is not None:
        name = unit[1] or unit[2] or unit[3]
        if names_unit("g", name):
            if unit[0].startswith(",") and "." not in digits:
                raise _Unclear("a number that ends in its comma")
            if sum(one.isdigit() for one in digits) > MOST_DIGITS:
                raise _Unclear("a mass with more digits than a scale has")
            return unit.end(), _Number(sign, digits, name)
    if number.end() < len(text) and text[number.end()] not in " ,;:|":
        raise _Unclear("a number with a unit that is not known")
    return number.end(), None


def _sign_at(text: str, found: re.Match[str]) -> tuple[Sign, int]:
    """What a word says, and where it goes on. Raises _Unclear for one that is not in the table."""
    word, end = found[0].lower(), found.end()
    if word in NOT:
        following = re.compile(r"[ -]*([A-Za-z]+)(?![A-Za-z0-9])").match(text, end)
        if following and SIGNS.get(following[1].lower()) is Sign.STEADY and len(following[1]) > 2:
            return Sign.NOT_STEADY, following.end()
    sign = SIGNS.get(word) or SIGNS.get(word.rstrip("."))
    if sign is Sign.COUNTER:
        item = _ITEM.match(text, end)
        if item is None:
            raise _Unclear(f"no number after “{found[0]}”")
        if (unit := _UNIT.match(text, item.end())) and names_unit("g", unit[1] or unit[2] or unit[3]):
            raise _Unclear("a mass where the number of an item was to come")
        return sign, item.end()
    if sign is Sign.FAULT and (code := re.compile(r"[ .:#-]*\d{1,3}(?!\d|[.,]\d)").match(text, end)):
        end = code.end()
    if sign is None:
        raise _Unclear(f"“{printable(found[0])}” is not known")
    return sign, end


def _may_be_grouped(digits: str) -> bool:
    """Whether a comma may stand between thousands: by hand ``12,345`` is not taken either without a second look."""
    whole, comma, rest = digits.partition(",")
    return bool(comma) and len(rest) == 3 and len(whole) <= 3 and not whole.startswith("0")


def _proves_comma(digits: str) -> bool:
    return "," in digits and not _may_be_grouped(digits)


def _in_g(mass: _Number) -> str:
    """The number in g, with the digits that were printed, or for a unit without a round factor so many that none is
    lost."""
    try:
        factor = Decimal(repr(scale_of("g", mass.unit).factor)).normalize()
    except UnitError as fault:
        raise _Unclear(fault.what) from None
    printed = Decimal(mass.digits.replace(",", "."))
    in_g = printed * factor
    if len(factor.as_tuple().digits) > 1:
        step_g = factor.scaleb(int(printed.as_tuple().exponent))
        in_g = round(in_g, max(0, math.ceil(-step_g.log10())))
    elif in_g.as_tuple().exponent > 0:  # type: ignore[operator]
        in_g = in_g.quantize(Decimal(1))
    text = f"{in_g:f}"
    return f"-{text}" if mass.sign == "-" and in_g else text
