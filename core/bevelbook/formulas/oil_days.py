"""Oil days: one day, one diff, one oil. How often an oil was kept is counted by day, not by run.

Runs of one day share weather, track and fill, and so do two diffs with one oil on that day: their calls are not
independent. A day counts once for an oil, with the share of its calls that were keep. How many runs a day had leads the
share least astray: where a change ends the day the last call of a long day is more often a change, and the majority of
many calls is more often keep than a single one. In simulations both made false differences of days of unequal length.

Days right after one another are a meeting. Two oils are compared by meeting: in simulations weekends with one call for
both days made a false difference in 17 of 100 seasons where each day counted, in 3 by meeting.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date
from itertools import pairwise
from math import fsum
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted

KEEP: Final = "keep"
DECIDED: Final = (KEEP, "change")
"""The calls that count for an oil."""
DAYS_A_SIDE: Final = 3
"""Days of one oil below which nothing may be concluded (our own figure)."""
MEETINGS_A_SIDE: Final = 3
"""Meetings of one oil below which it is not compared with another (our own figure)."""
NOTHING_DECIDED: Final = "nothing decided"
KEPT_AND_CHANGED: Final = "kept and changed"
_DECIMALS: Final = 9


class OilDay(NamedTuple):
    """A day on which a diff ran with one oil: its viscosity at 25 °C in cSt, else its label."""

    day: str
    diff: str | None
    oil: float | str | None


class CalledRun(NamedTuple):
    """What was decided after a note of runs, how many these are, and the oil day they belong to.

    ``run`` names the note: it counts as one decision however many diffs ran in it; without a name it is one of its own.
    """

    oil_day: OilDay
    call: str | None
    runs: float = 1.0
    run: str | None = None


class DaysKept(NamedTuple):
    """How an oil did: days with a decided run, their oil days and runs, and the days that were kept.

    ``kept`` adds up the share of each day; a day with both calls is split. ``keeps`` and ``changes`` count decisions.
    """

    kept: float
    days: int
    oil_days: int
    runs: float
    all_kept: int
    all_changed: int
    keeps: int = 0
    changes: int = 0

    @property
    def split(self) -> int:
        return self.days - self.all_kept - self.all_changed

    @property
    def enough(self) -> bool:
        return self.days >= DAYS_A_SIDE

    @property
    def words(self) -> str:
        """On how many days it was kept, changed, or both; the decisions where a day had both and days are few.

        >>> DaysKept(2.5, 4, 4, 9.0, 2, 1, 6, 3).words, DaysKept(1.0, 2, 2, 6.0, 0, 0, 4, 2).words
        ('kept on 2 of 4 days, changed on 1, both on 1', 'kept and changed on 2 days (4 keeps, 2 changes)')
        >>> DaysKept(1.0, 1, 1, 1.0, 1, 0).words, DaysKept(1.5, 2, 2, 3.0, 1, 0, 2, 1).words
        ('kept on 1 day', 'kept on 1 of 2 days, both on 1 (2 keeps, 1 change)')
        """
        each = ((self.all_kept, "kept"), (self.all_changed, "changed"), (self.split, "both"))
        (first, word), *others = [one for one in each if one[0]] or [(0, NOTHING_DECIDED)]
        if not first:
            return word
        of = f"{first} of {counted(self.days, 'day')}" if others or first > 1 else counted(first, "day")
        if word == "both":
            word, of = KEPT_AND_CHANGED, counted(first, "day")
        return ", ".join((f"{word} on {of}", *(f"{other} on {count}" for count, other in others))) + self._decisions

    @property
    def words_of_one_day(self) -> str:
        """The same of a day that is named beside it.

        >>> DaysKept(0.5, 1, 1, 3.0, 0, 0, 2, 1).words_of_one_day, DaysKept(1.0, 1, 1, 1.0, 1, 0).words_of_one_day
        ('kept and changed (2 keeps, 1 change)', 'kept')
        """
        if not self.days:
            return NOTHING_DECIDED
        word = "kept" if self.all_kept else "changed" if self.all_changed else KEPT_AND_CHANGED
        return word + self._decisions

    @property
    def _decisions(self) -> str:
        """How many decisions were which, where a day had both and the days alone say little."""
        if not self.split or self.enough:
            return ""
        return f" ({counted(self.keeps, 'keep')}, {counted(self.changes, 'change')})"


def share_kept(runs: Sequence[CalledRun]) -> float:
    """The share kept of the decided runs of one day: the mean over its oil days of the share of calls that were keep.

    >>> a, b = OilDay("2026-05-02", "rear-a", 7000.0), OilDay("2026-05-02", "rear-b", 7000.0)
    >>> share_kept([CalledRun(a, "keep"), CalledRun(a, "keep"), CalledRun(a, "change"), CalledRun(b, "change")])
    0.333333333
    """
    by_oil_day: dict[OilDay, list[bool]] = {}
    for run in runs:
        if run.call in DECIDED:
            by_oil_day.setdefault(run.oil_day, []).append(run.call == KEEP)
    return round(fsum(fsum(calls) / len(calls) for calls in by_oil_day.values()) / len(by_oil_day), _DECIMALS)


def days_kept(runs: Iterable[CalledRun]) -> DaysKept:
    """Runs counted by day; those without keep or change do not count.

    >>> monday, tuesday = OilDay("2026-05-04", "rear-a", 7000.0), OilDay("2026-05-05", "rear-a", 7000.0)
    >>> days_kept([CalledRun(monday, "keep"), CalledRun(monday, "change"), CalledRun(tuesday, "keep")])
    DaysKept(kept=1.5, days=2, oil_days=2, runs=3.0, all_kept=1, all_changed=0, keeps=2, changes=1)
    """
    return _counted(runs, lambda run: run.oil_day.day)


def meetings_of(days: Iterable[str]) -> dict[str, str]:
    """The meeting of each day, named by its first day: days right after one another are one, as those of a weekend.

    What is not a date such as 2026-05-02 is a meeting of its own.

    >>> meetings_of(["2026-05-02", "2026-05-04", "2026-05-03", "2026-05-09", "sunday"])["2026-05-04"]
    '2026-05-02'
    """
    found = {day: day for day in days}
    dated = sorted((number, day) for day in found if (number := _date_number(day)) is not None)
    for (before, earlier), (number, day) in pairwise(dated):
        if number - before <= 1:
            found[day] = found[earlier]
    return found


def order_of(days: Iterable[str]) -> dict[str, int] | None:
    """The order of days that are all dates, or all numbers; None where it is not known.

    >>> order_of(["2", "1"]), order_of(["2", "sunday"])
    ({'2': 2, '1': 1}, None)
    """
    named = list(dict.fromkeys(days))
    numbers = [_date_number(day) for day in named]
    if None in numbers:
        numbers = [int(day) if day.isdecimal() else None for day in named]
    return None if None in numbers else {day: number or 0 for day, number in zip(named, numbers, strict=True)}


def is_date(day: str) -> bool:
    """Whether a day is a date, so that it is known what was before and after it."""
    return _date_number(day) is not None


def _date_number(day: str) -> int | None:
    with suppress(ValueError):
        return date.fromisoformat(day).toordinal()
    return None


def meetings_kept(runs: Iterable[CalledRun], meetings: Mapping[str, str]) -> DaysKept:
    """Runs of one oil counted by meeting, a day without one as its own: its ``days`` are meetings.

    >>> days = ("2026-05-02", "2026-05-03", "2026-05-09")
    >>> runs = [CalledRun(OilDay(day, "rear-a", 7000.0), "keep") for day in days]
    >>> meetings_kept(runs, meetings_of(days)).days
    2
    """
    return _counted(runs, lambda run: meetings.get(run.oil_day.day, run.oil_day.day))


def _counted(runs: Iterable[CalledRun], unit: Callable[[CalledRun], Hashable]) -> DaysKept:
    by_unit: dict[Hashable, list[CalledRun]] = {}
    for run in runs:
        if run.call in DECIDED:
            by_unit.setdefault(unit(run), []).append(run)
    shares = [share_kept(of_unit) for of_unit in by_unit.values()]
    decided = [run for of_unit in by_unit.values() for run in of_unit]
    calls = list({run.run or place: run.call for place, run in enumerate(decided)}.values())
    return DaysKept(
        round(fsum(shares), _DECIMALS - 1),
        len(by_unit),
        len({run.oil_day for run in decided}),
        fsum(run.runs for run in decided),
        shares.count(1.0),
        shares.count(0.0),
        calls.count(KEEP),
        len(calls) - calls.count(KEEP),
    )
