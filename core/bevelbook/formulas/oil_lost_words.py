"""The words for a loss of oil: what was lost, or that none was seen and why, and how it compares with the limits.

Every surface takes its words from here. Where the scale sees no loss, none is printed.
"""

from __future__ import annotations

from math import ceil, floor, log10
from typing import Final, Literal

from bevelbook.formulas.oil_limits import LossLimits, grams_in_words, limit_in_words, share_in_words, whose_limit
from bevelbook.physics.weighing import COVERAGE_K, SEEN_AT_95

LossState = Literal["lost", "none seen", "heavier", "more than went in", "weighings apart"]
NOT_WEIGHED: Final = "not weighed since the fill"
UNCLEAR: Final = "unclear whether"
_DROPPED: Final = 0.1
"""Share of the last decimal that is dropped instead of rounded up."""


def smallest_seen_in_words(seen_g: float) -> str:
    """The smallest loss that a scale can see, as printed everywhere: rounded up to 0.01 g, the step of a usual scale;
    of a scale that sees less than that, to one digit.

    Less than a tenth of the last digit is dropped.

    >>> [smallest_seen_in_words(one) for one in (0.0160033, 0.163, 0.160033, 0.816, 0.080017, 0.0082)]
    ['0.02 g', '0.17 g', '0.16 g', '0.82 g', '0.08 g', '0.009 g']
    """
    if seen_g <= 0.0:
        return "0.00 g"
    decimals = max(2, -floor(log10(seen_g)))
    return f"{ceil(seen_g * 10.0**decimals - _DROPPED) / 10.0**decimals:.{decimals}f} g"


def seen_g(uncertainty_g: float) -> float:
    """The smallest loss seen in g, from the uncertainty (k = 2) of a loss."""
    return SEEN_AT_95 / COVERAGE_K * uncertainty_g


def state_of_loss(loss_g: float, uncertainty_g: float, oil_in_g: float | None, *, is_apart: bool = False) -> LossState:
    """What first minus last mass shows; ``is_apart`` if there are no runs between them.

    >>> [state_of_loss(loss, 0.016, 1.86) for loss in (0.30, 0.01, -0.20, 8.0)]
    ['lost', 'none seen', 'heavier', 'more than went in']
    """
    if is_apart:
        return "weighings apart"
    if loss_g < -seen_g(uncertainty_g):
        return "heavier"
    if loss_g <= seen_g(uncertainty_g):
        return "none seen"
    return "more than went in" if oil_in_g and loss_g - uncertainty_g > oil_in_g else "lost"


def lost_in_words(loss_g: float, oil_in_g: float | None) -> str:
    """A loss that was seen: grams first, the share after.

    >>> lost_in_words(0.30, 1.86), lost_in_words(0.30, None)
    ('0.30 g of 1.86 g (16 %)', '0.30 g')
    """
    if not oil_in_g:
        return f"{loss_g:z.2f} g"
    return f"{loss_g:z.2f} g of {oil_in_g:.2f} g ({share_in_words(loss_g / oil_in_g)})"


def loss_in_words(
    loss_g: float,
    uncertainty_g: float,
    oil_in_g: float | None,
    when: str = "",
    *,
    is_apart: bool = False,
    is_wet: bool = False,
) -> str:
    """What first minus last mass says about the oil; ``when`` is such as ``by run 6`` or ``in 6 runs``. ``is_wet`` if
    water in the housing is part of the uncertainty.

    >>> loss_in_words(0.30, 0.0163, 1.86, "by run 6"), loss_in_words(0.01, 0.0163, 1.86, "in 6 runs")
    ('lost 0.30 g of 1.86 g (16 %) by run 6', 'no loss seen in 6 runs (the scale can see 0.02 g and more)')
    >>> loss_in_words(-0.20, 0.0163, 1.86, "by run 6"), loss_in_words(0.3, 0.0163, 1.86, is_apart=True)
    ('0.20 g heavier by run 6', 'not known: weighings 0.30 g apart')
    >>> loss_in_words(0.01, 0.0816, 1.5, is_wet=True)
    'no loss seen (with water in the housing it can see 0.08 g and more)'
    >>> loss_in_words(8.0, 0.0163, 1.86, "by run 6")
    '8.00 g lighter by run 6, and only 1.86 g went in'
    """
    after = f" {when}" if when else ""
    match state_of_loss(loss_g, uncertainty_g, oil_in_g, is_apart=is_apart):
        case "weighings apart":
            return f"not known: weighings {grams_in_words(round(loss_g, 6))} apart"
        case "heavier":
            return f"{-loss_g:.2f} g heavier{after}"
        case "none seen":
            seen = smallest_seen_in_words(seen_g(uncertainty_g))
            by = "with water in the housing it can see" if is_wet else "the scale can see"
            return f"no loss seen{after} ({by} {seen} and more)"
        case "more than went in":
            return f"{loss_g:.2f} g lighter{after}, and only {oil_in_g:.2f} g went in"
        case _:
            return f"lost {lost_in_words(loss_g, oil_in_g)}{after}"


def is_over_for_certain(loss_g: float, uncertainty_g: float, limit_g: float | None) -> bool:
    """Whether all of loss ± U (k = 2) is over a limit."""
    return limit_g is not None and loss_g - uncertainty_g >= limit_g


def undecided_in_words(
    loss_g: float, uncertainty_g: float, limits: LossLimits, caution: str | None = None, stop: str | None = None
) -> str:
    """What is certain about a loss, and the limit that the scale cannot decide; empty if it decides all.

    ``caution`` and ``stop`` name the two limits differently than :func:`whose_limit` does.

    >>> undecided_in_words(0.20, 0.016, LossLimits(0.093, 0.186, "proposal"))
    'over 0.09 g for certain; unclear whether it is over our default limit of 0.19 g'
    >>> undecided_in_words(0.08, 0.016, LossLimits(0.093, 0.186, "proposal"))
    'unclear whether it is over our default limit of 0.09 g'
    >>> undecided_in_words(0.0, 0.816, LossLimits(0.093, 0.5, "yours"))
    'unclear whether it is over our default limit of 0.09 g, or even your limit of 0.50 g'
    """
    if limits.stop_g is None or limits.caution_g is None:
        return ""
    named = [(limits.stop_g, stop or whose_limit(limits.owner, limits.stop_g, limits.typed_g))]
    if limits.caution_g < limits.stop_g:
        named.insert(0, (limits.caution_g, caution or whose_limit("proposal", limits.caution_g)))
    low, high = loss_g - uncertainty_g, loss_g + uncertainty_g
    unsure = [words for limit_g, words in named if low < limit_g <= high]
    if not unsure:
        return ""
    sure = f"over {limit_in_words(named[0][0], limits.typed_g)} for certain; " if low >= named[0][0] else ""
    return f"{sure}{UNCLEAR} it is over {', or even '.join(unsure)}"


def turned_in_words(good_until_runs: float | None, bad_from_runs: float, limits: LossLimits) -> str:
    """Between which weighings it went over the first limit; both may be after the same runs.

    >>> limits, none = LossLimits(0.093, 0.186, "proposal"), LossLimits(None, None, None)
    >>> turned_in_words(6.0, 13.0, limits), turned_in_words(0.0, 6.0, none)
    ('good at run 6, bad at run 13 (over 0.09 g)', 'good at run 0, bad at run 6 (a loss was seen)')
    >>> turned_in_words(6.0, 6.0, limits)
    'good at run 6, then bad without a run between (over 0.09 g)'
    """
    bad = "a loss was seen" if limits.caution_g is None else f"over {limit_in_words(limits.caution_g, limits.typed_g)}"
    if good_until_runs == bad_from_runs:
        return f"good at run {good_until_runs:g}, then bad without a run between ({bad})"
    return f"good at run {good_until_runs:g}, bad at run {bad_from_runs:g} ({bad})"
