"""The viscosity of a blend of oils, and how much of each makes the oil in between."""

from __future__ import annotations

from collections.abc import Iterable
from math import log
from typing import Final

from bevelbook.declare.fields import listing, quantity, record
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.thick_oils import THICK_FROM_CST, thick_oil_cautions
from bevelbook.physics.blending import (
    THINNEST_CST,
    cube_root_blend_cst,
    fraction_of_second,
    log_blend_cst,
    mass_fractions,
    refutas_blend_cst,
)
from bevelbook.physics.viscosity import cst_in_words
from bevelbook.plugin.calculator import Formula, about_inputs, refuse
from bevelbook.plugin.returned_values import Judgement

CAUTION_RATIO: Final = 4.0
STEPS_RATIO: Final = 10.0
USUAL_BLEND_G: Final = 20


@record
class OilPart:
    viscosity_cst: float = quantity(
        "cSt", "Viscosity at 25 °C of one oil", minimum=THINNEST_CST, plausible=(50, 2_000_000)
    )
    mass_g: float | None = quantity("g", "Its mass in the blend", default=None, above=0)


@record
class BlendGiven:
    parts: tuple[OilPart, ...] = listing(
        OilPart,
        "The oils of the blend, each with its mass unless a target is given",
        singular="part",
        same_as="listings.blend_parts",
    )
    target_viscosity_cst: float | None = quantity(
        "cSt", "Viscosity at 25 °C to make, in place of masses", default=None, above=0, plausible=(50, 2_000_000)
    )
    blend_mass_g: float = quantity("g", "How much to make, with a target", default=USUAL_BLEND_G, above=0)


@record
class PartFound:
    viscosity_cst: float = quantity("cSt", "Oil")
    mass_g: float = quantity("g", "Mass of it to weigh in")
    mass_fraction: float = quantity("1", "Share of the blend's mass")


@record
class BlendFound:
    viscosity_blend_cst: float = quantity("cSt", "Viscosity of the blend at 25 °C", figures=4)
    low_cst: float = quantity("cSt", "The same by the published rule that reads thinnest", figures=3)
    high_cst: float = quantity("cSt", "The same by the published rule that reads thickest", figures=3)
    used: tuple[PartFound, ...] = listing(PartFound, "The oils of the blend")


def weighed_parts(given: BlendGiven) -> list[tuple[float, float]]:
    """Viscosity and mass of each part of the blend: as weighed, or as the target asks."""
    if not given.parts:
        raise refuse(
            given,
            "parts",
            "a blend has at least one part",
            remedy=Sentence("Give ", Named("parts", "7000:4.2g"), "."),
            code="missing_input",
        )
    masses = [one.mass_g for one in given.parts]
    if given.target_viscosity_cst is not None:
        if any(mass is not None for mass in masses):
            raise refuse(
                given,
                "target_viscosity_cst",
                "masses and a target at once",
                remedy="Leave the masses out to have them computed, or the target to see what these masses make.",
                code="too_many_inputs",
            )
        return _for_target(given, given.target_viscosity_cst)
    parts = []
    for number, one in enumerate(given.parts, start=1):
        if one.mass_g is None or one.mass_g <= 0.0:
            raise refuse(
                given,
                "parts",
                f"part {number} ({cst_in_words(one.viscosity_cst)} cSt) has no positive mass",
                remedy=Sentence(
                    "Give ", Named("parts", "7000:4.2g"), ", or no masses and ", Named("target_viscosity_cst"), "."
                ),
                code="missing_input" if one.mass_g is None else "outside_valid_range",
            )
        parts.append((one.viscosity_cst, one.mass_g))
    return parts


def _for_target(given: BlendGiven, target_cst: float) -> list[tuple[float, float]]:
    oils = sorted({one.viscosity_cst for one in given.parts})
    if target_cst in oils:
        return [(target_cst, given.blend_mass_g)]
    thinner = [one for one in oils if one < target_cst]
    thicker = [one for one in oils if one > target_cst]
    if not thinner or not thicker:
        raise refuse(
            given,
            "target_viscosity_cst",
            f"{cst_in_words(target_cst)} cSt is {'thinner' if thicker else 'thicker'} than every oil given "
            f"({cst_in_words(oils[0])} to {cst_in_words(oils[-1])} cSt)",
            remedy=f"Give one more oil that is {'thinner' if thicker else 'thicker'}, or a target between them.",
        )
    low, high = thinner[-1], thicker[0]
    share = fraction_of_second(low, high, target_cst)
    return [(low, (1.0 - share) * given.blend_mass_g), (high, share * given.blend_mass_g)]


def blend(given: BlendGiven) -> BlendFound:
    """A blend by mass: ln nu = sum(w ln nu), its band from Refutas to cube root; two oils solved for a target."""
    parts = weighed_parts(given)
    viscosities = [viscosity_cst for viscosity_cst, _ in parts]
    shares = mass_fractions([mass_g for _, mass_g in parts])
    middle = log_blend_cst(viscosities, shares)
    with about_inputs(viscosity_cst="parts"):
        rules = (middle, refutas_blend_cst(viscosities, shares), cube_root_blend_cst(viscosities, shares))
    return BlendFound(
        viscosity_blend_cst=middle,
        low_cst=min(rules),
        high_cst=max(rules),
        used=tuple(
            PartFound(viscosity_cst=viscosity_cst, mass_g=mass_g, mass_fraction=share)
            for (viscosity_cst, mass_g), share in zip(parts, shares, strict=True)
        ),
    )


def blend_between(
    oils_cst: Iterable[float], target_cst: float, blend_mass_g: float = USUAL_BLEND_G
) -> BlendFound | None:
    """The blend of the two of these oils that are nearest around a target; None where none are.

    oils_cst      viscosities at 25 °C; one too thin for the rules is left out
    target_cst    viscosity to make, in cSt
    blend_mass_g  how much to make
    """
    parts = tuple(OilPart(viscosity_cst=one) for one in oils_cst if one >= THINNEST_CST)
    viscosities = [one.viscosity_cst for one in parts]
    if not parts or not min(viscosities) < target_cst < max(viscosities) or target_cst in viscosities:
        return None
    return blend(BlendGiven(parts=parts, target_viscosity_cst=target_cst, blend_mass_g=blend_mass_g))


def recipe_in_words(found: BlendFound) -> str:
    """The oils of a blend and what to weigh in of each, short.

    >>> recipe_in_words(blend(BlendGiven(parts=(OilPart(viscosity_cst=7000.0, mass_g=6.1),
    ...     OilPart(viscosity_cst=10000.0, mass_g=13.9)))))
    '7,000 + 10,000, 6.1 + 13.9 g'
    """
    oils = " + ".join(cst_in_words(one.viscosity_cst) for one in found.used)
    return f"{oils}, {' + '.join(f'{one.mass_g:.1f}' for one in found.used)} g"


def judge_blend(given: BlendGiven, found: BlendFound) -> Judgement:
    oils = [one.viscosity_cst for one in found.used]
    recipe = " and ".join(f"{one.mass_g:.2f} g of the {cst_in_words(one.viscosity_cst)}" for one in found.used)
    total = sum(one.mass_g for one in found.used)
    middle = cst_in_words(found.viscosity_blend_cst, 4)
    said = f"{recipe} {'make' if len(oils) > 1 else 'is'} {total:.2f} g of {middle} cSt"
    band = (
        f"published rules read it from {cst_in_words(found.low_cst, 3)} to {cst_in_words(found.high_cst, 3)} cSt; "
        f"labels alone are good to 5 to 10 % either way (from memory, unverified)"
    )
    findings = []
    left = sorted({one.viscosity_cst for one in given.parts} - set(oils))
    if left:
        findings.append(f"not needed: {', '.join(cst_in_words(one) for one in left)} cSt")
    cautions = (*_far_apart(oils), *_thick(oils, found.viscosity_blend_cst))
    return Judgement("caution" if cautions else "ok", (said, *cautions, band), tuple(findings))


def _far_apart(oils: list[float]) -> tuple[str, ...]:
    apart = max(oils) / min(oils)
    if apart > STEPS_RATIO:
        return (
            f"the thickest is {apart:.1f} times the thinnest, more than {STEPS_RATIO:g} (our own figure): "
            "measure the blend before you use it, or blend in steps through an oil in between",
        )
    if apart > CAUTION_RATIO:
        return (
            f"the thickest is {apart:.1f} times the thinnest, more than {CAUTION_RATIO:g} (our own figure): "
            "the blend may come out thicker than this",
        )
    return ()


def _thick(oils: list[float], blend_cst: float) -> tuple[str, ...]:
    """The caution on thinning of a thick blend, beside the thickest oil that it is made of."""
    return thick_oil_cautions(blend_cst, max(oils)) if blend_cst >= THICK_FROM_CST else ()


def blend_working(given: BlendGiven, found: BlendFound) -> tuple[str, ...]:
    terms = " + ".join(f"{one.mass_fraction:.4f} × ln {one.viscosity_cst:g}" for one in found.used)
    lines = [
        f"ln ν = Σ w ln ν = {terms} = {log(found.viscosity_blend_cst):.5f}, ν = {found.viscosity_blend_cst:.1f} cSt"
    ]
    if given.target_viscosity_cst is not None and len(found.used) == 2:
        thin, thick = (one.viscosity_cst for one in found.used)
        lines.insert(
            0,
            f"w of the {thick:g} = ln({thin:g}/{given.target_viscosity_cst:g}) / ln({thin:g}/{thick:g}) "
            f"= {found.used[1].mass_fraction:.4f}",
        )
    lines.append(f"band: Refutas and cube root of the same masses, {found.low_cst:.0f} to {found.high_cst:.0f} cSt")
    return tuple(lines)


OIL_BLEND: Final = Formula(
    title="Blend",
    given=BlendGiven,
    found=BlendFound,
    compute=blend,
    judge=judge_blend,
    working=blend_working,
)
