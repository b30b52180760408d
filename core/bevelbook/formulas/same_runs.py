"""Readings after the same runs: which differences the scale cannot explain, and what counts where it does not.

Readings that are not of two known days are put to the vote: those count that agree with each other, if they are at
least two and more than in any other group. A reading that agrees with either of two settles it too: then all three
count.

Readings of several days have an order. A day that is clearly lighter than one before it is not outvoted: oil may go
while the diff only stands. It is a loss without runs as soon as a second reading is as light.
Where it got heavier again on a later day, the light one was odd, and is outvoted by those after it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Final, NamedTuple

from bevelbook.formulas.day_number import day_number
from bevelbook.formulas.readings import Reading, uncertainty_between_g

CLEAR_K: Final = 3.0
"""From this many standard uncertainties a difference is clear (our own figure)."""
_BY_MASS: Final = itemgetter(1)


class Counting(NamedTuple):
    """What counts of readings after the same runs that disagree, the lightest first.

    ``counting`` are those that settle it; none while nothing does. ``before`` are clearly heavier ones of earlier days:
    what was there before it was lost standing. ``lighter_later`` are clearly lighter ones at the end that nothing
    confirms yet; then ``sure`` are those that are certain, and nothing is settled.
    """

    counting: tuple[Reading, ...] = ()
    before: tuple[Reading, ...] = ()
    lighter_later: tuple[Reading, ...] = ()
    sure: tuple[Reading, ...] = ()


def apart(same: Sequence[Reading]) -> tuple[Reading, Reading] | None:
    """The lightest and the heaviest reading after the same runs, where the scale does not explain the difference.

    It does not where they differ by more than three standard uncertainties of that difference.
    """
    lightest, heaviest = min(same, key=_BY_MASS), max(same, key=_BY_MASS)
    return (lightest, heaviest) if _is_apart(lightest, heaviest) else None


def _is_apart(lighter: Reading, heavier: Reading) -> bool:
    return heavier.mass_g - lighter.mass_g > CLEAR_K * uncertainty_between_g(lighter, heavier)


def what_counts(same: Sequence[Reading]) -> Counting:
    """What counts, by the rule above, of readings after the same runs that disagree.

    >>> days = ("2026-05-10", "2026-05-11", "2026-05-30", "2026-06-30")
    >>> masses = (22.35, 22.34, 22.05, 22.05)
    >>> some = [Reading(6.0, mass_g, 2e-5, date=day) for mass_g, day in zip(masses, days)]
    >>> found = what_counts(some)
    >>> [one.mass_g for one in found.counting], [one.mass_g for one in found.before]
    ([22.05, 22.05], [22.34, 22.35])
    >>> found = what_counts(some[:3])
    >>> found.counting, [one.mass_g for one in found.lighter_later]
    ((), [22.05])
    """
    if len({one.date for one in same if one.date}) < 2:
        return Counting(settling(same))
    dated = [(number, one) for one in same if (number := day_number(one.date)) is not None]
    if len(dated) < len(same):
        return Counting()
    kept = []
    for number, of_day in groupby(sorted(dated, key=itemgetter(0)), key=itemgetter(0)):
        readings = [one for _, one in of_day]
        outvoted = apart(readings) is not None and settling(readings)
        kept += [(number, one) for one in (outvoted or readings)]
    return _in_order(kept)


def _in_order(kept: Sequence[tuple[int, Reading]]) -> Counting:
    """What counts of readings in the order of their days, which are given as numbers."""
    confirmed = [(number, one) for place, (number, one) in enumerate(kept) if _is_confirmed(kept, place)]
    if not confirmed:
        return Counting()
    _, level = min(confirmed, key=lambda pair: pair[1].mass_g)
    agreeing = [(number, one) for number, one in kept if not (_is_apart(level, one) or _is_apart(one, level))]
    first, last = agreeing[0][0], agreeing[-1][0]
    before = _sorted(one for number, one in kept if _is_apart(level, one) and number < first)
    later = _sorted(one for number, one in kept if _is_apart(one, level) and number > last)
    counting = _sorted(one for _, one in agreeing)
    if later:
        return Counting((), before, later, counting)
    odd = len(kept) - len(counting) - len(before)
    return Counting(counting, before) if len(counting) > max(1, odd) else Counting()


def _is_confirmed(kept: Sequence[tuple[int, Reading]], place: int) -> bool:
    """Whether none of that day or later is clearly heavier, and another one agrees, or a later one is lighter."""
    number, one = kept[place]
    others = [(on, other) for at, (on, other) in enumerate(kept) if at != place]
    if any(on >= number and _is_apart(one, other) for on, other in others):
        return False
    return any(on >= number or not (_is_apart(one, other) or _is_apart(other, one)) for on, other in others)


def _sorted(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    return tuple(sorted(readings, key=_BY_MASS))


def settling(same: Sequence[Reading]) -> tuple[Reading, ...]:
    """The readings of one day that count by the vote, of those that disagree; none where nothing settles it.

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
