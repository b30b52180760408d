"""What the number format of a sheet's cell shows beside its number (ISO/IEC 29500-1, 18.8.31)."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern

_PLACEHOLDER: Final = frozenset("0#?")
_CURRENCY: Final = late_pattern(r"\[\$([^\]-]*)(?:-[^\]]*)?\]")
_BRACKETS: Final = late_pattern(r"\[[^\]]*\]")


class NumberFormat(NamedTuple):
    """What a format shows: the text behind the number, the least digits before its mark, and whether what is seen is
    another number (a percentage, thousands left out) or has text before it."""

    unit: str = ""
    least_digits: int = 1
    is_other: bool = False

    def shows_otherwise(self, digits: str) -> bool:
        """Whether a number (its digits) is seen as something that reads differently, such as 7 as 007."""
        return self.is_other or len(digits.lstrip("-").partition(".")[0]) < self.least_digits


PLAIN: Final = NumberFormat()


def number_format(code: str) -> NumberFormat:
    """What a format's code shows.

    >>> number_format('0.0"°F"').unit, number_format('#,##0.00" mg"').unit, number_format("General")
    ('°F', 'mg', NumberFormat(unit='', least_digits=1, is_other=False))
    >>> number_format("000").least_digits, number_format("0.0%").is_other, number_format("0,").is_other
    (3, True, True)
    """
    before, behind, pattern = [""], [""], ""
    rest = _first_section(code)
    if rest.strip().lower() in ("general", "@", ""):
        return PLAIN
    if rest.lower().startswith("general"):
        rest = f"#{rest[len('general') :]}"
    place = 0
    while place < len(rest):
        sign = rest[place]
        place += 1
        shown = ""
        if sign == '"':
            end = rest.find('"', place)
            end = len(rest) if end < 0 else end
            shown, place = rest[place:end], end + 1
        elif sign == "\\":
            shown, place = rest[place : place + 1], place + 1
        elif sign in "_*":
            shown, place = " ", place + 1
        elif sign == "[":
            currency = _CURRENCY.match(rest, place - 1)
            bracket = _BRACKETS.match(rest, place - 1)
            shown = currency[1] if currency else ""
            place = bracket.end() if bracket else place
        elif sign in _PLACEHOLDER or (sign in ".,%" or (sign in "Ee" and rest[place : place + 1] in ("+", "-"))):
            pattern += sign
            place += sign in "Ee"
        else:
            shown = sign
        if shown:
            (behind if any(one in _PLACEHOLDER for one in pattern) else before).append(shown)
    whole = pattern.partition(".")[0]
    text_before = "".join(before).strip(" +-()")
    is_other = "%" in pattern or pattern.rstrip("%").endswith(",") or bool(text_before)
    unit = "".join(behind).strip(" -()")
    return NumberFormat(unit, max(1, whole.count("0")), is_other)


def _first_section(code: str) -> str:
    """The format of positive numbers: up to the first semicolon outside quotes."""
    quoted = False
    for place, sign in enumerate(code):
        if sign == '"':
            quoted = not quoted
        elif sign == ";" and not quoted and code[place - 1 : place] != "\\":
            return code[:place]
    return code
