"""Kinematic viscosity of silicone fluid against temperature: one law, anchored at 25 °C."""

from __future__ import annotations

from math import exp, log
from typing import Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.sources import Source
from bevelbook.physics.air import ZERO_C_IN_K
from bevelbook.physics.density import REFERENCE_C

TEMPERATURE_COEFFICIENT_K: Final = 1757.1
LAW_ERROR_SHARE: Final = 0.028
THIN_LAW_ERROR_SHARE: Final = 0.04
THICK_LAW_ERROR_SHARE: Final = 0.06
LAW_LOW_C: Final = -10.0
LAW_HIGH_C: Final = 80.0
COLD_FOR_THICK_C: Final = 20.0
TABLE_LOW_C: Final = -55.0
TABLE_HIGH_C: Final = 250.0
LAW_THINNEST_CST: Final = 50.0
LAW_TABLE_CST: Final = 100.0
LAW_THICKEST_CST: Final = 10_000.0
CURVES_END_CST: Final = 500_000.0
LAW_RANGE: Final = (
    f"Within {100.0 * LAW_ERROR_SHARE:.1f} % of the maker's table from -10 to 80 °C for 100 to 10,000 cSt, with the "
    "default coefficient only; outside, the reasons say how far off it may be. No answer below -55 or above 250 °C.",
    "The oil's viscosity in cSt at 25 °C. A number in wt on a bottle is not a viscosity; it stays a label.",
)

VISCOSITY_LAW: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Fig. 3, p. 7: log10 ν = 763.1/(273 + t) - 2.559 + log10 ν25",
    "read; its slope is kept, 763.1 × ln 10 = 1757.1 K, and the line is anchored at 25 °C",
)
VISCOSITY_TABLE: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Table 1, p. 6",
    "read; typical values, not a specification",
)
VISCOSITY_CURVES: Final = Source(
    "data sheet",
    "Silicone Fluid, Performance Test Results (Technical data)",
    "Shin-Etsu Chemical Co., Ltd., Silicone Division",
    "2014",
    "Fig. 3, p. 7: the curves of 30,000 to 500,000 cSt",
    "read; curves digitised from the printed graph, reading error about 4 %",
)
LABEL_TOLERANCE_SHARE: Final = 0.10
LABELS: Final = Source(
    "from memory", "Makers' nominal viscosities are off by about 5 to 10 % either way, more than the law's own error"
)


def _inverse_kelvin(temperature_c: float, argument: str) -> float:
    """1/T of a temperature in °C. Raises InputError that names the argument."""
    if temperature_c <= -ZERO_C_IN_K:
        raise InputError(
            "no temperature is below absolute zero",
            code="outside_valid_range",
            place=Place(field=argument),
            found=f"{temperature_c:g} °C",
            wanted=f"above -{ZERO_C_IN_K:g} °C",
            remedy="Give the oil's temperature in °C, such as 35, or with its unit: 95 °F, 308 K.",
        )
    if not TABLE_LOW_C <= temperature_c <= TABLE_HIGH_C:
        raise InputError(
            "no viscosity of silicone oil is published for that temperature",
            code="outside_valid_range",
            place=Place(field=argument),
            found=f"{temperature_c:g} °C",
            wanted=f"{TABLE_LOW_C:g} to {TABLE_HIGH_C:g} °C",
            remedy="Give the temperature of the oil itself, in °C.",
        )
    return 1.0 / (temperature_c + ZERO_C_IN_K)


def viscosity_ratio(
    temperature_c: float, other_c: float = REFERENCE_C, coefficient_k: float = TEMPERATURE_COEFFICIENT_K
) -> float:
    """Viscosity at one temperature over that at another; a number without unit.

    r = exp[B (1/T - 1/T')], temperatures in kelvin.

    temperature_c   temperature, °C; within 2.8 % of the table from -10 to 80 °C for 100 to 10,000 cSt with the default
                    coefficient, within 4 % from -25 to 100 °C; colder than -35 °C the oil is much thicker than this
    other_c         the temperature compared with, °C
    coefficient_k   B, K; 1757.1 for grades from 50 cSt up

    Raises InputError below -55 °C, where the source's table ends, and above 250 °C, where its line ends; its field is
    the argument, ``temperature_c`` or ``other_c``.

    Source: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014,
    Fig. 3 (p. 7); errors against Table 1 (p. 6).

    >>> round(viscosity_ratio(20.0), 4)
    1.1057
    """
    return exp(coefficient_k * (_inverse_kelvin(temperature_c, "temperature_c") - _inverse_kelvin(other_c, "other_c")))


def viscosity_at_cst(
    viscosity_cst: float, temperature_c: float, coefficient_k: float = TEMPERATURE_COEFFICIENT_K
) -> float:
    """Kinematic viscosity at a temperature, in cSt.

    nu(t) = nu25 exp[B (1/T - 1/298.15)], T = t + 273.15.

    viscosity_cst   viscosity at 25 °C, cSt; see :func:`viscosity_ratio` for the rest, range, errors and source

    >>> round(viscosity_at_cst(1000.0, 40.0), 2)
    754.05
    """
    return viscosity_cst * viscosity_ratio(temperature_c, REFERENCE_C, coefficient_k)


def viscosity_25_cst(
    viscosity_at_temperature_cst: float, temperature_c: float, coefficient_k: float = TEMPERATURE_COEFFICIENT_K
) -> float:
    """Viscosity at 25 °C of an oil with a known viscosity at another temperature, in cSt.

    The inverse of :func:`viscosity_at_cst`.

    >>> round(viscosity_25_cst(754.053, 40.0), 2)
    1000.0
    """
    spans = _inverse_kelvin(REFERENCE_C, "other_c") - _inverse_kelvin(temperature_c, "temperature_c")
    return viscosity_at_temperature_cst * exp(coefficient_k * spans)


def coefficient_from_two_k(first_cst: float, first_c: float, second_cst: float, second_c: float) -> float:
    """The temperature coefficient B of an oil from its viscosity at two temperatures, in K.

    B = ln(nu1 / nu2) / (1/T1 - 1/T2). Raises InputError where both temperatures are the same.

    >>> round(coefficient_from_two_k(1720.0, 0.0, 633.0, 50.0), 1)
    1764.8
    """
    span = _inverse_kelvin(first_c, "first_c") - _inverse_kelvin(second_c, "second_c")
    if span == 0.0:
        raise InputError(
            "two viscosities at one temperature say nothing about another",
            code="outside_valid_range",
            place=Place(field="second_c"),
            found=f"{first_c:g} °C twice",
            remedy="Measure the second one at least 10 K warmer or colder.",
        )
    return log(first_cst / second_cst) / span


def coefficient_from_vtc_k(viscosity_temperature_coefficient: float) -> float:
    """The temperature coefficient B from the viscosity-temperature coefficient of a data sheet, in K.

    VTC = 1 - nu(98.9 °C) / nu(37.8 °C); B = -ln(1 - VTC) / (1/310.95 - 1/372.05). Valid for 0 < VTC < 1.

    Source: the definition of VTC: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test
    Results, 2014, p. 6.

    >>> round(coefficient_from_vtc_k(0.60), 1)
    1734.9
    """
    return coefficient_from_two_k(1.0, 37.8, 1.0 - viscosity_temperature_coefficient, 98.9)


def kinematic_cst(dynamic_pa_s: float, density_g_cm3: float) -> float:
    """Kinematic viscosity in cSt from dynamic viscosity in Pa·s: nu = mu / rho.

    >>> round(kinematic_cst(0.97, 0.97), 9)
    1000.0
    """
    return 1000.0 * dynamic_pa_s / density_g_cm3


def law_accuracy(
    viscosity_cst: float, temperature_c: float, coefficient_k: float = TEMPERATURE_COEFFICIENT_K
) -> str | None:
    """How far the law is from published figures for this oil at this temperature, in words; None where that is unknown.

    With the default coefficient only, as an oil's own one was never compared with published figures. The share is the
    largest difference from the table (50 to 10,000 cSt, -10 to 80 °C) or from the curves (to 500,000 cSt, 20 to 80 °C).

    Source: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014, Table 1
    (p. 6) and Fig. 3 (p. 7, digitised), interpolated by a cubic spline of ln nu in 1/T.

    >>> law_accuracy(7000.0, 35.0)
    "the law is within 2.8 % of a maker's table"
    >>> law_accuracy(500_000.0, 40.0)
    'the law is within about 6 % of curves read from a graph'
    >>> law_accuracy(7000.0, 90.0)
    """
    if coefficient_k != TEMPERATURE_COEFFICIENT_K or not LAW_LOW_C <= temperature_c <= LAW_HIGH_C:
        return None
    if LAW_TABLE_CST <= viscosity_cst <= LAW_THICKEST_CST:
        return f"the law is within {100.0 * LAW_ERROR_SHARE:.1f} % of a maker's table"
    if LAW_THINNEST_CST <= viscosity_cst < LAW_TABLE_CST:
        return f"the law is within {100.0 * THIN_LAW_ERROR_SHARE:.0f} % of a maker's table"
    if LAW_THICKEST_CST < viscosity_cst <= CURVES_END_CST and temperature_c >= COLD_FOR_THICK_C:
        return f"the law is within about {100.0 * THICK_LAW_ERROR_SHARE:.0f} % of curves read from a graph"
    return None


def law_cautions(
    viscosity_cst: float, temperature_c: float, coefficient_k: float = TEMPERATURE_COEFFICIENT_K
) -> tuple[str, ...]:
    """Why the law is less certain for this oil at this temperature than :func:`law_accuracy` says; empty if it is not.

    The figures apply to the default coefficient only: an oil's own one was measured on it.

    Source: Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014, Table 1
    (p. 6) and Fig. 3 (p. 7, digitised), against the law.

    >>> law_cautions(7000.0, 35.0)
    ()
    """
    if coefficient_k != TEMPERATURE_COEFFICIENT_K:
        return _cautions_of_own_coefficient(temperature_c)
    if viscosity_cst < LAW_THINNEST_CST:
        return (
            f"oils under {LAW_THINNEST_CST:g} cSt need a temperature coefficient of their own: the law is off by "
            "up to 9 % at 100 °C and 15 % at -30 °C",
        )
    if viscosity_cst > LAW_THICKEST_CST:
        return _cautions_of_thick_oil(viscosity_cst, temperature_c)
    if temperature_c < LAW_LOW_C:
        return (
            f"colder than {LAW_LOW_C:g} °C the oil is thicker than the law says: up to 4 % at -25 °C, 10 % at -35 °C, "
            "20 % at -45 °C",
        )
    if temperature_c > LAW_HIGH_C:
        return (f"hotter than {LAW_HIGH_C:g} °C the law is off by up to 4 % at 100 °C and 10 % at 200 °C",)
    return ()


def _cautions_of_own_coefficient(temperature_c: float) -> tuple[str, ...]:
    if temperature_c < LAW_LOW_C:
        return (f"colder than {LAW_LOW_C:g} °C silicone oil is thicker than a law with one coefficient says",)
    if temperature_c > LAW_HIGH_C:
        return (f"hotter than {LAW_HIGH_C:g} °C a law with one coefficient is less exact",)
    return ()


def _cautions_of_thick_oil(viscosity_cst: float, temperature_c: float) -> tuple[str, ...]:
    if viscosity_cst > CURVES_END_CST:
        return (f"no curve of an oil over {CURVES_END_CST:,.0f} cSt is published",)
    if temperature_c < COLD_FOR_THICK_C:
        return (
            f"oils over {LAW_THICKEST_CST:,.0f} cSt are thicker when cold than the law says: 8 to 12 % at 0 °C, "
            "more below that, read from a graph",
        )
    if temperature_c > LAW_HIGH_C:
        return (
            f"oils over {LAW_THICKEST_CST:,.0f} cSt hotter than {LAW_HIGH_C:g} °C: the law is off by up to 7 % at "
            "100 °C and 11 % at 200 °C, read from a graph",
        )
    return ()


def cst_in_words(viscosity_cst: float, digits: int = 6) -> str:
    """A viscosity for people, with a comma at the thousands and at most so many digits that count.

    >>> cst_in_words(8125.3, digits=3)
    '8,130'
    """
    rounded = float(f"{viscosity_cst:.{digits}g}")
    return f"{rounded:,.0f}" if rounded >= 100.0 else f"{rounded:g}"
