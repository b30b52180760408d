"""Least squares where two groups of values scatter differently: an interval that does not take one scatter for both."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from bevelbook.declare.sources import Source
from bevelbook.stats.least_squares import Fit, Interval
from bevelbook.stats.line import t_value

if TYPE_CHECKING:
    from numpy.typing import NDArray

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
    columns: Sequence[Sequence[float]],
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
    from numpy import asarray, diag, eye
    from numpy.linalg import pinv

    pooled = fit.interval(weights)
    if pooled is None:
        return None
    design = asarray(columns, dtype=float).T / fit.scale
    inverse = pinv(design)
    counts = (asarray(weights, dtype=float) / fit.scale) @ inverse
    free = 1.0 - fit.leverages
    used = abs(counts) > _NOTHING * abs(counts).max()
    if (free[used] < _NOTHING).any():
        return pooled
    scaled = counts[used] / free[used] ** 0.5
    maker = (eye(len(design)) - design @ inverse)[:, used] * scaled
    variance = float(((scaled * fit.residuals[used]) ** 2).sum())
    variance = max(variance, smallest_sd**2 * float(counts @ counts))
    second = asarray(is_second, dtype=bool)
    seen = asarray(
        [float((fit.residuals[side] ** 2).sum()) / max(float(free[side].sum()), _NOTHING) for side in (~second, second)]
    )
    freedom = [_freedom(maker, eye(len(design)))]
    if seen.max() > 0.0:
        freedom.append(_freedom(maker, diag((seen / seen.max())[second.astype(int)])))
    half = t_value(min(freedom)) * variance**0.5
    return Interval(pooled.value, pooled.value - half, pooled.value + half, min(freedom))


def _freedom(maker: NDArray[Any], variances: NDArray[Any]) -> float:
    """Satterthwaite's for a sum of squares of ``maker`` times values of such variances."""
    square = maker.T @ variances @ maker
    return float(square.trace() ** 2 / (square * square.T).sum())
