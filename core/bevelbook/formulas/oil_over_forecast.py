"""Whether the oil that is in a diff fits a whole forecast, another one does, or it takes two.

At one temperature the rule is that of the oil for another temperature (``oil_off``): another oil at hand is wanted
where it is nearer by more than labels are exact. All that is made of it here for two ends of a forecast is this
project's own proposal.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Literal, NamedTuple

from bevelbook.formulas.oil_off import is_near, is_worth_a_rebuild, nearest_cst, off_share
from bevelbook.formulas.same_feel_to_come import Needed
from bevelbook.physics.viscosity import LABEL_TOLERANCE_SHARE

What = Literal["keep", "change", "two", "unclear"]


class OilsWanted(NamedTuple):
    """What a forecast wants: the oil that is in stays, another one fits all of it, two are wanted, or it is unclear.

    ``oils_cst`` are those wanted, at 25 °C: the one that is in, another, or those for the low and the high end. Where
    it is unclear they are what the middle of the interval wants, and ``or_cst`` what the rest of it may want.
    ``is_blend`` says that the one wanted lies between two at hand, as no label fits both ends.
    """

    what: What
    oils_cst: tuple[float, ...]
    or_cst: tuple[float, ...] = ()
    is_blend: bool = False


def wanted_at(is_in_cst: float | None, at_hand_cst: Sequence[float], needed_cst: float) -> float | None:
    """The oil wanted at one temperature: the one that is in unless the nearest of the others is worth a rebuild.

    None where nothing is in, and nothing at hand is near.

    >>> [wanted_at(7000.0, [5000.0, 7000.0, 10_000.0], needed) for needed in (5500.0, 8800.0, 9200.0)]
    [5000.0, 7000.0, 10000.0]
    """
    nearest = nearest_cst([one for one in sorted(at_hand_cst) if is_near(one, needed_cst)], needed_cst)
    if is_in_cst is None:
        return nearest
    return nearest if nearest is not None and is_worth_a_rebuild(nearest, is_in_cst, needed_cst) else is_in_cst


def oils_wanted(is_in_cst: float | None, at_hand_cst: Sequence[float], low: Needed, high: Needed) -> OilsWanted:
    """What a forecast wants, from the oil that is in (None where nothing is), those at hand, and what is needed at both
    ends. It is only said that the oil stays, or has to go, where the whole interval of the temperature says so.

    >>> at_hand = [5000.0, 7000.0, 10_000.0]
    >>> oils_wanted(7000.0, at_hand, Needed(6600.0, 6100.0, 7100.0), Needed(7900.0, 7300.0, 8500.0)).what
    'keep'
    >>> oils_wanted(7000.0, at_hand, Needed(6000.0, 5800.0, 6200.0), Needed(9700.0, 9300.0, 10_000.0))
    OilsWanted(what='two', oils_cst=(7000.0, 10000.0), or_cst=(), is_blend=False)
    """
    central = _wanted(is_in_cst, at_hand_cst, low.cst, high.cst)
    if central is None or is_in_cst is None:
        return central or OilsWanted("unclear", ())
    shifted = [
        _wanted(is_in_cst, at_hand_cst, *ends) or central
        for ends in ((low.low_cst, high.low_cst), (low.high_cst, high.high_cst))
    ]
    stays = {one.what == "keep" for one in (central, *shifted)}
    if len(stays) == 1:
        return central
    others = {oil for one in shifted for oil in one.oils_cst} - set(central.oils_cst)
    return OilsWanted("unclear", central.oils_cst, tuple(sorted(others)), central.is_blend)


def _wanted(
    is_in_cst: float | None, at_hand_cst: Sequence[float], low_cst: float, high_cst: float
) -> OilsWanted | None:
    at_low, at_high = (wanted_at(is_in_cst, at_hand_cst, needed) for needed in (low_cst, high_cst))
    if at_low is None or at_high is None:
        return None
    if at_low == at_high:
        return OilsWanted("keep" if at_low == is_in_cst else "change", (at_low,))
    ends = ((low_cst, at_low), (high_cst, at_high))
    middle = sqrt(low_cst * high_cst)
    is_made = bool(at_hand_cst) and min(at_hand_cst) < middle < max(at_hand_cst)
    labels = [one for one in sorted(at_hand_cst) if _fits_both(one, ends)]
    made = [middle] if is_made and not labels and _fits_both(middle, ends) else []
    best = min([*labels, *made], key=lambda one: worst_off(one, low_cst, high_cst), default=None)
    if best is None:
        return OilsWanted("two", (at_low, at_high))
    if is_in_cst is not None and not _is_better(best, is_in_cst, low_cst, high_cst):
        return OilsWanted("keep", (is_in_cst,))
    return OilsWanted("change", (best,), is_blend=best in made)


def worst_off(oil_cst: float, low_cst: float, high_cst: float) -> float:
    """How far an oil is from what is needed at the end where it is farther, as a share.

    >>> round(worst_off(8000.0, 7000.0, 9000.0), 3)
    0.143
    """
    return max(abs(off_share(oil_cst, one)) for one in (low_cst, high_cst))


def _fits_both(oil_cst: float, ends: Sequence[tuple[float, float]]) -> bool:
    """Whether at neither end the oil wanted there is nearer by more than labels are exact."""
    return not any(is_worth_a_rebuild(wanted, oil_cst, needed) for needed, wanted in ends)


def _is_better(oil_cst: float, is_in_cst: float, low_cst: float, high_cst: float) -> bool:
    """Whether it fits the whole better than the one that is in, by more than labels are exact."""
    off, miss = (round(100.0 * worst_off(one, low_cst, high_cst)) for one in (is_in_cst, oil_cst))
    return off - miss > 100.0 * LABEL_TOLERANCE_SHARE
