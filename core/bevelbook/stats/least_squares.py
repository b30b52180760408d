"""Ordinary least squares with several columns: what combinations of coefficients are determined, and how well."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt
from typing import NamedTuple

from bevelbook.stats.equations import dot
from bevelbook.stats.line import t_value
from bevelbook.stats.orthogonal import Orthogonal, combined, orthogonal

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

    coefficients: tuple[float, ...]
    scale: tuple[float, ...]
    """The largest size in each column; the next is of the columns divided by it."""
    parts: Orthogonal
    residuals: tuple[float, ...]
    leverages: tuple[float, ...]
    residual_sd: float
    """From the degrees of freedom left, at least the smallest one given; 0 where none are left and none was given."""
    degrees_of_freedom: int

    def of_each_value(self, weights: Sequence[float]) -> list[float]:
        """What each value counts for in a weighted sum of coefficients."""
        sums = self.scaled(weights)
        return combined(self.parts.basis, [dot(one, sums) for one in self.parts.turned])

    def scaled(self, weights: Sequence[float]) -> list[float]:
        """The weights for the coefficients of the columns as divided by their scale."""
        return [weight / size for weight, size in zip(weights, self.scale, strict=True)]

    def unit_error(self, weights: Sequence[float]) -> float | None:
        """The standard error of a weighted sum of coefficients for a residual sd of 1; None if not determined."""
        sums = self.scaled(weights)
        spanned = self.parts.spanned
        seen = combined(spanned, [dot(one, sums) for one in spanned]) or [0.0] * len(sums)
        if max(abs(one - other) for one, other in zip(sums, seen, strict=True)) > _NOTHING * max(map(abs, sums)):
            return None
        return sqrt(fsum(dot(one, sums) ** 2 for one in self.parts.turned))

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

    Source: textbook least squares; checked against statsmodels.

    >>> fit = least_squares([[1, 1, 1, 1], [0, 1, 2, 3]], [1.0, 3.0, 4.9, 7.1])
    >>> found = fit.interval([0, 1])
    >>> round(found.value, 3), round(found.high, 3), found.degrees_of_freedom
    (2.02, 2.203, 2)
    """
    scale = [max(map(abs, column)) or 1.0 for column in columns]
    design = [[one / size for one in column] for column, size in zip(columns, scale, strict=True)]
    parts = orthogonal(design)
    seen = parts.fitted_to(values) or [0.0] * len(values)
    residuals = tuple(one - other for one, other in zip(values, seen, strict=True))
    left = len(values) - len(parts.basis)
    scatter = sqrt(dot(residuals, residuals) / left) if left > 0 else 0.0
    coefficients = parts.inverse_times(values) or [0.0] * len(columns)
    return Fit(
        coefficients=tuple(one / size for one, size in zip(coefficients, scale, strict=True)),
        scale=tuple(scale),
        parts=parts,
        residuals=residuals,
        leverages=tuple(fsum(one[place] ** 2 for one in parts.basis) for place in range(len(values))),
        residual_sd=max(scatter, smallest_sd),
        degrees_of_freedom=left,
    )
