"""Seconds as a timing screen or a spreadsheet shows them: ``1:14.9``, ``1:14,9 s``, ``0:01:15``, ``00:01:14.900``.

Which fields take that, how it is read, and where it is one part of several: here alone.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.declare.fields import LAP_S, Field
from bevelbook.declare.late_pattern import late_pattern

LONGEST_S: Final = 3600.0
"""Seconds from which hours are named: where a field reaches so far, 1:15 may be an hour and a quarter."""
EXAMPLE: Final = "1:14.9"
LAP: Final = Field("lap", "quantity", "A lap", unit="s", above=0, plausible=LAP_S)
"""How each of the laps in one text is read."""
PARTED: Final = "Between laps stands a blank, a semicolon or a new line: 18.4 1:14.9."
"""What parts the laps of one text, for whoever wrote them otherwise; :func:`laps_in` takes more."""
_MINUTE: Final = 60
_CLOCK: Final = late_pattern(
    r"(?:(?P<hours>[0-9]{1,4}):(?P<minutes>[0-5]?[0-9])|(?P<many>[0-9]{1,2})):(?P<seconds>[0-5][0-9])"
    r"(?:(?P<mark>[.,])(?P<decimals>[0-9]{1,6}))?(?:\s*(?:s|secs?|seconds?|min)\.?)?"
)
_MINUTES: Final = late_pattern(r"\s*[0-9]{1,2}\s*")
_SECONDS: Final = late_pattern(r"\s*[0-9]{1,2}(?:[.,][0-9]{1,6})?(?:\s*s)?\s*(?:±.*|\+/?-.*)?")
_BETWEEN_LAPS: Final = late_pattern(r"\s*[;|\n]\s*|,\s+|\s+(?!(?:s|secs?|seconds?|min)\b)")
_COMMA_BEHIND_DECIMALS: Final = late_pattern(r"(\.[0-9]+),")


class OfClock(NamedTuple):
    """A time in minutes and seconds, or in hours, minutes and seconds: in seconds, with its decimal mark (None without
    decimals) and its hours (None where none are written)."""

    value_s: float
    mark: str | None
    hours: int | None

    @property
    def may_be_of_day(self) -> bool:
        """Whether a time of day is written like that too: ``14:05``."""
        return self.hours is None and self.mark is None


def takes_minutes(field: Field) -> bool:
    """Whether minutes and seconds are what ``1:14.9`` means for a field: in one of seconds that are never an hour, such
    as a lap, by its range of sane values or its bounds."""
    if field.kind != "quantity" or field.unit != "s":
        return False
    if field.plausible is not None:
        return field.plausible[1] < LONGEST_S
    return any(most is not None and most <= LONGEST_S for most in (field.maximum, field.below))


def of_clock(plain: str) -> OfClock | None:
    """A text in plain signs as seconds; None where it is not minutes and seconds below 60.

    >>> of_clock("1:14.9"), of_clock("0:01:15"), of_clock("1:74.9"), of_clock("1:4.9")
    (OfClock(value_s=74.9, mark='.', hours=None), OfClock(value_s=75.0, mark=None, hours=0), None, None)
    """
    found = _CLOCK.fullmatch(plain)
    if found is None:
        return None
    minutes = int(found["hours"] or 0) * _MINUTE + int(found["minutes"] or found["many"])
    seconds = minutes * _MINUTE + int(found["seconds"])
    hours = None if found["hours"] is None else int(found["hours"])
    return OfClock(float(f"{seconds}.{found['decimals'] or 0}"), found["mark"], hours)


def may_be_joined(text: str, behind: str) -> bool:
    """Whether two parts of an item that a colon parts look like minutes and seconds, be they wrong ones: ``1`` and
    ``14.9``."""
    return _MINUTES.fullmatch(text) is not None and _SECONDS.fullmatch(behind) is not None


def laps_in(text: str) -> list[str]:
    """The laps of a text, each as it is written: between blanks, lines, semicolons, strokes or commas. A comma without
    a blank is the decimal mark, unless the number before it has decimals already.

    >>> laps_in("1:14.9 s 1:15.2;18,4, 18,5"), laps_in("18.4,18.5"), laps_in("18,18.5")
    (['1:14.9 s', '1:15.2', '18,4', '18,5'], ['18.4', '18.5'], ['18,18.5'])
    """
    text = _COMMA_BEHIND_DECIMALS.sub(r"\1, ", text)
    return [one for one in _BETWEEN_LAPS.split(text.strip(" \t\n\r,;|")) if one]
