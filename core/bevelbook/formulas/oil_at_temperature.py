"""How thick an oil is at a temperature."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import quantity, record
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.thick_oils import thick_oil_cautions
from bevelbook.physics.density import REFERENCE_C
from bevelbook.physics.viscosity import (
    TEMPERATURE_COEFFICIENT_K,
    coefficient_from_two_k,
    coefficient_from_vtc_k,
    cst_in_words,
    law_accuracy,
    law_cautions,
    viscosity_ratio,
)
from bevelbook.plugin.calculator import Formula, about_inputs, refuse
from bevelbook.plugin.returned_values import Judgement

USUAL_COEFFICIENTS_K: Final = (1_200.0, 2_200.0)
"""B outside these is asked about (our own figure); a data sheet's VTCs of 0.55 to 0.61 are 1,512 to 1,783 K
(Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results, 2014, p. 2)."""

LARGEST_COEFFICIENT_K: Final = 20_000.0
"""A larger B is refused (our own figure): over ten times that of silicone oils."""


@record
class ViscosityGiven:
    viscosity_cst: float = quantity(
        "cSt", "Viscosity at 25 °C", above=0, plausible=(50, 2_000_000), same_as="builds.viscosity_cst"
    )
    temperature_c: float = quantity(
        "°C", "Temperature of the oil", above=-273.15, plausible=(-20, 120), same_as="run_diffs.diff_temp_c"
    )
    temperature_coefficient_k: float = quantity(
        "K", "How strongly heat thins the oil (B of the law)", default=TEMPERATURE_COEFFICIENT_K, above=0
    )
    viscosity_temperature_coefficient: float | None = quantity(
        "1",
        "The VTC of the oil's data sheet, 1 - viscosity at 98.9 °C / at 37.8 °C, in place of B",
        default=None,
        above=0,
        below=1,
    )
    other_viscosity_cst: float | None = quantity(
        "cSt",
        "A second viscosity of the same oil, measured at another temperature, in place of B",
        default=None,
        above=0,
    )
    other_temperature_c: float | None = quantity(
        "°C", "The temperature of that second viscosity", default=None, above=-273.15
    )


@record
class ViscosityFound:
    viscosity_at_temperature_cst: float = quantity("cSt", "Viscosity at that temperature", figures=3)
    ratio_to_25: float = quantity("1", "Against the viscosity at 25 °C")


def coefficient_k(given: ViscosityGiven) -> float:
    """The coefficient B from the inputs: from a VTC, from a second viscosity, or as given.

    Raises InputError for more than one way, for half of one, and for a B that no oil has.
    """
    found = _coefficient_k(given)
    if found > LARGEST_COEFFICIENT_K:
        raise refuse(
            given,
            "viscosity_temperature_coefficient"
            if given.viscosity_temperature_coefficient is not None
            else "other_viscosity_cst"
            if given.other_viscosity_cst is not None
            else "temperature_coefficient_k",
            f"no oil thins that strongly: a coefficient of {found:,.0f} K, that of silicone oils is near "
            f"{TEMPERATURE_COEFFICIENT_K:,.0f} K",
            remedy="Check the number, and at which temperature it was measured.",
        )
    return found


def _coefficient_k(given: ViscosityGiven) -> float:
    pair = (given.other_viscosity_cst, given.other_temperature_c)
    ways = [
        given.temperature_coefficient_k != TEMPERATURE_COEFFICIENT_K,
        given.viscosity_temperature_coefficient is not None,
        pair != (None, None),
    ]
    if sum(ways) > 1:
        raise refuse(
            given,
            "temperature_coefficient_k",
            "more than one way to say how heat thins the oil",
            remedy=Sentence(
                "Give one of ",
                Named("temperature_coefficient_k"),
                ", ",
                Named("viscosity_temperature_coefficient"),
                ", ",
                Named("other_viscosity_cst"),
                ".",
            ),
            code="too_many_inputs",
        )
    if given.viscosity_temperature_coefficient is not None:
        return coefficient_from_vtc_k(given.viscosity_temperature_coefficient)
    if given.other_viscosity_cst is not None and given.other_temperature_c is not None:
        first, second = given.viscosity_cst, given.other_viscosity_cst
        with about_inputs(second_c="other_temperature_c"):
            found = coefficient_from_two_k(first, REFERENCE_C, second, given.other_temperature_c)
        if found <= 0.0:
            raise refuse(
                given,
                "other_viscosity_cst",
                "oil gets thinner as it warms up, these two viscosities say the opposite",
                remedy=Sentence(
                    "Give ",
                    Named("viscosity_cst"),
                    " at 25 °C, and ",
                    Named("other_viscosity_cst"),
                    " with the temperature at which it was measured.",
                ),
            )
        return found
    if pair != (None, None):
        raise refuse(
            given,
            "other_viscosity_cst" if pair[0] is None else "other_temperature_c",
            "a second viscosity needs its temperature",
            remedy=Sentence("Give ", Named("other_viscosity_cst"), " and ", Named("other_temperature_c"), " together."),
            code="missing_input",
        )
    return given.temperature_coefficient_k


def warm(given: ViscosityGiven) -> ViscosityFound:
    """Viscosity at a temperature: nu(t) = nu25 exp[B (1/T - 1/298.15)], T in kelvin."""
    ratio = viscosity_ratio(given.temperature_c, coefficient_k=coefficient_k(given))
    return ViscosityFound(viscosity_at_temperature_cst=given.viscosity_cst * ratio, ratio_to_25=ratio)


def judge_warm(given: ViscosityGiven, found: ViscosityFound) -> Judgement:
    change = found.ratio_to_25 - 1.0
    against = (
        "as at 25 °C"
        if abs(change) < 0.005
        else f"{100.0 * abs(change):.0f} % {'thicker' if change > 0 else 'thinner'} than at 25 °C"
    )
    said = (
        f"{cst_in_words(given.viscosity_cst)} cSt is {cst_in_words(found.viscosity_at_temperature_cst, 3)} cSt "
        f"at {given.temperature_c:g} °C, {against}"
    )
    b = coefficient_k(given)
    cautions = (
        *_far_coefficient(given, b),
        *law_cautions(given.viscosity_cst, given.temperature_c, b),
        *thick_oil_cautions(given.viscosity_cst),
    )
    return Judgement("caution" if cautions else "ok", (f"{said}{_how_good(given, b)}", *cautions))


def _how_good(given: ViscosityGiven, b: float) -> str:
    """How far to trust the figure, in brackets: the law's error where it is published, else that of the coefficient."""
    accuracy = law_accuracy(given.viscosity_cst, given.temperature_c, b)
    if accuracy is not None:
        return f" ({accuracy}, labels are less exact than that)"
    if b == TEMPERATURE_COEFFICIENT_K:
        return ""
    is_typed = given.viscosity_temperature_coefficient is None and given.other_viscosity_cst is None
    return f" (as good as your {'B' if is_typed else 'coefficient'})"


def _far_coefficient(given: ViscosityGiven, b: float) -> tuple[str, ...]:
    """That B is far from that of silicone oils; one under 1 is a VTC typed in its place."""
    low, high = USUAL_COEFFICIENTS_K
    if low <= b <= high:
        return ()
    usual = f"B of silicone oils is near {TEMPERATURE_COEFFICIENT_K:,.0f} K (VTCs of 0.55 to 0.61 are 1,512 to 1,783 K)"
    if b < 1.0:
        return (f"{usual}; {b:g} looks like a VTC: give it as the viscosity temperature coefficient",)
    typed = given.viscosity_temperature_coefficient is None and given.other_viscosity_cst is None
    which = f"{b:,.0f} K" if typed else f"the {b:,.0f} K that follows here"
    return (f"{usual}; {which} is far from that: check it",)


def warm_working(given: ViscosityGiven, found: ViscosityFound) -> tuple[str, ...]:
    b = coefficient_k(given)
    return (
        f"T = {given.temperature_c:g} °C + 273.15 = {given.temperature_c + 273.15:g} K, B = {b:.1f} K",
        f"ν = {given.viscosity_cst:g} cSt × exp[{b:.1f} × (1/{given.temperature_c + 273.15:g} − 1/298.15)] "
        f"= {given.viscosity_cst:g} cSt × {found.ratio_to_25:.4f} = {found.viscosity_at_temperature_cst:.1f} cSt",
    )


OIL_AT_TEMPERATURE: Final = Formula(
    title="Viscosity when warm",
    given=ViscosityGiven,
    found=ViscosityFound,
    compute=warm,
    judge=judge_warm,
    working=warm_working,
)
