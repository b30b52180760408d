"""The order of day, month and year in a column of dates, found from all of its cells.

An order is out if a cell that is a day up to today in some order does not exist in it, or if days in the future speak
against it. Where another order has none, one such day is enough if the days lie close together in that order: within
a year, or closer than in this one; otherwise two, since one alone may be a slip in the year. Each day that speaks
against the order with the fewest asks for three more. One order left is taken. More, or none, and the cells in which
they differ are ambiguous.
A cell that is a day up to today in no order is a fault of its own and says nothing.

Five digits are the number of a day, unless the column has days run together: then they are one that lost its nought.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.reading import Options, ReadingError
from bevelbook.reading.date_forms import ISO, ORDERS, DayForms, Days, FiveDigits, is_five_digits, is_joined
from bevelbook.reading.dates import FIRST, days_of
from bevelbook.reading.labels import in_plain_signs
from bevelbook.reading.options import ReadingOption

SAMPLES: Final = 3
_AGAINST: Final = 2
"""Days in the future that put an order out where another has none, whatever that makes of the other days."""
_CLOSE_DAYS: Final = 366
"""Days that lie within so many are close together: one in the future is then enough against another order."""
_MORE_AGAINST: Final = 3
"""Further ones for each day in the future under the order with the fewest."""
_SLIPS: Final = 10
"""One cell in so many may be in the future under the order that is taken."""
_YEARS_OFFERED: Final = 3


class SettledDays(NamedTuple):
    """What was settled for a column of days. ``order`` is None where nothing decides between the orders ``left``."""

    order: str | None = None
    left: tuple[str, ...] = ORDERS
    five_digits: FiveDigits = "number"


class _Tally:
    """What cells say of the orders."""

    def __init__(self) -> None:
        self.cells = 0
        self.out: set[str] = set()
        self.late: dict[str, set[str]] = {order: set() for order in ORDERS}
        self.past: dict[str, tuple[str, str]] = {}
        """The first and the last day up to today, by order."""
        self.differing: dict[str, Days] = {}
        """The first cells with more than one reading."""
        self.differing_late: dict[str, Days] = {}
        """The first ones that are a day in the future in some order."""

    def add(self, text: str, days: Days, today: str) -> None:
        if ISO in days.readings or min(days.readings.values()) > today:
            return
        self.cells += 1
        self.out.update(order for order in ORDERS if order not in days.readings)
        for order, day in days.readings.items():
            if day > today:
                self.late[order].add(day)
            else:
                first, last = self.past.get(order, (day, day))
                self.past[order] = (min(first, day), max(last, day))
        if days.ambiguous:
            differing = self.differing if max(days.readings.values()) <= today else self.differing_late
            if len(differing) < SAMPLES:
                differing[text] = days

    def with_other(self, other: _Tally) -> _Tally:
        """What the cells of both say."""
        both = _Tally()
        both.cells = self.cells + other.cells
        both.out = self.out | other.out
        both.late = {order: self.late[order] | other.late[order] for order in ORDERS}
        for order in self.past.keys() | other.past.keys():
            days = (*self.past.get(order, ()), *other.past.get(order, ()))
            both.past[order] = (min(days), max(days))
        both.differing = dict([*self.differing.items(), *other.differing.items()][:SAMPLES])
        both.differing_late = dict([*self.differing_late.items(), *other.differing_late.items()][:SAMPLES])
        return both

    def left(self) -> list[str]:
        """The orders that are not out."""
        existing = [order for order in ORDERS if order not in self.out]
        fewest = min((len(self.late[order]) for order in existing), default=0)
        against = _AGAINST + _MORE_AGAINST * fewest
        return [
            order
            for order in existing
            if len(self.late[order]) < against and not (fewest == 0 and self.late[order] and self._is_out(order))
        ]

    def _is_out(self, order: str) -> bool:
        """Whether one day in the future is enough against an order: the days of another lie close together."""
        own = self._days_apart(order)
        return any(
            (apart := self._days_apart(other)) <= _CLOSE_DAYS or (order in self.past and apart <= own)
            for other in ORDERS
            if other not in self.out and not self.late[other]
        )

    def _days_apart(self, order: str) -> int:
        """The days between the first and the last day up to today."""
        from datetime import date

        if order not in self.past:
            return 0
        first, last = map(date.fromisoformat, self.past[order])
        return (last - first).days

    @property
    def samples(self) -> dict[str, Days]:
        """The cells to show of those with more than one reading: first those that are in the future in no order."""
        return dict([*self.differing.items(), *self.differing_late.items()][:SAMPLES])

    def order(self) -> str | None:
        left = self.left()
        return left[0] if len(left) == 1 and not self._too_late(left[0]) else None

    def possible(self) -> tuple[str, ...]:
        """The orders that a cell may be in: all of them where the cells contradict one another."""
        return ORDERS if self.is_mixed() else tuple(self.left())

    def is_mixed(self) -> bool:
        """Whether the cells contradict one another."""
        left = self.left()
        return self.cells > 0 and (not left or (len(left) == 1 and self._too_late(left[0])))

    def by_future(self) -> bool:
        """Whether only days in the future put an order out."""
        return len(set(ORDERS) - self.out) > 1

    def _too_late(self, order: str) -> bool:
        return len(self.late[order]) > max(1, self.cells // _SLIPS)


class DayEvidence:
    """What the cells of a column of days say, gathered over the whole file."""

    def __init__(self, field: Field, options: Options) -> None:
        self.field = field
        self.options = options
        self.joined = False
        self.joined_iso = False
        self.yearless: list[str] = []
        self._forms = DayForms(options.date_base, options.year, options.months, joined=True)
        self._all_but_five, self._five = _Tally(), _Tally()

    def look(self, text: str) -> None:
        """Take in one spelling. Raises ReadingError for one that is not a day."""
        plain = in_plain_signs(text)
        if is_five_digits(plain):
            days = days_of(self.field, plain, self._forms._replace(five_digits="joined"))
            if days is not None:
                self._five.add(text, days, self._today)
            return
        try:
            days = days_of(self.field, text, self._forms)
        except ReadingError as error:
            if error.settled_by is ReadingOption.YEAR and len(self.yearless) < SAMPLES:
                self.yearless.append(text)
            raise
        if days is None:
            return
        if is_joined(plain):
            self.joined |= ISO not in days.readings
            self.joined_iso |= ISO in days.readings
        self._all_but_five.add(text, days, self._today)

    @property
    def _today(self) -> str:
        return self.options.today or "9999-12-31"

    def _tally(self) -> _Tally:
        has_joined = self.joined or self.joined_iso
        return self._all_but_five.with_other(self._five) if has_joined else self._all_but_five

    def settle(self, name: str, said: str | None, warnings: list[str]) -> SettledDays:
        """The order that is said, else the one that is proven; adds what is odd to the warnings."""
        five = self.options.five_digits or self.five_digits or "number"
        if said:
            return SettledDays(said, five_digits=five)
        if "date_order" in self.options.undecided:
            return SettledDays(five_digits=five)
        tally = self._tally()
        if tally.is_mixed():
            warnings.append("mixed_date_orders")
        order = tally.order() if tally.cells else None
        if order and tally.by_future():
            warnings.append(f"date_order_by_future:{name}={order}")
        return SettledDays(order, tally.possible(), five)

    @property
    def five_digits(self) -> FiveDigits | None:
        """How five digits are read, as days that are run together say; None where there is no such day."""
        return "joined" if self.joined else "either" if self.joined_iso else None

    def questions(self, heading: str) -> list[FileQuestion]:
        """What a person may say so that the days of the column have one reading."""
        found = []
        tally = self._tally()
        is_open = "date_order" in self.options.undecided
        if tally.samples and not self.options.date_order and not (tally.cells and tally.order() and not is_open):
            orders = ORDERS if is_open else tally.possible()
            found.append(_order_question(heading, tally.samples, orders, self._today))
        if self.yearless and self.options.year is None:
            found.append(_year_question(heading, self.yearless, self._today))
        return found


def _order_question(heading: str, differing: Mapping[str, Days], possible: Sequence[str], today: str) -> FileQuestion:
    text, sample = max(differing.items(), key=lambda one: len(one[1].readings.keys() & set(possible)))
    orders = [order for order in possible if order in sample.readings]
    first = [FIRST[order] for order in orders]
    return FileQuestion(
        ReadingOption.DATE_ORDER,
        f"What is first in the dates of {heading}: the {', the '.join(first[:-1])} or the {first[-1]}?",
        tuple(
            PossibleAnswer(
                order,
                f"the {FIRST[order]}: {text} is "
                + (day if (day := sample.readings[order]) <= today else "a slip, a day in the future"),
            )
            for order in orders
        ),
        about=heading,
        samples=tuple(differing),
    )


def _year_question(heading: str, yearless: list[str], today: str) -> FileQuestion:
    this_year = int(today[:4])
    years = [str(this_year - back) for back in range(_YEARS_OFFERED)]
    return FileQuestion(
        ReadingOption.YEAR,
        f"Which year are the dates of {heading} from that leave it out?",
        tuple(PossibleAnswer(year, year) for year in years),
        about=heading,
        samples=tuple(yearless),
    )
