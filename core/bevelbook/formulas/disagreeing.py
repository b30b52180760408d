"""Weighings after the same runs that disagree: which differences the scale cannot explain, what settles them, and the
words.

The rule: readings that the scale explains count together, as their mean. Where it does not explain them, those count
that agree with each other, by the rule of ``same_runs``. Until that settles it the lightest counts, and at the first
count the heaviest, so that no loss is hidden: weigh again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.formulas.day_number import day_number
from bevelbook.formulas.oil_limits import grams_in_words
from bevelbook.formulas.readings import Reading
from bevelbook.formulas.same_runs import apart, what_counts

BY_RUNS: Final = itemgetter(0)
_BY_MASS: Final = itemgetter(1)
_DECIMALS: Final = 6
_NUMBERS: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


class Disagreement(NamedTuple):
    """Readings after the same runs that the scale does not explain, the lightest first.

    ``counting`` are those that settle it; none while nothing does. ``counts`` names the one that counts until then;
    empty where the build has no other readings to compare with. ``before`` are heavier ones of earlier days, before oil
    was lost standing; ``lighter_later`` are lighter ones at the end that nothing confirms yet, where ``sure`` are
    certain.
    """

    runs: float
    readings: tuple[Reading, ...]
    counting: tuple[Reading, ...]
    counts: str
    before: tuple[Reading, ...] = ()
    lighter_later: tuple[Reading, ...] = ()
    sure: tuple[Reading, ...] = ()

    @property
    def lightest(self) -> Reading:
        return self.readings[0]

    @property
    def heaviest(self) -> Reading:
        return self.readings[-1]

    @property
    def apart_g(self) -> float:
        return round(self.heaviest.mass_g - self.lightest.mass_g, _DECIMALS)

    @property
    def outliers(self) -> tuple[Reading, ...]:
        """Those that do not count, if it is settled."""
        sound = (*self.counting, *self.before)
        return tuple(one for one in self.readings if one not in sound) if self.counting else ()

    @property
    def words(self) -> str:
        """What disagrees, and what counts.

        >>> three = [Reading(6.0, 22.34, 2e-5), Reading(6.0, 22.05, 2e-5), Reading(0.0, 22.35, 2e-5)]
        >>> [one.words for one in disagreements(three)]
        ['two weighings at 6 runs are 0.29 g apart: the lighter one counts']
        >>> [one.words for one in disagreements([one._replace(runs=6.0) for one in three])]
        ['of three weighings at 6 runs 22.34 g and 22.35 g agree and count; 22.05 g does not count']
        """
        at = f"at {counted(self.runs, 'run')}"
        if not self.counting:
            far = apart_in_words(self.runs, self.apart_g, len(self.readings))
            if self.lighter_later:
                lighter = _days_apart(self.lighter_later, (*self.sure, *self.before))
                far = f"{far}, {lighter}: lost standing, or something else was on the scale"
            return far + (f": the {self.counts} one counts" if self.counts else "")
        if self.before:
            odd = f"; {_listed(self.outliers)} {_do(self.outliers)} not count" if self.outliers else ""
            lost_g = round(self.before[-1].mass_g - self.counting[0].mass_g, _DECIMALS)
            return f"{grams_in_words(lost_g)} went {at} while it stood, {_days_apart(self.counting, self.before)}{odd}"
        if not self.outliers:
            return f"{apart_in_words(self.runs, self.apart_g, len(self.readings))}, and all count"
        return (
            f"of {_NUMBERS.get(len(self.readings), len(self.readings))} weighings {at} {_listed(self.counting)} agree "
            f"and count; {_listed(self.outliers)} {_do(self.outliers)} not count"
        )

    @property
    def advice(self) -> str:
        """What to do about it, put after the words; empty where it is settled."""
        return "" if self.counting else ", weigh again" if self.counts else ": weigh again"


def _do(readings: Sequence[Reading]) -> str:
    return "does" if len(readings) == 1 else "do"


def _days_apart(lighter: Sequence[Reading], heavier: Sequence[Reading]) -> str:
    """From which day to which it got lighter.

    >>> some = [Reading(6.0, 22.0, 2e-5, date=day) for day in ("2026-05-11", "2026-05-30")]
    >>> _days_apart(some[1:], some[:1])
    'between 2026-05-11 and 2026-05-30'
    """
    since = max((one.date for one in heavier), key=lambda day: day_number(day) or 0)
    until = min((one.date for one in lighter), key=lambda day: day_number(day) or 0)
    return f"between {since} and {until}"


def _listed(readings: Sequence[Reading]) -> str:
    masses = [f"{one.mass_g:.2f} g" for one in readings]
    return masses[0] if len(masses) == 1 else f"{', '.join(masses[:-1])} and {masses[-1]}"


def disagreements(readings: Iterable[Reading]) -> list[Disagreement]:
    """Every count of runs at which the readings of one build on one basis disagree, in the order of runs."""
    return list(_disagreements(sorted(readings, key=BY_RUNS)))


def _disagreements(ordered: Sequence[Reading]) -> Iterator[Disagreement]:
    for runs, group in groupby(ordered, key=BY_RUNS):
        same = list(group)
        if len(same) > 1 and apart(same) is not None:
            counts = "" if len(same) == len(ordered) else "heavier" if runs == ordered[0][0] else "lighter"
            if counts and len(same) > 2:
                counts = "heaviest" if counts == "heavier" else "lightest"
            found = what_counts(same)
            lightest_first = tuple(sorted(same, key=_BY_MASS))
            yield Disagreement(
                runs, lightest_first, found.counting, counts, found.before, found.lighter_later, found.sure
            )


def apart_in_words(runs: float, apart_g: float, count: int = 2) -> str:
    """Readings after the same runs that the scale does not explain.

    >>> apart_in_words(0.0, 0.3), apart_in_words(1.0, 0.004)
    ('two weighings at 0 runs are 0.30 g apart', 'two weighings at 1 run are 0.004 g apart')
    """
    far = "" if count == 2 else "up to "
    return f"{_NUMBERS.get(count, count)} weighings at {counted(runs, 'run')} are {far}{grams_in_words(apart_g)} apart"
