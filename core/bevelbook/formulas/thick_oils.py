"""Thick oils thin when the diff turns fast: how far labels come closer together, for a caution only."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from math import exp, log
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.physics.viscosity import cst_in_words
from bevelbook.reference import rows

THICK_FROM_CST: Final = 30_000.0
CORNER_PER_S: Final = 200.0
SPINNING_PER_S: Final = 1_000.0
_TABLE: Final = "silicone_thinning.csv"
_COMPARED_CST: Final = (100_000.0, 500_000.0)
"""What one oil alone is compared with: the first, or the second where the oil is about as thick as the first."""

THICK_OILS: Final = (
    "From 30,000 cSt up oils thin when the diff turns fast, and labels come closer together: the figures are read from "
    "one maker's printed graph, between its curves only. No torque follows from them."
)
THINNING: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Fig. 18, p. 20: viscosity against shear rate",
    "read; curves digitised, reading error about 3 %; its temperature is not printed, taken as 25 °C",
)
SHEAR_RATES: Final = Source(
    "proposal",
    "Shear rates: about 200 per second in a corner, 1,000 with one wheel spinning, for gears of 5 mm radius 0.3 mm "
    "from the case and outputs 20 and 120 rad/s apart: 5 × 10 / 0.3 = 170, 5 × 60 / 0.3 = 1,000; sizes assumed",
)


@cache
def _curve(shear_rate_per_s: float) -> tuple[tuple[float, float], ...]:
    """Nominal viscosity and what it acts as at one shear rate of the table, thin to thick."""
    return tuple(
        sorted(
            (float(row["viscosity_cst"]), float(row["acts_as_cst"]))
            for row in rows(_TABLE)
            if float(row["shear_rate_per_s"]) == shear_rate_per_s
        )
    )


def acts_as_cst(viscosity_cst: float, shear_rate_per_s: float) -> float | None:
    """The viscosity as which an oil acts under shear, in cSt; None outside the printed curves.

    viscosity_cst       nominal viscosity at 25 °C, 30,000 to 500,000 cSt
    shear_rate_per_s    200 or 1,000 1/s

    On a printed curve it is the value read there; between two it is interpolated over the logarithms of both.

    Source: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014, Fig. 18
    (p. 20), digitised, about 3 %; its temperature is not printed, taken as 25 °C.

    >>> acts_as_cst(100_000.0, 1000.0), acts_as_cst(7000.0, 1000.0)
    (42000.0, None)
    """
    for (thin, thin_acts), (thick, thick_acts) in pairwise(_curve(shear_rate_per_s)):
        if viscosity_cst in (thin, thick):
            return thin_acts if viscosity_cst == thin else thick_acts
        if thin < viscosity_cst < thick:
            share = log(viscosity_cst / thin) / log(thick / thin)
            return exp(log(thin_acts) + share * log(thick_acts / thin_acts))
    return None


def thick_oil_cautions(*viscosities_cst: float) -> tuple[str, ...]:
    """One caution, in words, where any of these oils (cSt at 25 °C) is 30,000 cSt or thicker; else empty.

    >>> thick_oil_cautions(7000.0, 20_000.0)
    ()
    """
    thick = sorted({one for one in viscosities_cst if one >= THICK_FROM_CST})
    if not thick:
        return ()
    shown = _shown(thick)
    labels = [cst_in_words(one, 3) for one in shown]
    slow, fast = ([cst_in_words(acts_as_cst(one, rate) or 0.0, 2) for one in shown] for rate in _RATES)
    return (
        "oil this thick thins when the diff turns fast, and labels come closer together: at a shear rate of "
        f"{CORNER_PER_S:,.0f} per second (roughly a corner) {labels[0]} acts like {slow[0]} and {labels[1]} like "
        f"{slow[1]}; at {SPINNING_PER_S:,.0f} (roughly one wheel spinning) like {fast[0]} and {fast[1]} "
        "(read from a printed graph)",
    )


_RATES: Final = (CORNER_PER_S, SPINNING_PER_S)


def _shown(thick: Sequence[float]) -> tuple[float, float]:
    """The two oils that a caution compares, inside the printed curves: the thinnest and thickest, or a companion."""
    last = _curve(SPINNING_PER_S)[-1][0]
    low, high = min(thick[0], last), min(thick[-1], last)
    if cst_in_words(low, 3) != cst_in_words(high, 3):
        return low, high
    first, second = _COMPARED_CST
    companion = second if first / 2.0 < low < 2.0 * first else first
    return min(low, companion), max(low, companion)
