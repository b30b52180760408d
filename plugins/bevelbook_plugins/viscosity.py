"""What an oil is when warm or cold, and the oil that feels the same then: ``viscosity`` and ``same-feel``."""

from __future__ import annotations

from collections.abc import Iterable
from math import log
from typing import Any, Final

from bevelbook import Calculator, Judgement, Source, Worked, choice, hookimpl, listing, quantity, record, refuse
from bevelbook.physics.viscosity import (
    LABEL_TOLERANCE_SHARE,
    LABELS,
    LAW_ERROR_SHARE,
    TEMPERATURE_COEFFICIENT_K,
    VISCOSITY_LAW,
    VISCOSITY_TABLE,
    coefficient_from_two_k,
    coefficient_from_vtc_k,
    cst_in_words,
    law_doubts,
    viscosity_at_cst,
    viscosity_ratio,
)

SAME_RISE: Final = Source(
    "proposal", "From air temperatures only, the diff is taken to warm by the same amount then and now"
)
LAW_RANGE: Final = (
    f"Within {100.0 * LAW_ERROR_SHARE:.1f} % of the maker's table from -10 to 80 °C for 100 to 10,000 cSt; "
    "outside, the reasons say how far off it may be. No answer below -55 or above 250 °C.",
    "The viscosity is that of the oil in cSt at 25 °C. A number in wt on a bottle says no viscosity; it stays a label.",
)
OIL_CAUTIONS: Final = ("oil-on-floor", "oil-in-eye")


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
    viscosity_at_temperature_cst: float = quantity("cSt", "Viscosity at that temperature")
    ratio_to_25: float = quantity("1", "Against the viscosity at 25 °C")


def coefficient_k(given: ViscosityGiven) -> float:
    """The coefficient B that the inputs ask for: from a VTC, from a second viscosity, or as given."""
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
            remedy="Give one of --temperature-coefficient, --viscosity-temperature-coefficient, --other-viscosity.",
            code="too_many_inputs",
        )
    if given.viscosity_temperature_coefficient is not None:
        return coefficient_from_vtc_k(given.viscosity_temperature_coefficient)
    if given.other_viscosity_cst is not None and given.other_temperature_c is not None:
        found = coefficient_from_two_k(given.viscosity_cst, 25.0, given.other_viscosity_cst, given.other_temperature_c)
        if found <= 0.0:
            raise refuse(
                given,
                "other_viscosity_cst",
                "oil gets thinner when it warms, these two viscosities say the opposite",
                remedy="Give viscosity_cst at 25 °C, and the second one with the temperature it was measured at.",
            )
        return found
    if pair != (None, None):
        raise refuse(
            given,
            "other_viscosity_cst" if pair[0] is None else "other_temperature_c",
            "a second viscosity needs its temperature",
            remedy="Give --other-viscosity and --other-temperature together.",
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
        if abs(change) < 0.0005
        else f"{100.0 * abs(change):.0f} % {'thicker' if change > 0 else 'thinner'} than at 25 °C"
    )
    told = (
        f"{cst_in_words(given.viscosity_cst)} cSt is {cst_in_words(found.viscosity_at_temperature_cst, 3)} cSt "
        f"at {given.temperature_c:g} °C, {against}"
    )
    doubts = law_doubts(given.viscosity_cst, given.temperature_c, coefficient_k(given))
    if doubts:
        return Judgement("caution", (told, *doubts))
    return Judgement("ok", (f"{told} (± {100.0 * LAW_ERROR_SHARE:.1f} % by the law, labels are less exact than that)",))


def warm_working(given: ViscosityGiven, found: ViscosityFound) -> tuple[str, ...]:
    b = coefficient_k(given)
    return (
        f"T = {given.temperature_c:g} °C + 273.15 = {given.temperature_c + 273.15:g} K, B = {b:.1f} K",
        f"ν = {given.viscosity_cst:g} cSt × exp[{b:.1f} × (1/{given.temperature_c + 273.15:g} − 1/298.15)] "
        f"= {given.viscosity_cst:g} cSt × {found.ratio_to_25:.4f} = {found.viscosity_at_temperature_cst:.1f} cSt",
    )


VISCOSITY: Final = Calculator(
    name="viscosity",
    title="Viscosity when warm",
    question="How thick is this oil at the temperature of the diff?",
    purpose="viscosity of an oil at a temperature",
    version=1,
    given=ViscosityGiven,
    found=ViscosityFound,
    compute=warm,
    judge=judge_warm,
    working=warm_working,
    answer="viscosity_at_temperature_cst",
    valid=LAW_RANGE,
    sources=(VISCOSITY_LAW, VISCOSITY_TABLE, LABELS),
    cautions=("oil-hot", "hot-parts", *OIL_CAUTIONS),
    worked=(
        Worked(
            {"viscosity_cst": "1000", "temperature_c": "50 °C"},
            {"viscosity_at_temperature_cst": 633.0},
            16.0,
            VISCOSITY_TABLE,
            "ok",
        ),
        Worked(
            {"viscosity_cst": "10000", "temperature_c": "0"},
            {"viscosity_at_temperature_cst": 17500.0},
            438.0,
            VISCOSITY_TABLE,
            "ok",
        ),
        Worked(
            {"viscosity_cst": "7000", "temperature_c": "35"},
            {"viscosity_at_temperature_cst": 5780.0, "ratio_to_25": 0.826},
            5.0,
            Source("computed", "hand calculation: exp(1757.1 × (1/308.15 - 1/298.15)) = 0.8259"),
            "ok",
        ),
    ),
)


@record
class Label:
    viscosity_cst: float = quantity("cSt", "Viscosity at 25 °C of an oil at hand", above=0, plausible=(50, 2_000_000))


@record
class FeelGiven:
    viscosity_cst: float = quantity(
        "cSt",
        "Viscosity at 25 °C of the oil that felt right",
        above=0,
        plausible=(50, 2_000_000),
        same_as="builds.viscosity_cst",
    )
    temperature_then_c: float = quantity(
        "°C", "Temperature when it felt right", above=-273.15, plausible=(-20, 120), same_as="run_diffs.diff_temp_c"
    )
    temperature_now_c: float = quantity("°C", "Temperature now", above=-273.15, plausible=(-20, 120))
    basis: str = choice(("diff", "air"), "What both temperatures are of", default="diff")
    labels: tuple[Label, ...] = listing(Label, "Oils at hand", default=(), singular="label", same_as="listings.at_hand")


@record
class LabelFound:
    viscosity_cst: float = quantity("cSt", "Oil at hand")
    difference_percent: float = quantity("%", "How much thicker (or thinner, negative) than needed")


@record
class FeelFound:
    viscosity_needed_cst: float = quantity("cSt", "Viscosity at 25 °C that feels the same now")
    nearest_viscosity_cst: float | None = quantity(
        "cSt", "The nearest of the oils at hand, the one in use counted in", exact=True
    )
    at_hand: tuple[LabelFound, ...] = listing(LabelFound, "The oils at hand, nearest first")


def feel(given: FeelGiven) -> FeelFound:
    """The oil that has now the viscosity that the first one had then: nu = nu25 exp[B (1/T_then - 1/T_now)]."""
    needed = given.viscosity_cst * viscosity_ratio(given.temperature_then_c, given.temperature_now_c)
    at_hand = sorted(
        (one.viscosity_cst for one in given.labels), key=lambda viscosity_cst: abs(log(viscosity_cst / needed))
    )
    nearest = None
    if at_hand:
        nearest = min(given.viscosity_cst, at_hand[0], key=lambda viscosity_cst: abs(log(viscosity_cst / needed)))
    return FeelFound(
        viscosity_needed_cst=needed,
        nearest_viscosity_cst=nearest,
        at_hand=tuple(
            LabelFound(viscosity_cst=one, difference_percent=100.0 * (one / needed - 1.0)) for one in at_hand
        ),
    )


def _off_in_words(share: float) -> str:
    return f"{100.0 * abs(share):.0f} % {'thicker' if share > 0 else 'thinner'} than needed"


def judge_feel(given: FeelGiven, found: FeelFound) -> Judgement:
    needed = f"{cst_in_words(found.viscosity_needed_cst, 4)} cSt"
    before = f"{cst_in_words(given.viscosity_cst)} cSt at {given.temperature_then_c:g} °C"
    told = f"{needed} feels at {given.temperature_now_c:g} °C as {before} did"
    off = given.viscosity_cst / found.viscosity_needed_cst - 1.0
    kept = f"{cst_in_words(given.viscosity_cst)} cSt, {_off_in_words(off)}"
    if found.nearest_viscosity_cst == given.viscosity_cst:
        advice = f"leave it: nothing at hand is nearer than {kept}"
    elif found.nearest_viscosity_cst is not None:
        miss = found.nearest_viscosity_cst / found.viscosity_needed_cst - 1.0
        advice = (
            f"take the {cst_in_words(found.nearest_viscosity_cst)}, {_off_in_words(miss)}; what is in now is {kept}"
        )
    elif abs(off) <= LABEL_TOLERANCE_SHARE:
        advice = f"leave it: what is in now is {kept}, and labels are no more exact than that"
    else:
        advice = f"what is in now is {kept}"
    findings = []
    if given.basis == "air":
        findings.append(
            "from air temperatures only: same rise assumed, the diff warms by as much now as it did then; "
            "measure the diff after a run to be sure"
        )
    doubts = dict.fromkeys(
        (
            *law_doubts(given.viscosity_cst, given.temperature_then_c),
            *law_doubts(found.viscosity_needed_cst, given.temperature_now_c),
        )
    )
    return Judgement("caution" if doubts else "ok", (advice, told, *doubts), tuple(findings))


def feel_working(given: FeelGiven, found: FeelFound) -> tuple[str, ...]:
    then, now = given.temperature_then_c + 273.15, given.temperature_now_c + 273.15
    return (
        f"ν needed = {given.viscosity_cst:g} cSt × exp[{TEMPERATURE_COEFFICIENT_K:g} × (1/{then:g} − 1/{now:g})] "
        f"= {found.viscosity_needed_cst:.1f} cSt at 25 °C",
        f"check: {viscosity_at_cst(given.viscosity_cst, given.temperature_then_c):.1f} cSt then, "
        f"{viscosity_at_cst(found.viscosity_needed_cst, given.temperature_now_c):.1f} cSt now",
        "nearest = the smallest |ln(ν / ν needed)|",
    )


SAME_FEEL: Final = Calculator(
    name="same-feel",
    title="Oil for another temperature",
    question="Which oil feels the same on a hotter or colder day?",
    purpose="the oil that has the old viscosity at a new temperature",
    version=1,
    given=FeelGiven,
    found=FeelFound,
    compute=feel,
    judge=judge_feel,
    working=feel_working,
    answer="viscosity_needed_cst",
    valid=(
        *LAW_RANGE,
        "Both temperatures have to be of the same thing: the diff after a run (better), or the air.",
        "The oil in use is one of those at hand: leaving it costs no rebuild.",
    ),
    sources=(VISCOSITY_LAW, VISCOSITY_TABLE, SAME_RISE, LABELS),
    cautions=("hot-parts", *OIL_CAUTIONS),
    worked=(
        Worked(
            {
                "viscosity_cst": "7000",
                "temperature_then_c": "30",
                "temperature_now_c": "38",
                "labels": ["7000", "10000"],
            },
            {"viscosity_needed_cst": 8125.0, "nearest_viscosity_cst": 7000.0},
            0.5,
            Source("computed", "hand calculation: 7000 × exp(1757.1 × (1/303.15 - 1/311.15)) = 8125"),
            "ok",
        ),
        Worked(
            {
                "viscosity_cst": "7000",
                "temperature_then_c": "30",
                "temperature_now_c": "45",
                "labels": ["7000", "10000"],
            },
            {"viscosity_needed_cst": 9200.0, "nearest_viscosity_cst": 10000.0},
            1.0,
            Source("computed", "hand calculation: 7000 × exp(1757.1 × (1/303.15 - 1/318.15)) = 9200"),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (VISCOSITY, SAME_FEEL)
