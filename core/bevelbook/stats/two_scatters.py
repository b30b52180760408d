"""Least squares where two groups of values scatter differently: an interval that does not take one scatter for both."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum
from operator import mul
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.stats.equations import dot
from bevelbook.stats.least_squares import Fit, Interval
from bevelbook.stats.line import t_value
from bevelbook.stats.orthogonal import Orthogonal

HC2: Final = Source(
    "paper",
    "MacKinnon, White: Some heteroskedasticity-consistent covariance matrix estimators",
    "Journal of Econometrics 29",
    "1985",
    "p. 305-325",
    "from memory; computed by statsmodels",
)
DEGREES_OF_FREEDOM: Final = Source(
    "paper",
    "Bell, McCaffrey: Bias reduction in standard errors for linear regression with multi-stage samples",
    "Survey Methodology 28",
    "2002",
    "p. 169-181",
    "from memory; simulated",
)
_NOTHING = 1e-9


def interval_of_two_scatters(
    fit: Fit,
    weights: Sequence[float],
    is_second: Sequence[bool],
    smallest_sd: float = 0.0,
) -> Interval | None:
    """A weighted sum of coefficients with a 95 % interval for two groups of values with variances of their own.

    u^2 = sum of c_i^2 e_i^2 / (1 - h_i) (HC2), c what each value counts for in the estimate, e the residuals, h the
    leverages. Degrees of freedom (tr K)^2 / tr(K K), K = G'SG, column i of G is that of the residual maker times
    c_i / sqrt(1 - h_i): the smaller of those for equal variances S and for S as seen in each group. With the two means
    alone u^2 and the latter are Welch's. u is at least that of a scatter of ``smallest_sd``. Where the estimate needs a
    value with no residual (h = 1) the interval of one scatter is given; None where the columns do not determine it.

    Source: :data:`HC2`, :data:`DEGREES_OF_FREEDOM`; u checked against statsmodels, all of it against scipy's Welch.
    """
    pooled = fit.interval(weights)
    if pooled is None:
        return None
    counts = fit.of_each_value(weights)
    free = [1.0 - one for one in fit.leverages]
    largest = max(map(abs, counts))
    used = [place for place, one in enumerate(counts) if abs(one) > _NOTHING * largest]
    if any(free[place] < _NOTHING for place in used):
        return pooled
    scaled = {place: counts[place] / free[place] ** 0.5 for place in used}
    variance = fsum((scaled[place] * fit.residuals[place]) ** 2 for place in used)
    variance = max(variance, smallest_sd**2 * dot(counts, counts))
    seen = []
    for is_side in (False, True):
        side = [place for place, one in enumerate(is_second) if one == is_side]
        left = max(fsum(free[place] for place in side), _NOTHING)
        seen.append(fsum(fit.residuals[place] ** 2 for place in side) / left)
    freedom = [_freedom(fit.parts, scaled, [1.0] * len(counts))]
    if max(seen) > 0.0:
        freedom.append(_freedom(fit.parts, scaled, [seen[bool(one)] / max(seen) for one in is_second]))
    half = t_value(min(freedom)) * variance**0.5
    return Interval(pooled.value, pooled.value - half, pooled.value + half, min(freedom))


def _freedom(parts: Orthogonal, scaled: Mapping[int, float], variances: Sequence[float]) -> float:
    """Satterthwaite's for a sum of squares of what the residual maker leaves of each value, times ``scaled``, where the
    values have such variances."""
    between = [
        [dot([one * variance for one, variance in zip(base, variances, strict=True)], other) for other in parts.basis]
        for base in parts.basis
    ]
    at = {place: [base[place] for base in parts.basis] for place in scaled}
    turned = {place: [dot(row, one) for row in between] for place, one in at.items()}
    trace = squares = 0.0
    for place, one in at.items():
        for other, two in at.items():
            if other < place:
                continue
            shared = sum(map(mul, one, two))
            value = sum(map(mul, turned[place], two)) - shared * (variances[place] + variances[other])
            value = scaled[place] * scaled[other] * (value + variances[place] * (place == other))
            trace += value * (place == other)
            squares += value * value * (1.0 if place == other else 2.0)
    return round(trace**2 / squares, 12)  # the rest is rounding noise
