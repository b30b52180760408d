"""The oil that feels the same on a hotter or colder day: ``same-feel``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import log
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    ForForecast,
    Judgement,
    Named,
    OneOf,
    Sentence,
    Source,
    Worked,
    about_inputs,
    choice,
    counted,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
    text,
)
from bevelbook.formulas.oil_blend import BlendFound, blend_between, recipe_in_words
from bevelbook.formulas.oil_off import (
    is_near,
    is_worth_a_rebuild,
    nearest_cst,
    off_share,
    points_nearer,
    too_in_words,
)
from bevelbook.formulas.percent import percent
from bevelbook.formulas.thick_oils import SHEAR_RATES, THICK_OILS, THINNING, thick_oil_cautions
from bevelbook.physics.viscosity import (
    LABEL_TOLERANCE_SHARE,
    LABELS,
    LAW_RANGE,
    TEMPERATURE_COEFFICIENT_K,
    VISCOSITY_CURVES,
    VISCOSITY_LAW,
    VISCOSITY_TABLE,
    cst_in_words,
    law_cautions,
    viscosity_at_cst,
    viscosity_ratio,
)

SAME_RISE: Final = Source(
    "proposal",
    "From air or track temperatures only, the diff is assumed to warm up by the same amount then and now; another oil "
    "is worth a rebuild where it is over 10 points nearer, as labels are not more exact; a blend is offered where the "
    "nearest oil at hand is over 10 % off",
)


BASES: Final = ("diff", "air", "track")


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
    temperature_then_c: float | None = quantity(
        "°C", "Temperature when it felt right", default=None, above=-273.15, plausible=(-20, 120)
    )
    temperature_now_c: float | None = quantity(
        "°C", "Temperature now", default=None, above=-273.15, plausible=(-20, 120)
    )
    hotter_by_c: float | None = quantity(
        "Δ°C",
        "How much hotter it is now than when it felt right, in place of the temperature now; below 0 if colder",
        default=None,
        minimum=-100,
        maximum=100,
        plausible=(-40, 40),
        heading="degrees hotter",
    )
    air_now_c: float | None = quantity(
        "°C",
        "Air now or to come, in place of the temperature of the diff",
        default=None,
        minimum=-60,
        maximum=70,
        plausible=(-30, 50),
        same_as="forecast.air_temp_c",
    )
    track_now_c: float | None = quantity(
        "°C",
        "Track now or to come",
        default=None,
        minimum=-60,
        maximum=100,
        plausible=(-20, 65),
        same_as="forecast.track_temp_c",
    )
    diff_now_c: float | None = quantity(
        "°C",
        "Temperature of the diff to expect, from your own measured days",
        default=None,
        above=-273.15,
        plausible=(-20, 120),
        same_as="expected.forecast_c",
        heading="diff to expect now",
    )
    basis: str | None = choice(
        BASES, "What both temperatures are of; the diff if not given, where that is known", default=None
    )
    diff_then_c: float | None = quantity(
        "°C",
        "Temperature of the diff in that run",
        default=None,
        above=-273.15,
        plausible=(-20, 120),
        same_as="run_diffs.diff_temp_c",
        heading="diff then",
    )
    air_then_c: float | None = quantity(
        "°C",
        "Air in that run",
        default=None,
        above=-273.15,
        plausible=(-30, 50),
        same_as="runs.air_temp_c",
        heading="air then",
    )
    track_then_c: float | None = quantity(
        "°C",
        "Track in that run",
        default=None,
        above=-273.15,
        plausible=(-20, 65),
        same_as="runs.track_temp_c",
        heading="track then",
    )
    diff_expected_then_c: float | None = quantity(
        "°C",
        "Temperature of the diff to expect in that run, where it was not measured",
        default=None,
        above=-273.15,
        plausible=(-20, 120),
        same_as="expected.last_run_c",
        heading="diff to expect then",
    )
    run_then: str | None = text("The run in which it felt right", default=None, same_as="runs.label")
    labels: tuple[Label, ...] = listing(Label, "Oils at hand", default=(), singular="label", same_as="listings.at_hand")


@record
class LabelFound:
    viscosity_cst: float = quantity("cSt", "Oil at hand")
    difference_percent: float = quantity("%", "How much thicker (or thinner, negative) than needed")


@record
class FeelFound:
    viscosity_needed_cst: float = quantity("cSt", "Viscosity at 25 °C that feels the same now", figures=4)
    nearest_viscosity_cst: float | None = quantity(
        "cSt", "The nearest of the oils at hand, including the one in use", exact=True
    )
    blend_thinner_cst: float | None = quantity(
        "cSt",
        "The thinner of two oils at hand that make the one needed, where none is near",
        default=None,
        exact=True,
        heading="blend of",
    )
    blend_thinner_g: float | None = quantity(
        "g",
        "How much of it goes into the usual amount of a blend",
        default=None,
        exact=True,
        digits=1,
        heading="mass of that",
    )
    blend_thicker_cst: float | None = quantity("cSt", "The thicker one", default=None, exact=True, heading="with")
    blend_thicker_g: float | None = quantity(
        "g", "How much of it goes in", default=None, exact=True, digits=1, heading="mass of this"
    )
    at_hand: tuple[LabelFound, ...] = listing(LabelFound, "The oils at hand that are near, nearest first")


class At(NamedTuple):
    """A temperature in °C, what it is of, the input that gave it, and whether it is expected, not measured."""

    temperature_c: float
    basis: str
    field: str
    is_expected: bool = False


class Pair(NamedTuple):
    """The temperatures that are compared: when the oil felt right, and now."""

    then: At
    now: At


def temperatures(given: FeelGiven) -> Pair:
    """What is compared: what was given, else the diff then and now, measured or expected, else air with air or track
    with track. Raises InputError if that is not known.
    """
    if given.hotter_by_c is not None:
        if given.temperature_now_c is not None:
            raise refuse(
                given,
                "hotter_by_c",
                "a temperature now and how much hotter it is at once",
                remedy="Leave one of the two out.",
                code="too_many_inputs",
            )
        then = temperature_then(given, may_be_expected=True)
        return Pair(then, At(then.temperature_c + given.hotter_by_c, then.basis, "hotter_by_c", then.is_expected))
    if given.temperature_now_c is not None:
        then = temperature_then(given)
        return Pair(then, At(given.temperature_now_c, then.basis, "temperature_now_c"))
    for basis in (given.basis,) if given.basis else BASES:
        now = (
            At(value, basis, f"{basis}_now_c", basis == BASES[0]) if (value := _now(given, basis)) is not None else None
        )
        then_c = _then_of(given, basis)
        if now is not None and then_c is not None:
            return Pair(then_c, now)
    raise refuse(
        given,
        "temperature_now_c",
        f"no temperature of the {given.basis or 'diff, the air or the track'} is known both for now and for then",
        remedy=Sentence(
            "Give ",
            Named("temperature_now_c"),
            ", ",
            Named("hotter_by_c", "12"),
            ", or ",
            Named("air_now_c"),
            " and ",
            Named("track_now_c"),
            " with ",
            Named("temperature_then_c"),
            ".",
        ),
        code="missing_input",
    )


def _now(given: FeelGiven, basis: str) -> float | None:
    return {"diff": given.diff_now_c, "air": given.air_now_c, "track": given.track_now_c}[basis]


def _then_of(given: FeelGiven, basis: str) -> At | None:
    """The temperature then of the diff, the air or the track; of the diff also what was expected, or just given."""
    if given.temperature_then_c is not None:
        return At(given.temperature_then_c, basis, "temperature_then_c") if basis == (given.basis or BASES[0]) else None
    value = getattr(given, f"{basis}_then_c")
    if value is not None:
        return At(value, basis, f"{basis}_then_c")
    if basis == BASES[0] and given.diff_expected_then_c is not None:
        return At(given.diff_expected_then_c, basis, "diff_expected_then_c", is_expected=True)
    return None


def temperature_then(given: FeelGiven, *, may_be_expected: bool = False) -> At:
    """The temperature that was given, else that of the run: of what ``basis`` says, else of the diff, air or track.

    An expected one counts only if it ``may_be_expected`` or the basis was said to be the diff: what a person reads off
    now may be the air.
    Raises InputError if none is known.
    """
    if given.temperature_then_c is not None:
        return At(given.temperature_then_c, given.basis or BASES[0], "temperature_then_c")
    for basis in (given.basis,) if given.basis else BASES:
        then = _then_of(given, basis)
        if then is not None and (given.basis is not None or may_be_expected or not then.is_expected):
            return then
    raise refuse(
        given,
        "temperature_then_c",
        f"the temperature of the {given.basis or BASES[0]} when it felt right is not known",
        remedy=Sentence("Give ", Named("temperature_then_c"), ", or another ", Named("basis"), "."),
        code="missing_input",
    )


def feel(given: FeelGiven) -> FeelFound:
    """The oil with the same viscosity now as the first one had then: nu = nu25 exp[B (1/T_then - 1/T_now)]."""
    then, now = temperatures(given)
    with about_inputs(temperature_c=then.field, other_c=now.field):
        needed = given.viscosity_cst * viscosity_ratio(then.temperature_c, now.temperature_c)
    at_hand = sorted(
        (one.viscosity_cst for one in given.labels if is_near(one.viscosity_cst, needed)),
        key=lambda viscosity_cst: abs(log(viscosity_cst / needed)),
    )
    nearest = None
    if at_hand:
        nearest = nearest_cst((given.viscosity_cst, at_hand[0]), needed)
    blended = _blend_at_hand(at_hand, needed, nearest)
    thinner, thicker = (None, None) if blended is None else blended.used
    return FeelFound(
        viscosity_needed_cst=needed,
        nearest_viscosity_cst=nearest,
        blend_thinner_cst=thinner.viscosity_cst if thinner else None,
        blend_thinner_g=thinner.mass_g if thinner else None,
        blend_thicker_cst=thicker.viscosity_cst if thicker else None,
        blend_thicker_g=thicker.mass_g if thicker else None,
        at_hand=tuple(
            LabelFound(viscosity_cst=one, difference_percent=100.0 * (one / needed - 1.0)) for one in at_hand
        ),
    )


def _blend_at_hand(at_hand: Sequence[float], needed_cst: float, nearest_cst: float | None) -> BlendFound | None:
    """The blend of two oils at hand that hits it; None where one oil is as near as labels are exact."""
    if nearest_cst is None or abs(nearest_cst / needed_cst - 1.0) <= LABEL_TOLERANCE_SHARE:
        return None
    return blend_between(at_hand, needed_cst)


def _degrees(temperature_c: float) -> str:
    """A temperature as a person says it, to a tenth.

    >>> _degrees(36.2222), _degrees(24.0)
    ('36.2', '24')
    """
    return f"{round(temperature_c, 1):g}"


def _in_run(given: FeelGiven, then: At) -> str:
    """The run that the temperature then is of; nothing where that was typed by itself."""
    return f" in run {given.run_then}" if given.run_then and then.field != "temperature_then_c" else ""


def _off_in_words(share: float) -> str:
    if abs(share) < 0.005:
        return "as thick as needed"
    return f"{100.0 * abs(share):.0f} % {'thicker' if share > 0 else 'thinner'} than needed"


def judge_feel(given: FeelGiven, found: FeelFound) -> Judgement:
    then, now = temperatures(given)
    needed = f"{cst_in_words(found.viscosity_needed_cst, 4)} cSt"
    before = f"{cst_in_words(given.viscosity_cst)} cSt at {_degrees(then.temperature_c)} °C"
    summary = (
        f"{needed} feels at {_degrees(now.temperature_c)} °C as {before} did{_in_run(given, then)}, both of the "
        f"{then.basis}"
    )
    cautions = dict.fromkeys(
        (
            *law_cautions(given.viscosity_cst, then.temperature_c),
            *law_cautions(found.viscosity_needed_cst, now.temperature_c),
            *thick_oil_cautions(given.viscosity_cst, found.nearest_viscosity_cst or found.viscosity_needed_cst),
        )
    )
    return Judgement(
        "caution" if cautions else "ok",
        (_advice(given, found), summary, *cautions, *_worth(given, found)),
        tuple(_feel_findings(given, then, now)),
    )


def _advice(given: FeelGiven, found: FeelFound) -> str:
    """What to do, with the gain beside the work: take another oil, or leave what is in; and the blend that hits it."""
    blended = _blend_at_hand(
        [one.viscosity_cst for one in found.at_hand], found.viscosity_needed_cst, found.nearest_viscosity_cst
    )
    hits = "" if blended is None else f"; {recipe_in_words(blended)}, hits it"
    return f"{_oil_to_take(given, found)}{hits}"


def _worth(given: FeelGiven, found: FeelFound) -> Iterator[str]:
    """From what gain another oil is worth the work, where one is a little nearer."""
    if found.nearest_viscosity_cst not in (None, given.viscosity_cst):
        yield f"another oil is worth a rebuild from {percent(LABEL_TOLERANCE_SHARE)} nearer (our own figure)"


def _oil_to_take(given: FeelGiven, found: FeelFound) -> str:
    off = off_share(given.viscosity_cst, found.viscosity_needed_cst)
    kept = f"{cst_in_words(given.viscosity_cst)} cSt, {_off_in_words(off)}"
    if found.nearest_viscosity_cst == given.viscosity_cst:
        return f"leave it: nothing at hand is closer than {kept}"
    if found.nearest_viscosity_cst is not None:
        oils = (found.nearest_viscosity_cst, given.viscosity_cst, found.viscosity_needed_cst)
        miss = off_share(found.nearest_viscosity_cst, found.viscosity_needed_cst)
        taken = f"the {cst_in_words(found.nearest_viscosity_cst)}, {_off_in_words(miss)}"
        if not is_worth_a_rebuild(*oils):
            return (
                f"leave it: {cst_in_words(found.nearest_viscosity_cst)} is {too_in_words(miss)}, the "
                f"{cst_in_words(given.viscosity_cst)} that is in {too_in_words(off)}: hardly worth a rebuild"
            )
        better = counted(points_nearer(*oils), "point")
        return f"take {taken}; what is in now is {kept}: {better} better for a rebuild"
    if abs(off) <= LABEL_TOLERANCE_SHARE:
        return f"leave it: what is in now is {kept}, and labels are not more exact than that"
    return f"what is in now is {kept}"


def _feel_findings(given: FeelGiven, then: At, now: At) -> Iterator[str]:
    typed_now = given.temperature_now_c if given.hotter_by_c is None else given.hotter_by_c
    if typed_now is not None:
        read = ((basis, _now(given, basis)) for basis in BASES)
        aside = [f"{value:g} °C of the {basis}" for basis, value in read if value is not None]
        if aside:
            yield (
                f"{' and '.join(aside)} {'do' if len(aside) > 1 else 'does'} not count: {typed_now:g} °C "
                f"was given as {'the temperature now' if given.hotter_by_c is None else 'how much hotter it is'}"
            )
    expected = [words for at, words in ((then, "then"), (now, "now")) if at.is_expected]
    if expected:
        yield (
            f"the diff's temperature {' and '.join(expected)} is expected, not measured: each °C "
            "that it is off is about 2 % of viscosity"
        )
    if given.hotter_by_c is not None:
        yield (
            f"{round(given.hotter_by_c, 1):+g} °C was added to the {then.basis} temperature then: same rise assumed, "
            "the diff changes by as much as the air and the track"
        )
    elif then.basis != BASES[0]:
        yield (
            f"from {then.basis} temperatures only: same rise assumed, the diff warms up by as much now as it did then; "
            "measure the diff after a run to be sure"
        )
    if given.basis is not None or given.temperature_then_c is not None or given.temperature_now_c is None:
        return
    known = {basis: getattr(given, f"{basis}_then_c") for basis in BASES if basis != then.basis}
    others = [f"{value:g} °C of the {basis}" for basis, value in known.items() if value is not None]
    if others:
        yield (
            f"{given.temperature_now_c:g} °C was taken as of the {then.basis}; if it is of something else choose the "
            f"basis, since {' and '.join(others)} {'are' if len(others) > 1 else 'is'} known as well"
        )


def feel_working(given: FeelGiven, found: FeelFound) -> tuple[str, ...]:
    then_c, now_c = (at.temperature_c for at in temperatures(given))
    then, now = then_c + 273.15, now_c + 273.15
    return (
        f"ν needed = {given.viscosity_cst:g} cSt × exp[{TEMPERATURE_COEFFICIENT_K:g} × (1/{then:g} − 1/{now:g})] "
        f"= {found.viscosity_needed_cst:.1f} cSt at 25 °C",
        f"check: {viscosity_at_cst(given.viscosity_cst, then_c):.1f} cSt then, "
        f"{viscosity_at_cst(found.viscosity_needed_cst, now_c):.1f} cSt now",
        "nearest = the smallest |ln(ν / ν needed)|",
    )


SAME_FEEL: Final = Calculator(
    name="same-feel",
    title="Oil for another temperature",
    question="Which oil feels the same on a hotter or colder day?",
    purpose="the oil that has the old viscosity at a new temperature",
    version=4,
    given=FeelGiven,
    found=FeelFound,
    compute=feel,
    judge=judge_feel,
    working=feel_working,
    answer="viscosity_needed_cst",
    one_of=(
        OneOf((("temperature_now_c",), ("hotter_by_c",), ("diff_now_c",), ("air_now_c",), ("track_now_c",))),
        OneOf(
            (
                ("temperature_then_c",),
                ("diff_then_c",),
                ("air_then_c",),
                ("track_then_c",),
                ("diff_expected_then_c",),
            )
        ),
    ),
    read_now=("hotter_by_c", "temperature_now_c"),
    for_forecast=ForForecast(track_temp_c="track_now_c", air_temp_c="air_now_c", hotter_by_c="hotter_by_c"),
    valid=(
        *LAW_RANGE,
        THICK_OILS,
        "Both temperatures have to be of the same thing: the diff after a run (better), the air, or the track.",
        "For air and track to come it takes the diff's temperature that your own measured days let expect, else air "
        "with air, or track with track.",
        "Oils at hand that are over 3 times too thick or too thin are left out (our own figure).",
        "The oil in use is one of those at hand: leaving it costs no rebuild.",
        "Where the nearest oil is over 10 % off, the blend of the two at hand around it is offered, for 20 g.",
    ),
    sources=(VISCOSITY_LAW, VISCOSITY_TABLE, VISCOSITY_CURVES, THINNING, SHEAR_RATES, SAME_RISE, LABELS),
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
        Worked(
            {
                "viscosity_cst": "7000",
                "temperature_then_c": "24",
                "hotter_by_c": "12",
                "labels": ["7000", "10000"],
            },
            {"viscosity_needed_cst": 8806.03, "blend_thinner_g": 7.13, "blend_thicker_g": 12.87},
            0.05,
            Source(
                "computed",
                "hand calculation: 7000 × exp(1757.1 × (1/297.15 - 1/309.15)); ln(ν/7000) / ln(10/7) of 20 g",
            ),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (SAME_FEEL,)
