"""Sentences with numbers as a person would write them: no minus before a zero, no rows of digits."""

from __future__ import annotations

import re
from typing import Final

_MINUS_ZERO: Final = re.compile(r"(?<![\w.,)\]])[-−](0(?:\.0+)?)(?![.,]?\d)")
_MANY_DIGITS: Final = re.compile(r"(?<![\w.])\d{1,3}(?:,\d{3}){4,}(?:\.\d+)?|(?<![\w.])\d{13,}(?:\.\d+)?")


def tidied(text: str) -> str:
    """The sentence with a zero that has lost its digits written without its minus, and numbers from 1e12 in powers.

    >>> tidied("backlash -0.00 mm, −0.000 g"), tidied("-0.04 mm from 10-0 mm")
    ('backlash 0.00 mm, 0.000 g', '-0.04 mm from 10-0 mm')
    >>> tidied("8,576,225,953,080.3 s, 147078590801901 %"), tidied("1,234,567.5 g")
    ('8.58e+12 s, 1.47e+14 %', '1,234,567.5 g')
    """
    if "0" in text and ("-" in text or "−" in text):
        text = _MINUS_ZERO.sub(r"\1", text)
    if len(text) > 12:
        text = _MANY_DIGITS.sub(lambda found: f"{float(found[0].replace(',', '')):.3g}", text)
    return text
