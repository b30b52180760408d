"""Figures as people read them, with their unit: never more digits than were measured."""

from __future__ import annotations

from math import floor, log10
from typing import Any, Final

from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.declare.fields import LARGEST, SMALLEST, Field
from bevelbook.declare.known_units import KNOWN
from bevelbook.display.line_width import line_width
from bevelbook.display.powers import power_of_ten
from bevelbook.display.unbroken import NO_BREAK, held
from bevelbook.display.wrapping import wrapped_under

DECIMALS: Final[dict[str, int]] = {
    "g": 2,
    "cSt": 0,
    "°C": 1,
    "Δ°C": 1,
    "K": 1,
    "mm": 2,
    "cm3": 2,
    "g/cm3": 4,
    "N·m": 2,
    "N·m·s": 5,
    "kPa": 1,
    "s": 2,
    "min": 0,
    "m": 0,
    "deg": 1,
    "1/K": 6,
    "%": 1,
    "g/run": 4,
    "s/run": 3,
    "runs": 1,
    "1": 3,
    "W": 1,
    "J/K": 1,
    "rad/s": 1,
    "g/reading": 4,
}
FEWER_FROM: Final[dict[str, tuple[tuple[float, int], ...]]] = {
    "K": ((10.0, 0),),
    "kPa": ((10.0, 0),),
    "%": ((100.0, 0),),
    "J/K": ((10.0, 0),),
    "1": ((1.0, 2), (10.0, 1), (100.0, 0)),
}
"""Decimals of larger numbers: nobody measures a span of 40 K to 0.1 K, or a ratio of 20 to 0.001."""
MOST_DECIMALS: Final = {
    "K": 2,
    "°C": 2,
    "kPa": 1,
    "%": 2,
    "deg": 1,
    "m": 2,
    "runs": 2,
    "cSt": 2,
    "g": 4,
    "mm": 4,
    "s": 4,
}
"""Decimals of a number that is too small for the usual ones; what is smaller is a zero."""
NOISE: Final = 1e-10
"""Smaller numbers are noise: in the units of this program nothing measured or computed is this small."""
_USUAL: Final = 3
"""Decimals of a unit that is not listed."""
_MOST: Final = 12
_COUNTED: Final = ("runs", "1")
"""Units of which a whole number has no decimals."""
_TEMPERATURES: Final = ("°C", "K")
SHOWN_UNIT: Final = {"Δ°C": "°C", "cm3": "cm³", "g/cm3": "g/cm³", "1": "", "runs": "runs", "deg": "°"}
_SHARES: Final = ("_fraction", "_share")
WORD_SIGN: Final = {"ok": "ok", "caution": "caution", "stop": "STOP", "unclear": "unclear"}


def is_noise(value: float) -> bool:
    """Whether a number is a zero but for the rounding of binary fractions."""
    return abs(value) < NOISE


def format_figure(value: float, unit: str | None, *, digits: int | None = None, sign: str = "") -> str:
    """A number as people read it, without its unit: 7,000; 14.26; small ones with two significant digits.

    ``digits`` overrides the decimals of the unit; ``sign`` "+" shows the sign of a gain too.

    >>> format_figure(7000.0, "cSt"), format_figure(14.2601, "g"), format_figure(0.0082, "g")
    ('7,000', '14.26', '0.0082')
    >>> format_figure(3.0, "runs"), format_figure(4.0, "1"), format_figure(1757.06, "K"), format_figure(0.003, "kPa")
    ('3', '4', '1,757', '0.0')
    >>> format_figure(-1.4e-14, "kPa"), format_figure(-1.4e-14, "kPa", sign="+"), format_figure(3e-06, "N·m·s")
    ('0.0', '0.0', '0.000003')
    """
    if abs(value) >= LARGEST:
        return power_of_ten(value, sign)
    decimals = _decimals(value, unit) if digits is None else digits
    if isinstance(value, int) or (unit in _COUNTED and float(value).is_integer()):
        decimals = 0
    if not is_noise(value) and abs(value) < 10.0 ** (1 - decimals):
        small = max(decimals, min(1 - floor(log10(abs(value))), MOST_DECIMALS.get(unit or "", _MOST)))
        text = f"{value:{sign}z.{small}f}"
        while len(text.partition(".")[2]) > decimals and text.endswith("0"):
            text = text[:-1]
        return text.rstrip(".") if float(text) else f"{0.0:.{decimals}f}"
    return f"{0.0 if is_noise(value) else value:{'' if is_noise(value) else sign},.{decimals}f}"


def _decimals(value: float, unit: str | None) -> int:
    decimals = decimals_of(unit)
    for least, fewer in FEWER_FROM.get(unit or "", () if _has_decimals(unit) else FEWER_FROM["1"]):
        if abs(value) >= least:
            decimals = fewer
    return decimals


def decimals_of(unit: str | None) -> int:
    """The decimals of a number in a unit; a large one may have fewer, a small one more."""
    known = KNOWN.by_name.get(unit or "")
    return DECIMALS.get(unit or "", _USUAL) if known is None or known.decimals is None else known.decimals


def _has_decimals(unit: str | None) -> bool:
    """Whether anybody said how many decimals a number in this unit has; else it has those of a plain number."""
    known = KNOWN.by_name.get(unit or "")
    return known is None or known.decimals is not None or unit in DECIMALS


def format_rough(value: float, *, digits: int = 3) -> str:
    """A number that a formula gave from measured ones: at most three significant digits, without zeros at its end.

    >>> [format_rough(value) for value in (30.3238, 0.349411, 12004.7, 5.0, 118.2, -1.4e-14)]
    ['30.3', '0.349', '12,000', '5', '118', '0']
    """
    if is_noise(value):
        return "0"
    if abs(value) >= LARGEST:
        return f"{value:.{digits}g}"
    decimals = digits - 1 - floor(log10(abs(value)))
    text = f"{round(value, decimals):,.{max(0, decimals)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def format_typed(value: float, unit: str | None) -> str:
    """A number that went in, without its unit: six digits, or the decimals of its unit where these are more.

    A temperature that was typed in °F has two decimals: in °C it has a row of digits.

    >>> [format_typed(*one) for one in ((40 / 9, "°C"), (7000.0, "cSt"), (12345.678, "g"), (2.5e-5, "1/K"))]
    ['4.44', '7,000', '12,345.68', '0.000025']
    """
    if value == 0:
        return "0"
    if not SMALLEST <= abs(value) < LARGEST:
        return power_of_ten(value)
    decimals = max(0, decimals_of(unit), 5 - floor(log10(abs(value))))
    if unit in _TEMPERATURES and abs(value) >= 1.0 and not is_noise(value - round(value, 3)):
        decimals = MOST_DECIMALS[unit]
    text = f"{value:z,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def figure_again(value: float, unit: str | None, *, digits: int | None = None) -> str:
    """A number said again to who wrote it down, without its unit: as on the pages, but without zeros at its end, and
    without marks that group thousands, so that it can be typed back.

    >>> figure_again(38.333333, "°C"), figure_again(38.0, "°C"), figure_again(7000.0, "cSt"), figure_again(14.2, "g")
    ('38.3', '38', '7000', '14.2')
    """
    if abs(value) >= LARGEST:
        return f"{value:g}"
    text = format_figure(value, unit, digits=digits).replace(",", "")
    return text.rstrip("0").rstrip(".") if "." in text else text


def is_share(field: Field) -> bool:
    """Whether a field is a share of something, which people read in percent."""
    return field.kind == "quantity" and field.unit == "1" and (field.uncertainty_of or field.name).endswith(_SHARES)


def format_number(value: float, field: Field, uncertainty: float | None = None) -> str:
    """A number of a field as people read it, without its unit, to the figures that the field declares; with twice its
    standard uncertainty (k = 1), where it has one. A share is in percent, with its sign.

    >>> share = Field("fill_fraction", "quantity", "", unit="1")
    >>> format_number(0.848, share), format_number(1.0, share), format_number(0.1373, share, 0.01)
    ('84.8 %', '100 %', '13.7 ± 2.0 %')
    """
    if is_share(field):
        value = 100.0 * value
        if uncertainty:
            return f"{format_spread(value, 100.0 * uncertainty)} %"
        digits = None if field.digits is None else max(0, field.digits - 2)
        return f"{format_figure(value, '%', digits=digits)} %"
    if uncertainty:
        return format_spread(value, uncertainty)
    if field.figures is not None:
        value = float(f"{value:.{field.figures}g}")
    return format_figure(value, field.unit, digits=0 if field.kind == "whole" else field.digits)


def format_spread(value: float, uncertainty: float) -> str:
    """A number and twice its standard uncertainty (k = 1), without unit and k: ``14.260 ± 0.020``.

    The uncertainty has two significant digits, the number as many decimals. No mark groups thousands, so that the text
    can be typed back.

    >>> format_spread(14.26, 0.01), format_spread(5780.7, 182.3), format_spread(-0.001, 0.2)
    ('14.260 ± 0.020', '5781 ± 365', '0.00 ± 0.40')
    """
    half = COVERAGE_K * uncertainty
    if max(abs(value), half) >= LARGEST:
        return f"{power_of_ten(value)} ± {power_of_ten(half)}"
    decimals = max(0, 1 - floor(log10(half) + 1e-6))
    if decimals > _MOST:
        shown = power_of_ten(value) if is_noise(value) else f"{value:z.{_MOST}f}"
        return f"{shown} ± {power_of_ten(half)}"
    return f"{0.0 if is_noise(value) else value:z.{decimals}f} ± {half:.{decimals}f}"


def format_value(value: Any, field: Field, uncertainty: float | None = None) -> str:
    """A value with its unit; where it has a standard uncertainty (k = 1), with twice that and its k."""
    if value is None:
        return "not known"
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return str(value)
    unit = SHOWN_UNIT.get(field.unit or "", field.unit or "")
    if uncertainty:
        return f"{format_number(value, field, uncertainty)} {unit} {WITH_K}".replace("  ", " ")
    return f"{format_number(value, field)} {unit}".strip()


def unbroken(text: str) -> str:
    """A text whose lines do not end between a number and its unit, or a ± and its k, in a page too.

    >>> unbroken("lost 0.30 ± 0.016 g (k = 2) in 13 runs").split(" ")[1]
    '0.30\\xa0±\\xa00.016\\xa0g\\xa0(k\\xa0=\\xa02)'
    """
    return held(text, NO_BREAK)


def wrapped(text: str, indent: str = "") -> list[str]:
    """A sentence on lines of at most ``line_width()`` characters, all but the first indented further.

    No line ends between a number and its unit, between a ± and its k, or within a command to copy.

    >>> wrapped("x" * 88 + " 0.30 ± 0.016 g (k = 2) in 13 runs")[1]
    '  0.30 ± 0.016 g (k = 2) in 13 runs'
    """
    return wrapped_under(text, line_width(), indent, indent + "  ")
