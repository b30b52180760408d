"""One thing that differs between two builds, with both values and the change."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final, NamedTuple, TypeGuard

from bevelbook.calculating.calculate import clean
from bevelbook.display.format import SHOWN_UNIT, format_figure, is_noise

OIL: Final = "Oil"
BLEND: Final = "Blend"
MASSES: Final = "Masses"
SHIMS: Final = "Shims"
SEALS: Final = "Seals"
PARTS: Final = "Parts"
FEEL: Final = "Feel"
CAR: Final = "Car in its runs"
BUILD: Final = "Build"
OUTCOME: Final = "Runs and outcome"
CALCULATIONS: Final = "Calculations"
_COUNTED: Final = "runs"
"""A unit of what differs by itself, and says nothing as a change: a build of 5 runs is not one of 25 with 20 less."""


class Noted(NamedTuple):
    """A value noted of a build, with its unit; ``thing`` is what several values describe, such as one seal."""

    value: Any
    unit: str = ""
    thing: str = ""


NotedValues = dict[str, Noted]
"""What is noted of a build, by name."""


class Difference(NamedTuple):
    """One thing that differs. ``change`` is b minus a, for numbers; ``unit`` is empty for words and bare numbers."""

    group: str
    what: str
    a: Any
    b: Any
    change: float | None
    unit: str
    thing: str = ""

    @property
    def is_of_one(self) -> bool:
        """Whether it is noted of one of the two builds only."""
        return self.a is None or self.b is None

    @property
    def shown_a(self) -> str:
        """The value of the first build, "-" where none is noted."""
        return self._shown(self.a)

    @property
    def shown_b(self) -> str:
        """The value of the second build, "-" where none is noted."""
        return self._shown(self.b)

    @property
    def shown_change(self) -> str:
        """The signed change with its unit; empty for words, and for counts of runs."""
        return "" if self.change is None or self.unit == _COUNTED else self._number(self.change, "+")

    def _shown(self, value: Any) -> str:
        if value is None:
            return "-"
        return self._number(value) if _is_number(value) else str(value)

    def _number(self, value: float, sign: str = "") -> str:
        shown = SHOWN_UNIT.get(self.unit, self.unit)
        return f"{format_figure(value, self.unit or '1', sign=sign)} {shown}".strip()


def differing(group: str, a: NotedValues, b: NotedValues) -> Iterator[Difference]:
    """What differs between the values that two builds have in one group, in the order in which they are noted."""
    for what in dict.fromkeys((*a, *b)):
        left, right = (noted.get(what) for noted in (a, b))
        noted = left or right
        of_a, of_b = (one.value if one else None for one in (left, right))
        if noted is None or of_a == of_b:
            continue
        change = clean(float(of_b) - float(of_a)) if _is_number(of_a) and _is_number(of_b) else None
        if change is None or not is_noise(change):
            unit = (left.unit if left else "") or (right.unit if right else "")
            yield Difference(group, what, of_a, of_b, change, unit, noted.thing)


def _is_number(value: Any) -> TypeGuard[float]:
    return isinstance(value, (int, float)) and not isinstance(value, bool)
