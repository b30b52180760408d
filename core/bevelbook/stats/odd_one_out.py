"""Which one value does not belong with the others: Grubbs' test, and the same about any fitted values."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.stats.least_squares import Fit
from bevelbook.stats.line import t_value
from bevelbook.stats.spread import mean, sample_variance

GRUBBS: Final = Source(
    "handbook",
    "e-Handbook of Statistical Methods",
    "NIST/SEMATECH",
    "2012",
    "1.3.5.17, Grubbs' test for one outlier",
    "quoted in public copies: example and critical value; year from memory",
)
ODD_ALARMS: Final = 0.01


def odd_one_out(
    values: Sequence[float], smallest_sd: float = 0.0, alarms: float = ODD_ALARMS, step: float = 0.0
) -> int | None:
    """Which one value does not belong with the others, by its place from 0 (Grubbs' test, two-sided); or None.

    G = max |x - mean| / s against (n - 1)/sqrt n sqrt(t^2 / (n - 2 + t^2)), t at alarms / (2 n) with n - 2 degrees of
    freedom. One such value widens a short chart so far that it lies inside its limits. Valid from five values.
    Where values are read in steps, one that is a single ``step`` from its neighbour is not odd: among readings that are
    all alike but one, the test would name that one in up to 40 % of good sets of six (simulated).

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17; the example there:

    >>> odd_one_out([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
    7
    """
    count = len(values)
    centre, spread = mean(values), max(sqrt(sample_variance(values)), smallest_sd)
    place = max(range(count), key=lambda i: abs(values[i] - centre))
    t = t_value(count - 2, 1.0 - alarms / count)
    limit = (count - 1) / sqrt(count) * sqrt(t**2 / (count - 2 + t**2))
    if abs(values[place] - centre) <= limit * spread:
        return None
    gap = min(abs(values[place] - other) for at, other in enumerate(values) if at != place)
    return place if gap > 1.5 * step else None


def odd_residual(fit: Fit, values: Sequence[float], smallest_sd: float = 0.0, alarms: float = ODD_ALARMS) -> int | None:
    """Which one value does not belong with what a model fits to all of them, by its place from 0; or None.

    Each residual against the scatter of the others, t = r / (s_i sqrt(1 - h)), s_i without that value, against t at
    alarms / (2 n) with one degree of freedom less than the fit. For a mean alone that is Grubbs' test. Valid where the
    fit has two degrees of freedom; None below. Of values that the model cannot tell apart it is the one farthest from
    the median.

    Source: textbook (externally studentized residuals, Bonferroni); checked against statsmodels' outlier_test.
    """
    from statistics import median

    count, left = len(values), fit.degrees_of_freedom
    if left < 2:
        return None
    middle = median(values)
    total = fsum(float(one) ** 2 for one in fit.residuals)
    found: list[tuple[float, float, int]] = []
    for place, (residual, leverage) in enumerate(zip(fit.residuals, fit.leverages, strict=True)):
        free = 1.0 - float(leverage)
        if free < 1e-9:
            continue
        others = sqrt(max(0.0, (total - float(residual) ** 2 / free) / (left - 1)))
        away = abs(float(residual)) / sqrt(free)
        spread = max(others, smallest_sd)
        score = away / spread if spread > 0.0 else 0.0
        found.append((round(score, 6), abs(values[place] - middle), place))
    score, _, place = max(found, default=(0.0, 0.0, 0))
    return place if score > t_value(left - 1, 1.0 - alarms / count) else None
