"""A straight line through points that are not equally good."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt

from bevelbook.stats.line import Line, line_of


def weighted_line(x: Sequence[float], y: Sequence[float], weights: Sequence[float]) -> Line:
    """Weighted least squares of y on x; a weight goes with one over the square of a point's uncertainty.

    Only the ratios of the weights count: the scatter is found from the residuals, with n - 2 degrees of freedom. They
    are scaled to a mean of 1, so that :func:`bevelbook.stats.line.where_line_reaches` holds for this line too; its
    ``residual_sd`` is that of a point of mean weight.

    Valid from two points at two places; with exactly two the standard errors are zero and mean nothing. Raises
    ZeroDivisionError where all x are equal.

    Source: National Institute of Standards and Technology, e-Handbook of Statistical Methods, 4.1.4.3, weighted least
    squares (title from memory); checked against statsmodels.

    >>> line = weighted_line([0, 1, 2, 3], [1.0, 3.0, 4.9, 7.1], [1.0, 1.0, 1.0, 1.0])
    >>> round(line.slope, 3), round(line.slope_error, 4)
    (2.02, 0.0424)
    """
    count, total = len(x), fsum(weights)
    scaled = [one * count / total for one in weights]
    x_mean = fsum(w * one for w, one in zip(scaled, x, strict=True)) / count
    y_mean = fsum(w * one for w, one in zip(scaled, y, strict=True)) / count
    s_xx = fsum(w * (one - x_mean) ** 2 for w, one in zip(scaled, x, strict=True))
    slope = fsum(w * (one - x_mean) * (other - y_mean) for w, one, other in zip(scaled, x, y, strict=True)) / s_xx
    intercept = y_mean - slope * x_mean
    scatter = fsum(w * (other - intercept - slope * one) ** 2 for w, one, other in zip(scaled, x, y, strict=True))
    residual_sd = sqrt(scatter / (count - 2)) if count > 2 and min(y) < max(y) else 0.0
    return line_of(slope, intercept, residual_sd, x_mean, s_xx, count)
