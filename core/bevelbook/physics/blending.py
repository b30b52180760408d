"""Viscosity of a blend of silicone fluids at one temperature, by the maker's rule and two other rules for
comparison."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, fsum, log
from typing import Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.sources import Source

THINNEST_CST: Final = 0.65

LOG_BLEND: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Fig. 7 and examples 1 and 2, p. 10-11",
    "read: a straight line of log viscosity at 25 °C against mass %",
)
BLEND_BAND: Final = Source(
    "paper",
    "Viscosity Blending Equations, technical supplement No. 93",
    "Lube magazine",
    "2017",
    "Refutas and Kendall-Monroe equations",
    "read: its first page; year of the online copy; made for petroleum, shown here to compare",
)


def mass_fractions(masses_g: Sequence[float]) -> tuple[float, ...]:
    """Each mass as a share of their sum.

    >>> mass_fractions([1.0, 3.0])
    (0.25, 0.75)
    """
    total = fsum(masses_g)
    return tuple(mass / total for mass in masses_g)


def log_blend_cst(viscosities_cst: Sequence[float], fractions: Sequence[float]) -> float:
    """Viscosity of a blend, in cSt: ln nu = sum(w ln nu), w the mass fractions, all at one temperature.

    Meets both examples that the source prints within 0.4 percentage points of mass. No measured silicone series was
    found to check it for parts more than four times apart. Viscosities above 0.

    Source: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014, Fig. 7
    (p. 10); S. Arrhenius, 1887.

    >>> round(log_blend_cst([1000.0, 300.0], [0.575, 0.425]), 2)
    599.48
    """
    return exp(fsum(share * log(one) for one, share in zip(viscosities_cst, fractions, strict=True)))


def cube_root_blend_cst(viscosities_cst: Sequence[float], fractions: Sequence[float]) -> float:
    """Viscosity of a blend by Kendall and Monroe, in cSt: nu^(1/3) = sum(w nu^(1/3)); the thick end of the band.

    Source: Lube magazine, technical supplement No. 93, Viscosity Blending Equations.

    >>> round(cube_root_blend_cst([1000.0, 10000.0], [0.5, 0.5]), 2)
    3923.51
    """
    mean = fsum(share * one ** (1.0 / 3.0) for one, share in zip(viscosities_cst, fractions, strict=True))
    return mean**3


def blending_number(viscosity_cst: float) -> float:
    """Refutas' viscosity blending number: 14.534 ln[ln(nu + 0.8)] + 10.975, natural logarithms.

    Raises InputError up to 0.2 cSt, where the inner logarithm is not positive.

    Source: Petroleum Refinery Process Economics, 2nd ed., PennWell 2000 (as quoted in a forum article of 2007); Lube
    magazine, technical supplement No. 93.

    >>> round(blending_number(39.15), 5)
    29.94163
    """
    if viscosity_cst <= 0.2:
        raise InputError(
            "a liquid this thin has no blending number",
            code="outside_valid_range",
            place=Place(field="viscosity_cst"),
            found=f"{viscosity_cst:g} cSt",
            wanted="above 0.2 cSt",
            remedy="Give the viscosity at 25 °C in cSt, as the oil's data sheet states it.",
        )
    return 14.534 * log(log(viscosity_cst + 0.8)) + 10.975


def refutas_blend_cst(viscosities_cst: Sequence[float], fractions: Sequence[float]) -> float:
    """Viscosity of a blend by Refutas, in cSt: the blending numbers averaged by mass; the thin end of the band.

    nu = exp(exp[(VBN - 10.975) / 14.534]) - 0.8. Raises InputError up to 0.2 cSt; source: :func:`blending_number`.

    >>> round(refutas_blend_cst([39.15, 9.6], [1 / 3, 2 / 3]), 3)
    14.448
    """
    mean = fsum(share * blending_number(one) for one, share in zip(viscosities_cst, fractions, strict=True))
    return exp(exp((mean - 10.975) / 14.534)) - 0.8


def fraction_of_second(first_cst: float, second_cst: float, target_cst: float) -> float:
    """Mass fraction of the second of two oils in a blend of the target viscosity.

    w = ln(nu1 / target) / ln(nu1 / nu2), :func:`log_blend_cst` solved. Raises InputError unless the target lies
    between two different oils.

    >>> round(fraction_of_second(1000.0, 300.0, 600.0), 3)
    0.424
    """
    low, high = sorted((first_cst, second_cst))
    if low == high or not low <= target_cst <= high:
        raise InputError(
            "that viscosity does not lie between the two oils",
            code="outside_valid_range",
            place=Place(field="target_cst"),
            found=f"{target_cst:,.0f} cSt",
            wanted=f"{low:,.0f} to {high:,.0f} cSt",
            remedy="Give an oil on either side of the one you want.",
        )
    return log(first_cst / target_cst) / log(first_cst / second_cst)
