"""Weighings after the same runs that disagree: which differences the scale cannot explain, what settles them, and the
words.

The rule: readings that the scale explains count together, as their mean. Where it does not explain them, those count
that agree with each other, if they are at least two and more than in any other group; the others do not count. A
reading that agrees with either of two settles it as well: then all three count. Until then the lightest counts, and at
the first count the heaviest, so that no loss is hidden: weigh again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.formulas.oil_limits import limit_in_words
from bevelbook.formulas.readings import Reading, uncertainty_between_g

CLEAR_K: Final = 3.0
"""From this many standard uncertainties a difference is clear (this project's proposal)."""
BY_RUNS: Final = itemgetter(0)
_BY_MASS: Final = itemgetter(1)
_DECIMALS: Final = 6
_NUMBERS: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


class Disagreement(NamedTuple):
    """Readings after the same runs that the scale does not explain, the lightest first.

    ``counting`` are those that settle it; none while nothing does. ``counts`` names the one that counts until then;
    empty where the build has no other readings to compare with.
    """

    runs: float
    readings: tuple[Reading, ...]
    counting: tuple[Reading, ...]
    counts: str

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
        return tuple(one for one in self.readings if one not in self.counting) if self.counting else ()

    @property
    def words(self) -> str:
        """What disagrees, and what counts.

        >>> three = [Reading(6.0, 22.34, 2e-5), Reading(6.0, 22.05, 2e-5), Reading(0.0, 22.35, 2e-5)]
        >>> [one.words for one in disagreements(three)]
        ['two weighings at 6 runs are 0.29 g apart: the lighter one counts']
        >>> [one.words for one in disagreements([one._replace(runs=6.0) for one in three])]
        ['of three weighings at 6 runs 22.34 g and 22.35 g agree and count; 22.05 g does not count']
        """
        if not self.counting:
            return apart_in_words(self.runs, self.apart_g, len(self.readings)) + (
                f": the {self.counts} one counts" if self.counts else ""
            )
        at = f"at {counted(self.runs, 'run')}"
        outside = len(self.outliers)
        return (
            f"of {_NUMBERS.get(len(self.readings), len(self.readings))} weighings {at} {_listed(self.counting)} agree "
            f"and count; {_listed(self.outliers)} {'does' if outside == 1 else 'do'} not count"
        )

    @property
    def advice(self) -> str:
        """What to do about it, put after the words; empty where it is settled."""
        return "" if self.counting else ", weigh again" if self.counts else ": weigh again"


def _listed(readings: Sequence[Reading]) -> str:
    masses = [f"{one.mass_g:.2f} g" for one in readings]
    return masses[0] if len(masses) == 1 else f"{', '.join(masses[:-1])} and {masses[-1]}"


def apart(same: Sequence[Reading]) -> tuple[Reading, Reading] | None:
    """The lightest and the heaviest reading after the same runs, where the scale does not explain the difference.

    It does not where they differ by more than three standard uncertainties of that difference.
    """
    lightest, heaviest = min(same, key=_BY_MASS), max(same, key=_BY_MASS)
    return (lightest, heaviest) if _is_apart(lightest, heaviest) else None


def _is_apart(lighter: Reading, heavier: Reading) -> bool:
    return heavier.mass_g - lighter.mass_g > CLEAR_K * uncertainty_between_g(lighter, heavier)


def settling(same: Sequence[Reading]) -> tuple[Reading, ...]:
    """The readings that count by the rule above, of those after the same runs that disagree; none where nothing settles
    it.

    >>> three = [Reading(6.0, mass_g, 2e-5) for mass_g in (22.34, 22.05, 22.33)]
    >>> settling(three[:2])
    ()
    >>> [one.mass_g for one in settling(three)]
    [22.33, 22.34]
    """
    ordered = sorted(same, key=_BY_MASS)
    groups = []
    for start, lightest in enumerate(ordered):
        end = start + 1
        while end < len(ordered) and not _is_apart(lightest, ordered[end]):
            end += 1
        groups.append((start, end))
    most = max(end - start for start, end in groups)
    largest = [group for group in groups if group[1] - group[0] == most]
    first, last = largest[0], largest[-1]
    if most < 2 or last[0] >= first[1]:
        return ()
    return tuple(ordered[first[0] : last[1]])


def disagreements(readings: Iterable[Reading]) -> list[Disagreement]:
    """Every count of runs at which the readings of one build on one basis disagree, in the order of runs."""
    return list(_disagreements(sorted(readings, key=BY_RUNS)))


def _disagreements(ordered: Sequence[Reading]) -> Iterator[Disagreement]:
    for runs, group in groupby(ordered, key=BY_RUNS):
        same = list(group)
        if apart(same) is not None:
            counts = "" if len(same) == len(ordered) else "heavier" if runs == ordered[0][0] else "lighter"
            if counts and len(same) > 2:
                counts = "heaviest" if counts == "heavier" else "lightest"
            yield Disagreement(runs, tuple(sorted(same, key=_BY_MASS)), settling(same), counts)


def apart_in_words(runs: float, apart_g: float, count: int = 2) -> str:
    """Readings after the same runs that the scale does not explain.

    >>> apart_in_words(0.0, 0.3), apart_in_words(1.0, 0.004)
    ('two weighings at 0 runs are 0.30 g apart', 'two weighings at 1 run are 0.004 g apart')
    """
    far = "" if count == 2 else "up to "
    return f"{_NUMBERS.get(count, count)} weighings at {counted(runs, 'run')} are {far}{limit_in_words(apart_g)} apart"
