"""The spread of a sum of errors of which only bounds are known."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from itertools import accumulate, pairwise
from math import cos, exp, floor, hypot, pi, prod, sin, sqrt
from typing import Final

_STEPS: Final = 4001
_NEGLIGIBLE: Final = 1e-4
_MANY: Final = 13
"""From so many errors on the sum is smooth enough for a short series, which takes a hundredth of the time."""
_MOST_TERMS: Final = 400
_MOST_STEPS: Final = 60
_DONE: Final = 1e-13
_REACH: Final = 10.0
"""Standard deviations beyond which no sum of so many errors lies: less than 1e-20 of it (Hoeffding's inequality)."""


def half_width_of_bounded(bounds: Iterable[float], share: float = 0.95) -> float:
    """The half-width that holds a share of the sum of independent errors, each evenly spread in ± its bound.

    The distribution function of the sum is found by averaging it over one error after the other, on a grid; propagation
    of distributions (JCGM 101:2008) instead of k = 2, which for one such error would hold 100 %, not 95 %.

    bounds  half-widths of the errors, in any one unit, not negative
    share   0 to 1

    One error ± 1: 0.95. Two: triangular, 2 (1 - sqrt(0.05)) = 1.5528.

    >>> half_width_of_bounded([1.0]), round(half_width_of_bounded([1.0, 1.0]), 4)
    (0.95, 1.5528)
    """
    widths = sorted((abs(bound) for bound in bounds), reverse=True)
    widths = [width for width in widths if width > _NEGLIGIBLE * widths[0]]
    if not widths:
        return 0.0
    if len(widths) == 1:
        return share * widths[0]
    if len(widths) >= _MANY and (half := _by_frequencies(widths, share)) is not None:
        return half
    reach = sum(widths)
    step = 2.0 * reach / (_STEPS - 1)
    grid = [place * step - reach for place in range(_STEPS - 1)] + [reach]
    below = [min(1.0, max(0.0, (at / widths[0] + 1.0) / 2.0)) for at in grid]
    for width in widths[1:]:
        sums = accumulate(((one + other) / 2.0 for one, other in pairwise(below)), initial=0.0)
        heights = [one * step for one in sums]
        below = [
            (ahead + max(at + width - reach, 0.0) - behind) / (2.0 * width)
            for at, ahead, behind in zip(
                grid, _moved(heights, width / step), _moved(heights, -width / step), strict=True
            )
        ]
    wanted = (1.0 + share) / 2.0
    place = min(bisect_right(below, wanted), _STEPS - 1)
    low, high = below[place - 1], below[place]
    return grid[place - 1] + (wanted - low) / (high - low) * (grid[place] - grid[place - 1])


def _by_frequencies(widths: Sequence[float], share: float) -> float | None:
    """The same from the characteristic function of the sum, the product of sin(w t) / (w t) over the errors: a Fourier
    series over the range in which the sum lies. None where it has too many terms, as with one error far above all
    others."""
    deviation = hypot(*widths) / sqrt(3.0)
    reach = min(sum(widths), _REACH * deviation)
    terms: list[tuple[float, float]] = []
    bound = 1.0
    while bound > _DONE:
        if len(terms) == _MOST_TERMS:
            return None
        at = (len(terms) + 1) * pi / reach
        turned = [width * at for width in widths]
        terms.append((at, prod(sin(one) / one for one in turned)))
        bound = prod(exp(-one * one / 6.0) if one < 2.0 else 1.0 / one for one in turned)
    low, high, half = 0.0, reach, 2.0 * deviation * share
    for _ in range(_MOST_STEPS):
        held = half / reach + sum(2.0 / (at * reach) * height * sin(at * half) for at, height in terms)
        low, high = (half, high) if held < share else (low, half)
        density = 1.0 / reach + sum(2.0 / reach * height * cos(at * half) for at, height in terms)
        nearer = half + (share - held) / density if density > 0.0 else low
        before, half = half, nearer if low < nearer < high else (low + high) / 2.0
        if abs(half - before) <= _DONE * half:
            break
    return half


def _moved(heights: Sequence[float], steps: float) -> list[float]:
    """The heights so many steps further along the grid, on straight lines between its points; past an end, the height
    there."""
    count, whole = len(heights), floor(steps)
    part = steps - whole
    between = [one + part * (other - one) for one, other in pairwise(heights)]
    if whole >= 0:
        found = between[whole:]
        return found + [heights[-1]] * (count - len(found))
    return [heights[0]] * min(count, -whole) + between[: max(0, count + whole)]
