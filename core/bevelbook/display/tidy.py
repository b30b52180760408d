"""Sentences with numbers as a person would write them: no minus before a zero, no rows of digits."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import LARGEST, SMALLEST
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.powers import power_of_ten

_MINUS_ZERO: Final = late_pattern(r"(?<![\w.,)\]])[-−](0(?:\.0+)?)(?![.,]?\d)")
_AS_A_POWER: Final = late_pattern(r"(?<![\w.])\d+(?:\.\d+)?e[+-]\d{2,3}(?!\w)")
_MANY_DIGITS: Final = late_pattern(r"(?<![\w.])\d{1,3}(?:,\d{3}){4,}(?:\.\d+)?|(?<![\w.])\d{13,}(?:\.\d+)?")
_TWELVE_MORE: Final = late_pattern(r"\d[\d,]{12}")
"""In every text that has many digits: it is found sooner than they."""


def tidied(text: str) -> str:
    """The sentence without a minus before a zero that has lost its digits, and with numbers from 1e12 in powers of ten.

    >>> tidied("backlash -0.00 mm, −0.000 g"), tidied("-0.04 mm from 10-0 mm")
    ('backlash 0.00 mm, 0.000 g', '-0.04 mm from 10-0 mm')
    >>> tidied("8,576,225,953,080.3 s, 147078590801901 %"), tidied("1,234,567.5 g")
    ('8.58 × 10¹² s, 1.47 × 10¹⁴ %', '1,234,567.5 g')
    >>> tidied("of 1e+06 cSt, 2.5e-05 per K")
    'of 1,000,000 cSt, 0.000025 per K'
    """
    if "0" in text and ("-" in text or "−" in text):
        text = _MINUS_ZERO.sub(r"\1", text)
    if len(text) > 12 and _TWELVE_MORE.search(text):
        text = _MANY_DIGITS.sub(lambda found: power_of_ten(float(found[0].replace(",", ""))), text)
    if "e+" in text or "e-" in text:
        text = _AS_A_POWER.sub(lambda found: _in_full(found[0]), text)
    return text


def _in_full(text: str) -> str:
    value = float(text)
    if value and not SMALLEST <= abs(value) < LARGEST:
        return power_of_ten(value)
    digits = len(text.partition("e")[0].partition(".")[2])
    return f"{value:,.{max(0, digits - int(text.partition('e')[2]))}f}"
