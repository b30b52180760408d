"""The spread of a sum of errors of which only bounds are known."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import accumulate, pairwise
from math import cos, exp, factorial, floor, hypot, log, pi, prod, sin, sqrt
from operator import mul
from typing import Final

_STEPS: Final = 4001
_NEGLIGIBLE: Final = 1e-4
_FEW: Final = 6
"""Up to so many errors the distribution is put together of its pieces, 2 to the power of their number."""
_LAST_DIGIT: Final = 2.3e-16
_NOISE: Final = 1e-11
"""The most that the last digits of these pieces may come to."""
_MOST_TERMS: Final = 400
_MOST_STEPS: Final = 60
_DONE: Final = 1e-13
_REACH: Final = 10.0
"""Standard deviations beyond which no sum of so many errors lies: less than 1e-20 of it (Hoeffding's inequality)."""
_NEAR: Final = 1.5
"""Up to this w t the logarithm of sin(w t) / (w t) is summed up as powers of it, for all such errors together."""
_POWERS: Final = 22
"""So many powers of it are enough for that: (1.5 / pi)^44 / 22 is 3e-16."""


def half_width_of_bounded(bounds: Iterable[float], share: float = 0.95) -> float:
    """The half-width that holds a share of the sum of independent errors, each evenly spread in ± its bound.

    Propagation of distributions (JCGM 101:2008) instead of k = 2, which for one such error would hold 100 %, not 95 %.
    Of few errors by the pieces of the distribution, of many by the Fourier series of its density; where neither can be
    summed up, by averaging the distribution function over one error after the other, on a grid.

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
    found = _by_pieces(widths, share) if len(widths) <= _FEW else None
    if found is None:
        found = _by_frequencies(widths, share)
    return _on_grid(widths, share) if found is None else found


def _by_pieces(widths: Sequence[float], share: float) -> float | None:
    """The same from the chance to be above h: the sum of ± (sums of the widths with all signs - h)^n, as far as that is
    above 0, over n! times the product of all 2 w; the sign is that of the product of the signs. None where the pieces
    cancel out but for noise, as with several errors far below the others."""
    count, reach = len(widths), sum(widths)
    whole = factorial(count) * prod(2.0 * width for width in widths)
    corners = [(0.0, 1.0)]
    for width in widths:
        corners = [(at + way * width, sign * way) for at, sign in corners for way in (1.0, -1.0)]
    ahead = [(at, sign) for at, sign in corners if at > 0.0]

    def held(half: float) -> tuple[float, float]:
        above = [(at - half, sign) for at, sign in ahead if at > half]
        density = sum(sign * over ** (count - 1) for over, sign in above) * count / whole
        return 1.0 - 2.0 * sum(sign * over**count for over, sign in above) / whole, 2.0 * density

    half = _where_held(held, share, reach, 2.0 * hypot(*widths) / sqrt(3.0) * share)
    noise = sum(count * (at - half) ** (count - 1) for at, _ in ahead if at > half) * _LAST_DIGIT * reach / whole
    return half if noise <= _NOISE else None


def _by_frequencies(widths: Sequence[float], share: float) -> float | None:
    """The same from the characteristic function of the sum, the product of sin(w t) / (w t) over the errors: a Fourier
    series over the range in which the sum lies. None where it has too many terms, as with one error far above all
    others."""
    deviation = hypot(*widths) / sqrt(3.0)
    reach = min(sum(widths), _REACH * deviation)
    terms: list[tuple[float, float]] = []
    product, bound = _Product(widths), 1.0
    while bound > _DONE:
        if len(terms) == _MOST_TERMS:
            return None
        at = (len(terms) + 1) * pi / reach
        terms.append((at, product.at(at)))
        bound = product.at_most(at)

    def held(half: float) -> tuple[float, float]:
        density = 1.0 / reach + sum(2.0 / reach * height * cos(at * half) for at, height in terms)
        return half / reach + sum(2.0 / (at * reach) * height * sin(at * half) for at, height in terms), density

    return _where_held(held, share, reach, 2.0 * deviation * share)


class _Product:
    """The product of sin(w t) / (w t) over widths, the largest first; over the small ones of many by the sums of their
    powers, so that a term does not take each of them again."""

    def __init__(self, widths: Sequence[float]) -> None:
        self._widths = widths
        self._squares = list(accumulate((width * width for width in reversed(widths)), initial=0.0))
        self._logs = list(accumulate(map(log, widths), initial=0.0))
        self._smallest_first = widths[::-1]
        self._top = sqrt(-6.0 * log(_DONE) / self._squares[-1])
        near = bisect_right(self._smallest_first, _NEAR / self._top)
        self._far = widths[: len(widths) - near]
        squares = powers = [width * width for width in widths[len(widths) - near :]]
        self._sums = []
        for factor in _factors():
            self._sums.append(factor * sum(powers))
            powers = list(map(mul, powers, squares))

    def at(self, at: float) -> float:
        """The product at t."""
        if at > self._top:
            return prod([sin(width * at) / (width * at) for width in self._widths])
        square, logarithm = at * at, 0.0
        for one in reversed(self._sums):
            logarithm = (logarithm + one) * square
        return prod([sin(width * at) / (width * at) for width in self._far]) * exp(-logarithm)

    def at_most(self, at: float) -> float:
        """What it is not above at t and beyond: exp(-(w t)^2 / 6) of each up to w t = 2, then 1 / (w t)."""
        near = bisect_left(self._smallest_first, 2.0 / at)
        far = len(self._widths) - near
        return exp(-at * at * self._squares[near] / 6.0 - self._logs[far] - far * log(at))


@cache
def _factors() -> tuple[float, ...]:
    """Of the series -log(sin x / x) = sum of zeta(2k) x^2k / (k pi^2k), enough for ``_NEAR``. With z(k) for zeta(2k) /
    pi^2k: z(1) = 1/6, (n + 1/2) z(n) = sum of z(k) z(n - k)."""
    found = [1.0 / 6.0]
    for n in range(2, _POWERS + 1):
        found.append(sum(map(mul, found, reversed(found))) / (n + 0.5))
    return tuple(one / k for k, one in enumerate(found, start=1))


def _where_held(held: Callable[[float], tuple[float, float]], share: float, reach: float, start: float) -> float:
    """The half-width that holds a share; ``held`` gives the share of one, and how fast it rises there."""
    low, high, half = 0.0, reach, min(start, reach)
    for _ in range(_MOST_STEPS):
        found, density = held(half)
        low, high = (half, high) if found < share else (low, half)
        nearer = half + (share - found) / density if density > 0.0 else low
        before, half = half, nearer if low < nearer < high else (low + high) / 2.0
        if abs(half - before) <= _DONE * half:
            break
    return half


def _on_grid(widths: Sequence[float], share: float) -> float:
    """The same on a grid, to 1e-4 or better of it."""
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
