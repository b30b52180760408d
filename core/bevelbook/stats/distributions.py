"""Student's t, the normal and the chi-squared distribution: their chances and their quantiles, in plain arithmetic.

A library for these alone weighs 140 MB and takes a fifth of a second to load, at every command that needs one number.
The formulas are those of handbooks; the tests hold each against that library.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import copysign, erfc, exp, gamma, isinf, isnan, lgamma, log, log1p, nan, pi, sqrt
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.stats.chi_squared import chance_of_more

HANDBOOK: Final = Source(
    "handbook",
    "Abramowitz and Stegun: Handbook of Mathematical Functions",
    "National Bureau of Standards",
    "1964",
    "26.5.8, the incomplete beta function as a continued fraction; 26.7.1, 26.7.5, Student's t and its expansion",
    "from memory",
)
NONCENTRAL: Final = Source(
    "paper",
    "Lenth: Algorithm AS 243: Cumulative distribution function of the non-central t distribution",
    "Applied Statistics 38",
    "1989",
    "p. 185-189",
    "from memory",
)
_MANY: Final = 5000.0
"""From so many degrees of freedom on t's quantile is that of its expansion, to the last digits of a number."""
_LARGE: Final = 50.0
_LEAST: Final = 1e-300
_DIGITS: Final = 1e-16
_STEPS: Final = 10_000


def where_zero(function: Callable[[float], float], low: float, high: float, within: float) -> float:
    """Where a function is zero between two places at which its signs differ (Brent 1973): halving, a straight line or a
    curve through three points, whichever is safe.

    within  how far off the place may be, in the unit of ``low``

    >>> round(where_zero(lambda x: x * x - 2.0, 0.0, 2.0, 1e-12), 9)
    1.414213562
    """
    before, at = low, high
    f_before, f_at = function(before), function(at)
    if f_before == 0.0:
        return before
    if f_at == 0.0:
        return at
    other, f_other, last, step = before, f_before, at - before, at - before
    for _ in range(_STEPS):
        if (f_before > 0.0) != (f_at > 0.0):
            other, f_other = before, f_before
            last = step = at - before
        if abs(f_other) < abs(f_at):
            before, at, other = at, other, at
            f_before, f_at, f_other = f_at, f_other, f_at
        least = (within + 8.881784197001252e-16 * abs(at)) / 2.0
        half = (other - at) / 2.0
        if f_at == 0.0 or abs(half) < least:
            return at
        if abs(last) > least and abs(f_at) < abs(f_before):
            if before == other:
                wanted = -f_at * (at - before) / (f_at - f_before)
            else:
                to_before = (f_before - f_at) / (before - at)
                to_other = (f_other - f_at) / (other - at)
                wanted = (
                    -f_at * (f_other * to_other - f_before * to_before) / (to_other * to_before * (f_other - f_before))
                )
            if 2.0 * abs(wanted) < min(abs(last), 3.0 * abs(half) - least):
                last, step = step, wanted
            else:
                last = step = half
        else:
            last = step = half
        before, f_before = at, f_at
        at += step if abs(step) > least else copysign(least, half)
        f_at = function(at)
    return at


@lru_cache(maxsize=256)
def normal_quantile(share: float) -> float:
    """The value under which a normal distribution has that share, which is more than 0 and less than 1.

    >>> round(normal_quantile(0.975), 6), normal_quantile(0.5)
    (1.959964, 0.0)
    """
    if share == 0.5:
        return 0.0
    tail = min(share, 1.0 - share)
    z = sqrt(max(0.0, -2.0 * log(2.0 * tail)))
    for _ in range(50):
        off = (0.5 * erfc(z / sqrt(2.0)) - tail) * sqrt(2.0 * pi) * exp(z * z / 2.0)
        step = off / (1.0 - z * off / 2.0)
        z += step
        if abs(step) <= _DIGITS * abs(z):
            break
    return z if share > 0.5 else -z


@lru_cache(maxsize=1024)
def t_quantile(degrees_of_freedom: float, share: float) -> float:
    """The value under which Student's t has that share; with infinitely many degrees of freedom the normal one.

    NaN where the degrees of freedom are not over 0.

    >>> round(t_quantile(6, 0.975), 4), round(t_quantile(2.5, 0.975), 4), round(t_quantile(float("inf"), 0.975), 4)
    (2.4469, 3.5747, 1.96)
    """
    if isnan(degrees_of_freedom) or degrees_of_freedom <= 0.0:
        return nan
    if share == 0.5:
        return 0.0
    if share < 0.5:
        return -t_quantile(degrees_of_freedom, 1.0 - share)
    z = normal_quantile(share)
    if isinf(degrees_of_freedom):
        return z
    expanded = _expanded(z, degrees_of_freedom)
    if degrees_of_freedom >= _MANY:
        return expanded
    tail = 1.0 - share

    def too_much(t: float) -> float:
        return _upper_tail(degrees_of_freedom, t) / tail - 1.0

    high = max(expanded, 1.0)
    while too_much(high) > 0.0:
        high *= 2.0
    t = where_zero(too_much, 0.0, high, 1e-6 * high)
    for _ in range(3):
        t += too_much(t) * tail / t_density(degrees_of_freedom, t)
    return t


def _expanded(z: float, free: float) -> float:
    """Student's t for many degrees of freedom, from the normal quantile (26.7.5)."""
    return (
        z
        + (z**3 + z) / (4.0 * free)
        + (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / (96.0 * free**2)
        + (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / (384.0 * free**3)
    )


def t_density(degrees_of_freedom: float, t: float) -> float:
    """The density of Student's t at a value, for a finite number of degrees of freedom over 0.

    >>> round(t_density(1, 0.0), 6)
    0.31831
    """
    free = degrees_of_freedom
    return exp(_log_of_ratio(free / 2.0) - (free + 1.0) / 2.0 * log1p(t * t / free)) / sqrt(free * pi)


def t_chance(degrees_of_freedom: float, t: float) -> float:
    """The chance that Student's t is at most that value, for a finite number of degrees of freedom over 0.

    >>> round(t_chance(1, 1.0), 9), round(t_chance(6, -2.4469), 4)
    (0.75, 0.025)
    """
    tail = _upper_tail(degrees_of_freedom, abs(t))
    return tail if t < 0.0 else 1.0 - tail


def _upper_tail(free: float, t: float) -> float:
    """The chance that Student's t is more than ``t``, which is not under 0."""
    return 0.5 * beta_share(free / 2.0, 0.5, free / (free + t * t), t * t / (free + t * t))


def _log_of_ratio(half: float) -> float:
    """The logarithm of gamma(half + 1/2) / gamma(half)."""
    if half < _LARGE:
        return log(gamma(half + 0.5) / gamma(half))
    square = 1.0 / (half * half)
    return 0.5 * log(half) - (1.0 - square * (1.0 / 24.0 - square / 80.0)) / (8.0 * half)


def beta_share(a: float, b: float, x: float, rest: float) -> float:
    """The regularised incomplete beta function of a and b at x, where ``rest`` is 1 - x, each to its last digit.

    By the continued fraction 26.5.8, on the side where it is short.

    >>> round(beta_share(2.0, 3.0, 0.5, 0.5), 9)
    0.6875
    """
    if x <= 0.0 or rest <= 0.0:
        return 0.0 if x <= 0.0 else 1.0
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - beta_share(b, a, rest, x)
    front = exp(_log_beta(a, b, x, rest)) / a
    numerator, denominator = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    denominator = 1.0 / (denominator or _LEAST)
    found = denominator
    for m in range(1, _STEPS):
        for part in (
            m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0)),
        ):
            denominator = 1.0 / (1.0 + part * denominator or _LEAST)
            numerator = 1.0 + part / numerator or _LEAST
            change = numerator * denominator
            found *= change
        if abs(change - 1.0) < _DIGITS * 3.0:
            break
    return front * found


def _log_beta(a: float, b: float, x: float, rest: float) -> float:
    """The logarithm of x^a (1 - x)^b / B(a, b)."""
    if b == 0.5 or a == 0.5:
        log_inverse = _log_of_ratio(b if a == 0.5 else a) - 0.5 * log(pi)
    else:
        log_inverse = lgamma(a + b) - lgamma(a) - lgamma(b)
    return log_inverse + a * (log1p(-rest) if rest < 0.5 else log(x)) + b * (log1p(-x) if x < 0.5 else log(rest))


def noncentral_t_chance(degrees_of_freedom: float, away: float, t: float) -> float:
    """The chance that a t whose mean is ``away`` standard errors from 0 is at most that value (Lenth 1989).

    Valid for ``away`` up to 37, beyond which its first term is too small for a number.

    >>> round(noncentral_t_chance(10, 0.0, 2.2281), 4), round(noncentral_t_chance(10, 3.0, 2.2281), 4)
    (0.975, 0.2286)
    """
    if t < 0.0:
        return 1.0 - noncentral_t_chance(degrees_of_freedom, -away, -t)
    free, half = degrees_of_freedom, away * away / 2.0
    chance = 0.5 * erfc(away / sqrt(2.0))
    x, rest = t * t / (free + t * t), free / (free + t * t)
    if x == 0.0:
        return chance
    b = free / 2.0
    odd, even = beta_share(0.5, b, x, rest), beta_share(1.0, b, x, rest)
    odd_step = exp(_log_beta(0.5, b, x, rest)) / 0.5
    even_step = exp(_log_beta(1.0, b, x, rest))
    p, q = exp(-half), away * exp(-half) / (sqrt(2.0) * gamma(1.5))
    left = 1.0
    for j in range(_STEPS):
        chance += 0.5 * (p * odd + q * even)
        left -= p
        if j > half and (left < 1e-15 or abs(q) + p < 1e-17):
            break
        odd, even = max(0.0, odd - odd_step), max(0.0, even - even_step)
        odd_step *= x * (j + 0.5 + b) / (j + 1.5)
        even_step *= x * (j + 1.0 + b) / (j + 2.0)
        p *= half / (j + 1.0)
        q *= half / (j + 1.5)
    return min(1.0, max(0.0, chance))


@lru_cache(maxsize=256)
def chi_squared_over(degrees_of_freedom: int, chance: float) -> float:
    """The value that chi-squared with so many degrees of freedom, 1 or more, is over with that chance.

    >>> round(chi_squared_over(9, 0.05), 4), round(chi_squared_over(1, 0.05), 4)
    (16.919, 3.8415)
    """

    def too_likely(value: float) -> float:
        return chance_of_more(value, degrees_of_freedom) - chance

    high = 2.0 * degrees_of_freedom
    while too_likely(high) > 0.0:
        high *= 2.0
    return where_zero(too_likely, 0.0, high, 1e-15 * high)
