"""Figures as people read them, with their unit: never more digits than were measured."""

from __future__ import annotations

import re
from math import floor, log10
from typing import Any, Final

from bevelbook.declare.coverage import COVERAGE_K, TAKEN_AS, WITH_K
from bevelbook.declare.fields import LARGEST, SMALLEST, Field
from bevelbook.display.line_width import line_width

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
    "m": 0,
    "deg": 1,
    "1/K": 6,
    "%": 1,
    "g/run": 4,
    "s/run": 3,
    "runs": 1,
    "1": 3,
}
NOISE: Final = 1e-10
"""Smaller numbers are noise: in the units of this program nothing measured or computed is this small."""
SHOWN_UNIT: Final = {"Δ°C": "°C", "cm3": "cm³", "g/cm3": "g/cm³", "1": "", "runs": "runs", "deg": "°"}
_SPREAD: Final = re.compile(rf"(?:[\d.,]+ )?± [^±()]{{0,40}}?(?:\(?k = [12]\)?|{TAKEN_AS})")
_HELD: Final = "\ue000"
WORD_SIGN: Final = {"ok": "ok", "caution": "caution", "stop": "STOP", "unclear": "unclear"}


def is_noise(value: float) -> bool:
    """Whether a number is a zero but for the rounding of binary fractions."""
    return abs(value) < NOISE


def format_figure(value: float, unit: str | None, *, digits: int | None = None, sign: str = "") -> str:
    """A number as people read it, without its unit: 7,000; 14.26; small ones with two significant digits.

    ``digits`` overrides the decimals of the unit; ``sign`` "+" shows the sign of a gain too.

    >>> format_figure(7000.0, "cSt"), format_figure(14.2601, "g"), format_figure(0.0082, "g")
    ('7,000', '14.26', '0.0082')
    >>> format_figure(3.0, "runs")
    '3'
    >>> format_figure(-1.4e-14, "kPa"), format_figure(-1.4e-14, "kPa", sign="+")
    ('0.0', '0.0')
    """
    decimals = digits if digits is not None else DECIMALS.get(unit or "", 3)
    if isinstance(value, int) or (unit == "runs" and float(value).is_integer()):
        decimals = 0
    if is_noise(value):
        return f"{0.0:.{decimals}f}"
    if abs(value) >= LARGEST:
        return f"{value:{sign}.6g}"
    if abs(value) < 10.0 ** (1 - decimals):
        return f"{value:{sign}.2g}"
    return f"{value:{sign},.{decimals}f}"


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

    >>> [format_typed(*one) for one in ((40 / 9, "°C"), (7000.0, "cSt"), (12345.678, "g"), (2.5e-5, "1/K"))]
    ['4.44444', '7,000', '12,345.68', '0.000025']
    """
    if value == 0:
        return "0"
    if not SMALLEST <= abs(value) < LARGEST:
        return f"{value:.6g}"
    decimals = max(0, DECIMALS.get(unit or "", 3), 5 - floor(log10(abs(value))))
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def format_number(value: float, field: Field) -> str:
    """A number of a field as people read it, without its unit, to the figures that the field declares."""
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
        return f"{value:z.6g} ± {half:.2g}"
    decimals = max(0, 1 - floor(log10(half) + 1e-6))
    return f"{0.0 if is_noise(value) else value:z.{decimals}f} ± {half:.{decimals}f}"


def format_value(value: Any, field: Field, uncertainty: float | None = None) -> str:
    """A value with its unit; where it has a standard uncertainty (k = 1), with twice that and its k."""
    if value is None:
        return "not known"
    if not isinstance(value, (int, float)) or isinstance(value, bool):
        return str(value)
    unit = SHOWN_UNIT.get(field.unit or "", field.unit or "")
    if uncertainty:
        return f"{format_spread(value, uncertainty)} {unit} {WITH_K}".replace("  ", " ")
    return f"{format_number(value, field)} {unit}".strip()


def unbroken(text: str) -> str:
    """A text whose lines do not end between a ± and its k, in a page too.

    >>> unbroken("lost 0.30 ± 0.016 g (k = 2) in 13 runs").split(" ")[1]
    '0.30\\xa0±\\xa00.016\\xa0g\\xa0(k\\xa0=\\xa02)'
    """
    return _SPREAD.sub(lambda found: found[0].replace(" ", "\u00a0"), text)


def wrapped(text: str, indent: str = "") -> list[str]:
    """A sentence on lines of at most ``line_width()`` characters, all but the first indented further.

    No line ends between a ± and its k.

    >>> wrapped("x" * 88 + " 0.30 ± 0.016 g (k = 2) in 13 runs")[1]
    '  0.30 ± 0.016 g (k = 2) in 13 runs'
    """
    from textwrap import wrap

    held = _SPREAD.sub(lambda found: found[0].replace(" ", _HELD), text)
    lines = wrap(held, line_width(), initial_indent=indent, subsequent_indent=indent + "  ", break_long_words=False)
    return [line.replace(_HELD, " ") for line in lines]
