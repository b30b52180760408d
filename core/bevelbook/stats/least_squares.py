"""Ordinary least squares with several columns: what combinations of coefficients are determined, and how well."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import TYPE_CHECKING, Any, NamedTuple

from bevelbook.stats.line import t_value

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NOTHING = 1e-9
"""Shares below this are rounding noise of the computing."""


class Interval(NamedTuple):
    """An estimate with its 95 % interval."""

    value: float
    low: float
    high: float
    degrees_of_freedom: float

    @property
    def decided(self) -> bool:
        """Whether zero is outside."""
        return self.low > 0 or self.high < 0


class Fit(NamedTuple):
    """A fitted linear model: coefficients (in the order of the columns), residuals and leverages (of the values)."""

    coefficients: NDArray[Any]
    scale: NDArray[Any]
    """The largest size in each column; the next two are of the columns divided by it."""
    unscaled_covariance: NDArray[Any]
    """The (pseudo-)inverse of X'X; times the residual variance it is the covariance of the coefficients."""
    identified: NDArray[Any]
    """The projection onto what the columns determine."""
    residuals: NDArray[Any]
    leverages: NDArray[Any]
    residual_sd: float
    """From the degrees of freedom left, at least the smallest one given; 0 where none are left and none was given."""
    degrees_of_freedom: int

    def unit_error(self, weights: Sequence[float]) -> float | None:
        """The standard error of a weighted sum of coefficients for a residual sd of 1; None if not determined."""
        from numpy import asarray

        sums = asarray(weights, dtype=float) / self.scale
        if abs(sums - sums @ self.identified).max() > _NOTHING * abs(sums).max():
            return None
        return sqrt(float(sums @ self.unscaled_covariance @ sums))

    def interval(self, weights: Sequence[float]) -> Interval | None:
        """A weighted sum of coefficients with its 95 % interval; None if the columns do not determine it."""
        unit = self.unit_error(weights)
        if unit is None or self.degrees_of_freedom < 1:
            return None
        value = float(sum(weight * one for weight, one in zip(weights, self.coefficients, strict=True)))
        half = t_value(self.degrees_of_freedom) * self.residual_sd * unit
        return Interval(value, value - half, value + half, self.degrees_of_freedom)


def least_squares(columns: Sequence[Sequence[float]], values: Sequence[float], smallest_sd: float = 0.0) -> Fit:
    """Fit values by a weighted sum of columns; columns may depend on each other (the Moore-Penrose inverse).

    b = X^+ y, s^2 = residuals squared / (n - rank), u(c'b) = s sqrt(c' (X'X)^+ c) for any c that the rows of X span.
    ``smallest_sd`` keeps intervals open where rounding hides the scatter. Valid from one value; numbers of any size.

    Source: textbook least squares (numpy.linalg.pinv); checked against statsmodels.

    >>> fit = least_squares([[1, 1, 1, 1], [0, 1, 2, 3]], [1.0, 3.0, 4.9, 7.1])
    >>> found = fit.interval([0, 1])
    >>> round(found.value, 3), round(found.high, 3), found.degrees_of_freedom
    (2.02, 2.203, 2)
    """
    from numpy import asarray, diag
    from numpy.linalg import pinv

    design = asarray(columns, dtype=float).T
    scale = abs(design).max(axis=0)
    scale[scale == 0.0] = 1.0
    design = design / scale
    measured = asarray(values, dtype=float)
    inverse = pinv(design)
    hat = design @ inverse
    residuals = measured - hat @ measured
    left = len(values) - round(float(hat.trace()))
    scatter = sqrt(float(residuals @ residuals) / left) if left > 0 else 0.0
    return Fit(
        coefficients=(inverse @ measured) / scale,
        scale=scale,
        unscaled_covariance=inverse @ inverse.T,
        identified=inverse @ design,
        residuals=residuals,
        leverages=diag(hat),
        residual_sd=max(scatter, smallest_sd),
        degrees_of_freedom=left,
    )
