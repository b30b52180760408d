"""The oil that feels the same on a hotter or colder day: ``same-feel``."""

from __future__ import annotations

from collections.abc import Iterable
from math import log
from typing import Any, Final

from bevelbook import Calculator, Judgement, Source, Worked, about_inputs, choice, hookimpl, listing, quantity, record
from bevelbook.physics.viscosity import (
    LABEL_TOLERANCE_SHARE,
    LABELS,
    LAW_RANGE,
    TEMPERATURE_COEFFICIENT_K,
    VISCOSITY_LAW,
    VISCOSITY_TABLE,
    cst_in_words,
    law_cautions,
    viscosity_at_cst,
    viscosity_ratio,
)

SAME_RISE: Final = Source(
    "proposal", "From air temperatures only, the diff is assumed to warm up by the same amount then and now"
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
        "cSt", "The nearest of the oils at hand, including the one in use", exact=True
    )
    at_hand: tuple[LabelFound, ...] = listing(LabelFound, "The oils at hand, nearest first")


def feel(given: FeelGiven) -> FeelFound:
    """The oil with the same viscosity now as the first one had then: nu = nu25 exp[B (1/T_then - 1/T_now)]."""
    with about_inputs(temperature_c="temperature_then_c", other_c="temperature_now_c"):
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
    summary = f"{needed} feels at {given.temperature_now_c:g} °C as {before} did"
    off = given.viscosity_cst / found.viscosity_needed_cst - 1.0
    kept = f"{cst_in_words(given.viscosity_cst)} cSt, {_off_in_words(off)}"
    if found.nearest_viscosity_cst == given.viscosity_cst:
        advice = f"leave it: nothing at hand is closer than {kept}"
    elif found.nearest_viscosity_cst is not None:
        miss = found.nearest_viscosity_cst / found.viscosity_needed_cst - 1.0
        advice = (
            f"take the {cst_in_words(found.nearest_viscosity_cst)}, {_off_in_words(miss)}; what is in now is {kept}"
        )
    elif abs(off) <= LABEL_TOLERANCE_SHARE:
        advice = f"leave it: what is in now is {kept}, and labels are not more exact than that"
    else:
        advice = f"what is in now is {kept}"
    findings = []
    if given.basis == "air":
        findings.append(
            "from air temperatures only: same rise assumed, the diff warms up by as much now as it did then; "
            "measure the diff after a run to be sure"
        )
    cautions = dict.fromkeys(
        (
            *law_cautions(given.viscosity_cst, given.temperature_then_c),
            *law_cautions(found.viscosity_needed_cst, given.temperature_now_c),
        )
    )
    return Judgement("caution" if cautions else "ok", (advice, summary, *cautions), tuple(findings))


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
    cautions=("hot-parts", "oil-on-floor", "oil-in-eye"),
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
    return (SAME_FEEL,)
