"""Whether two bottles hold the same oil, without knowing any cSt: ``fluid-ratio``."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, inf, log, sqrt
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    Named,
    Sentence,
    Source,
    Worked,
    choice,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
)
from bevelbook.physics.viscosity import TEMPERATURE_COEFFICIENT_K, VISCOSITY_LAW
from bevelbook.stats.line import t_value

HAND_S: Final = 0.2
UNCERTAINTIES: Final = Source("proposal", "If nothing else is known: 0.2 s for a time by hand, 0.5 K between the oils")


@record
class Timed:
    fluid: str = choice(("a", "b"), "Which of the two oils")
    time_s: float = quantity("s", "Time of the same test", above=0)


@record
class RatioGiven:
    times: tuple[Timed, ...] = listing(Timed, "Times of both oils in the same test", singular="time")
    temperature_c: float = quantity("°C", "Temperature of both oils", minimum=-50, maximum=150, plausible=(0, 60))
    time_uncertainty_s: float = quantity(
        "s", "Standard uncertainty of one time taken by hand", default=HAND_S, minimum=0
    )
    temperature_difference_k: float = quantity(
        "K", "Bound of the difference in temperature between the two", default=0.5, minimum=0
    )


@record
class RatioFound:
    ratio: float = quantity("1", "Viscosity of b over that of a")
    ratio_low: float = quantity("1", "Lowest ratio that fits the times (95 %)", exact=True)
    ratio_high: float = quantity("1", "Highest ratio that fits the times (95 %)", exact=True)
    thicker: str = choice(("a", "b", "cannot tell"), "The thicker one")


class MeanLogTime(NamedTuple):
    """One oil: the mean logarithm of its times, the variance of that mean, and its degrees of freedom."""

    mean: float
    variance: float
    freedom: float


def side(times_s: Sequence[float], time_uncertainty_s: float) -> MeanLogTime:
    """One oil's times; the larger of their scatter and the hand's uncertainty counts."""
    from statistics import fmean, stdev

    logs = [log(one) for one in times_s]
    hand = time_uncertainty_s / fmean(times_s)
    scatter = stdev(logs) if len(logs) > 1 else 0.0
    if scatter > hand:
        return MeanLogTime(fmean(logs), scatter**2 / len(logs), len(logs) - 1.0)
    return MeanLogTime(fmean(logs), hand**2 / len(logs), inf)


def compare(given: RatioGiven) -> RatioFound:
    """Ratio of two viscosities from equal tests: exp(mean ln t_b - mean ln t_a).

    Interval of 95 %: Welch on the logarithms, with the hand's and the temperature's uncertainty.
    """
    by_fluid = {name: [one.time_s for one in given.times if one.fluid == name] for name in ("a", "b")}
    for name, times in by_fluid.items():
        if not times:
            raise refuse(
                given,
                "times",
                f"no time of oil {name}",
                remedy=Sentence("Give ", Named("times", f"{name}:33.0"), "; three of each oil say more."),
                code="missing_input",
            )
    a, b = (side(times, given.time_uncertainty_s) for times in by_fluid.values())
    kelvin = given.temperature_c + 273.15
    warm = TEMPERATURE_COEFFICIENT_K / kelvin**2 * given.temperature_difference_k / sqrt(3.0)
    variance = a.variance + b.variance + warm**2
    scattered = a.variance**2 / a.freedom + b.variance**2 / b.freedom
    freedom = variance**2 / scattered if scattered > 0.0 else inf
    half = t_value(freedom) * sqrt(variance)
    middle = b.mean - a.mean
    low, high = exp(middle - half), exp(middle + half)
    return RatioFound(
        ratio=exp(middle),
        ratio_low=low,
        ratio_high=high,
        thicker="b" if low > 1.0 else "a" if high < 1.0 else "cannot tell",
    )


def judge_ratio(given: RatioGiven, found: RatioFound) -> Judgement:
    summary = f"b over a is {found.ratio:.3f}, between {found.ratio_low:.3f} and {found.ratio_high:.3f} (95 %)"
    counts = {name: sum(one.fluid == name for one in given.times) for name in ("a", "b")}
    findings = []
    if min(counts.values()) < 3:
        findings.append(f"{counts['a']} and {counts['b']} times: three of each say more")
    if found.thicker == "cannot tell":
        return Judgement(
            "unclear",
            (
                f"cannot tell: this test sees no difference under "
                f"{100.0 * (found.ratio_high / found.ratio - 1.0):.0f} %",
                summary,
            ),
            tuple(findings),
        )
    percent = 100.0 * (max(found.ratio, 1.0 / found.ratio) - 1.0)
    return Judgement(
        "ok",
        (f"{found.thicker} is thicker, by {percent:.0f} %", summary, "a ratio gives no cSt, and neither does a label"),
        tuple(findings),
    )


def ratio_working(given: RatioGiven, found: RatioFound) -> tuple[str, ...]:
    lines = []
    for name in ("a", "b"):
        times = [one.time_s for one in given.times if one.fluid == name]
        lines.append(
            f"{name}: {len(times)} times, mean {exp(side(times, given.time_uncertainty_s).mean):.2f} s, "
            f"u of the mean {100.0 * sqrt(side(times, given.time_uncertainty_s).variance):.2f} %"
        )
    lines.append(
        f"ratio = exp(mean ln t_b − mean ln t_a) = {found.ratio:.4f}; 95 % by Welch, "
        f"{given.temperature_difference_k:g} K between the two included"
    )
    return tuple(lines)


FLUID_RATIO: Final = Calculator(
    name="fluid-ratio",
    title="Which oil is thicker",
    question="Are these two bottles the same oil?",
    purpose="ratio of two oils' viscosities from the same test, without any cSt",
    version=1,
    given=RatioGiven,
    found=RatioFound,
    compute=compare,
    judge=judge_ratio,
    working=ratio_working,
    answer="ratio",
    valid=(
        "The same test with both oils, side by side at one temperature: the same ball in the same tube, or the same "
        "hole and mass of oil. The times have the ratio of the viscosities.",
        "No cSt comes out, and no label goes in. Densities of silicone oils from 100 cSt up differ by under 1.5 %; "
        "with a ball that is 0.2 % of the ratio.",
    ),
    sources=(
        Source(
            "paper",
            "Welch: The generalization of Student's problem when several different population variances are involved",
            "Biometrika 34",
            "1947",
            "p. 28-35: interval for the difference of two means",
            "from memory; t from scipy",
        ),
        VISCOSITY_LAW,
        UNCERTAINTIES,
    ),
    cautions=("oil-on-floor", "oil-in-eye", "oil-on-skin"),
    worked=(
        Worked(
            {"times": ["a:33.0", "a:33.2", "a:32.8", "b:37.4", "b:37.6", "b:37.3"], "temperature_c": "21"},
            {"ratio": 1.134, "thicker": "b"},
            0.001,
            Source("computed", "constructed: means 33.0 and 37.43 s, 37.43 / 33.0 = 1.134"),
            "ok",
        ),
        Worked(
            {"times": ["a:33.0", "b:33.2"], "temperature_c": "21"},
            {"ratio": 1.006, "thicker": "cannot tell"},
            0.001,
            Source("computed", "constructed: 33.2 / 33.0 = 1.006, less than two times taken by hand can show"),
            "unclear",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (FLUID_RATIO,)
