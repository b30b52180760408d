"""O-rings: volume, squeeze, fill of the groove, thinning by stretch, swelling, set and growth by heat."""

from __future__ import annotations

from math import cbrt, pi, pow, sqrt
from typing import Final

from bevelbook.declare.sources import Source

HANDBOOK_THINNING: Final = Source(
    "handbook",
    "O-Ring Handbook ORD 5700, thinning of a stretched ring",
    publisher="publisher not named",
    year="undated",
    where="PDF p. 54",
    seen="quoted in public rocket-vehicle code",
)
TORUS: Final = Source(
    "computed",
    "geometry of a torus, V = π²/4 d2² (d1 + d2)",
    seen="worked out here; closed form equals the integral",
)
SET_D395: Final = Source(
    "standard",
    "compression set at constant deflection, ASTM D395 method B",
    "UL Prospector",
    year="undated",
    seen="quoted in this text; the standard was not opened",
)
CLASS_B: Final = Source(
    "standard",
    "Tolerances for Metric O-Rings, on ISO 3601-1 class B, annex A.4",
    "R.T. Dygert International",
    year="undated",
    seen="quoted in this page; the standard was not opened; the printed exponent 0.93 misses its own table, 0.95 fits",
)

LARGEST_STRETCH: Final = 0.25
_STEP_OF_THINNING: Final = 0.03
_SECTION_STEPS_MM: Final = ((2.25, 0.08), (3.15, 0.09), (4.5, 0.10), (6.3, 0.13), (8.4, 0.15))


def ring_volume_mm3(inside_diameter_mm: float, section_mm: float, other_section_mm: float | None = None) -> float:
    """Volume of an O-ring, in mm3: V = pi^2 / 4 d2^2 (d1 + d2). Any positive sizes.

    ``other_section_mm`` is the section of a flattened ring at right angles to the first: an ellipse of d2 by d3, on a
    middle diameter of d1 + (d2 + d3) / 2, since either may lie along the radius.

    Source: geometry of a torus (Pappus: area of the section times the way of its middle).

    >>> ring_volume_mm3(6.07, 1.78), ring_volume_mm3(6.07, 1.60, 1.98)
    (61.369, 61.439)
    """
    other_mm = section_mm if other_section_mm is None else other_section_mm
    middle_mm = inside_diameter_mm + (section_mm + other_mm) / 2.0
    return pi**2 / 4.0 * section_mm * other_mm * middle_mm


def squeeze_fraction(section_mm: float, groove_depth_mm: float) -> float:
    """How far the groove presses the ring, as a share of its section: (d2 - h) / d2. Negative: no contact.

    Source: definition; the example 3.0 mm in 2.3 mm is printed in an O-ring lexicon (NH O-Ring, Sealing effect).

    >>> squeeze_fraction(1.78, 1.30)
    0.2697
    """
    return (section_mm - groove_depth_mm) / section_mm


def groove_fill_fraction(section_mm: float, groove_depth_mm: float, groove_width_mm: float) -> float:
    """Share of the groove's area that the ring takes: (pi / 4 d2^2) / (h b), corners ignored.

    Source: geometry; against the housing table of orings.co.uk it stays under 0.85 throughout.

    >>> groove_fill_fraction(1.78, 1.30, 2.40)
    0.7976
    """
    return pi / 4.0 * section_mm**2 / (groove_depth_mm * groove_width_mm)


def stretch_fraction(inside_diameter_mm: float, seat_diameter_mm: float) -> float:
    """Stretch of the inside diameter over its seat: (seat - d1) / d1. The seat is the groove's floor or the shaft.

    Source: definition, Parker Hannifin, How to design an O-ring gland: stretch.

    >>> stretch_fraction(5.484, 5.528)
    0.0080
    """
    return (seat_diameter_mm - inside_diameter_mm) / inside_diameter_mm


def thinning_fraction(stretch: float) -> float:
    """How much thinner the section of a stretched ring is, as a share of the section.

    With X the stretch in percent, the thinning in percent is
    -0.005 + 1.19 X - 0.19 X^2 - 0.001 X^3 + 0.008 X^4 for X up to 3, and 0.56 + 0.59 X - 0.0046 X^2 from there to 25.
    Nothing for a ring that is not stretched. The handbook's two pieces do not meet: at X = 3 it drops from 2.476 to
    2.289. Valid to a stretch of 0.25; the caller refuses more.

    Source: O-Ring Handbook ORD 5700, PDF p. 54, as quoted in public rocket-vehicle code.

    >>> thinning_fraction(0.02)
    0.01735
    """
    x = 100.0 * stretch
    if x <= 0.0:
        return 0.0
    if stretch <= _STEP_OF_THINNING:
        return max(0.0, -0.005 + 1.19 * x - 0.19 * x**2 - 0.001 * x**3 + 0.008 * x**4) / 100.0
    return _thinning_above_step_fraction(stretch)


def _thinning_above_step_fraction(stretch: float) -> float:
    x = 100.0 * stretch
    return (0.56 + 0.59 * x - 0.0046 * x**2) / 100.0


def thinning_range(least_stretch: float, most_stretch: float) -> tuple[float, float]:
    """Least and most thinning within a range of stretches, as shares of the section.

    The handbook's formula drops at a stretch of 3 %, so that neither end of the range need be the largest or smallest.
    Valid to a stretch of 0.25; beyond it, its value at 0.25 is taken.

    Source: as :func:`thinning_fraction`.

    >>> thinning_range(0.02, 0.04)
    (0.01735, 0.02846)
    """
    low, high = min(least_stretch, LARGEST_STRETCH), min(most_stretch, LARGEST_STRETCH)
    ends = [thinning_fraction(low), thinning_fraction(high)]
    if low <= _STEP_OF_THINNING < high:
        ends += [thinning_fraction(_STEP_OF_THINNING), _thinning_above_step_fraction(_STEP_OF_THINNING)]
    return min(ends), max(ends)


def linear_change_fraction(volume_change: float) -> float:
    """Linear change of a ring that swells the same in all directions: (1 + dV)^(1/3) - 1. Above -1.

    Source: geometry of isotropic swelling.

    >>> linear_change_fraction(0.10)
    0.032280
    """
    return cbrt(1.0 + volume_change) - 1.0


def volume_change_fraction(linear_change: float) -> float:
    """Volume change of a ring that swells the same in all directions: (1 + dL)^3 - 1. Above -1.

    Source: geometry of isotropic swelling.

    >>> volume_change_fraction(0.02)
    0.061208
    """
    return (1.0 + linear_change) ** 3 - 1.0


def weighed_volume_change(
    air_mass_before_g: float, water_mass_before_g: float, air_mass_after_g: float, water_mass_after_g: float
) -> float:
    """Volume change from weighing in air and hanging in water: (m3 - m4) / (m1 - m2) - 1.

    Valid where every reading in water is smaller than its reading in air.

    Source: Archimedes; the form of ASTM D471 and ISO 1817, whose clauses were not opened.

    >>> weighed_volume_change(2.5, 0.5, 2.693, 0.493)
    0.1000
    """
    return (air_mass_after_g - water_mass_after_g) / (air_mass_before_g - water_mass_before_g) - 1.0


def weighed_volume_change_uncertainty(displaced_g: float, volume_change: float, reading_uncertainty_g: float) -> float:
    """Standard uncertainty (k = 1) of :func:`weighed_volume_change`: sqrt(2) u / m sqrt(1 + (1 + dV)^2).

    ``displaced_g`` is the ring's loss of weight in water when new, in g.

    Source: propagation of four readings of equal uncertainty, JCGM 100:2008, 5.1.2.

    >>> weighed_volume_change_uncertainty(0.0612, 0.10, 0.001)
    0.034
    """
    return sqrt(2.0) * reading_uncertainty_g / displaced_g * sqrt(1.0 + (1.0 + volume_change) ** 2)


def mass_volume_change(
    mass_before_g: float, mass_after_g: float, rubber_density_g_cm3: float, oil_density_g_cm3: float
) -> float:
    """Volume change from mass alone: dm / m x rubber density / oil density. Valid only if nothing leaves the rubber.

    Source: mass balance; the mass change is that of ASTM D471 (Intertek, Weight gain or loss).

    >>> mass_volume_change(2.5, 2.693, 1.25, 0.965)
    0.1000
    """
    return (mass_after_g - mass_before_g) / mass_before_g * rubber_density_g_cm3 / oil_density_g_cm3


def compression_set_fraction(section_mm: float, measured_section_mm: float, groove_depth_mm: float) -> float:
    """Set of a ring held at constant deflection: (t0 - ti) / (t0 - tn), the groove's depth as the spacer.

    Valid where the groove is shallower than the section.

    Source: ASTM D395 method B, read in UL Prospector, Compression set.

    >>> compression_set_fraction(1.780, 1.690, 1.335)
    0.2022
    """
    return (section_mm - measured_section_mm) / (section_mm - groove_depth_mm)


def heat_growth_fraction(linear_expansion_per_k: float, warming_k: float) -> float:
    """Growth of a ring's volume by heat: (1 + a dT)^3 - 1.

    Source: definition of linear expansion; coefficients in the table of thermal expansion.

    >>> heat_growth_fraction(112e-6, 40.0)
    0.0135
    """
    return volume_change_fraction(linear_expansion_per_k * warming_k)


def section_tolerance_mm(section_mm: float) -> float | None:
    """Tolerance of a section, plus or minus, in mm; None above 8.4 mm, where the table ends.

    Source: ISO 3601-1 class B, as quoted by R.T. Dygert International.

    >>> section_tolerance_mm(1.78)
    0.08
    """
    return next((tolerance for upto, tolerance in _SECTION_STEPS_MM if section_mm <= upto), None)


def inside_diameter_tolerance_mm(inside_diameter_mm: float) -> float:
    """Tolerance of an inside diameter, plus or minus, in mm: 0.009 d1^0.95 + 0.11. Checked from 5 to 640 mm.

    Source: ISO 3601-1 class B, annex A.4, as quoted by R.T. Dygert International; the quotation prints the exponent
    0.93, its own table needs 0.95.

    >>> inside_diameter_tolerance_mm(10.0)
    0.1902
    """
    return 0.009 * pow(inside_diameter_mm, 0.95) + 0.11
