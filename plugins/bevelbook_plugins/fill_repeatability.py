"""How evenly the team fills: an individuals chart of poured minus target (``fill-repeatability``)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import sqrt
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    Named,
    Sentence,
    Source,
    Worked,
    choice,
    counted,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
    text,
    whole,
)
from bevelbook.formulas.inputs import scale_step
from bevelbook.formulas.percent import percent
from bevelbook.physics.weighing import GUM, difference_uncertainty_g
from bevelbook.stats.line import t_value
from bevelbook.stats.odd_one_out import GRUBBS, odd_one_out
from bevelbook.stats.spread import mean, sample_variance

RANGE_TO_SIGMA: Final = 1.128
RANGE_LIMIT_FACTOR: Final = 3.267
FEW_FILLS: Final = 20
TOO_FEW_FILLS: Final = 5
FALSE_ALARMS: Final = (
    (5, 0.057),
    (7, 0.036),
    (10, 0.024),
    (15, 0.015),
    (20, 0.011),
    (30, 0.008),
    (50, 0.006),
)
INDIVIDUALS: Final = Source(
    "handbook",
    "e-Handbook of Statistical Methods",
    "NIST/SEMATECH",
    "2012",
    "6.3.2.2, individuals control charts; 6.3.2.1 for the limit of the range",
    "quoted in public test files: example and constants; year from memory",
)
CHART_ALARMS: Final = (
    (5, 0.024),
    (6, 0.020),
    (8, 0.024),
    (10, 0.028),
    (15, 0.038),
    (20, 0.049),
    (30, 0.075),
    (50, 0.123),
    (100, 0.234),
    (200, 0.412),
)
STEPS_ALLOWED: Final = 0.25
WHOLE_CHART: Final = Source(
    "computed",
    "how many charts of n good fills hold at least one alarm, limits and odd fill from the same fills: 100,000 "
    "simulations of normal fills for each n (numpy's default_rng started at 20260101 + n), 1.3 % at n = 5 (2.4 % in "
    "steps as coarse as the spread), 2.0 % at 6, 2.4 % at 8, 2.8 % at 10, 3.8 % at 15, 4.9 % at 20, 7.5 % at 30, "
    "12.3 % at 50, 23.4 % at 100, 41.2 % at 200; on a coarser scale no more than that",
)
COARSE: Final = Source(
    "proposal",
    "a fill is outside only where it passes a limit by more than a quarter of the scale's step, and odd only where it "
    "is two steps from any other: in whole steps good fills would raise two or three times as many alarms",
)
FEW: Final = Source(
    "computed",
    "how often the next good fill falls outside limits from n fills: 400,000 simulations of normal fills, 5.7 % at "
    "n = 5, 3.6 % at 7, 2.4 % at 10, 1.5 % at 15, 1.1 % at 20, 0.8 % at 30, 0.6 % at 50",
)
PROVISIONAL: Final = Source("proposal", "limits from under 20 fills are called provisional, under 5 fills say nothing")


@record
class Fill:
    difference_g: float = quantity("g", "Poured minus target, in the order filled", plausible=(-0.5, 0.5))
    person: str | None = text("Who filled it", default=None)


@record
class RepeatabilityGiven:
    fills: tuple[Fill, ...] = listing(
        Fill, "Fills in the order they were made", singular="fill", same_as="listings.fills"
    )
    scale_step_g: float = scale_step()


@record
class Charted:
    order: int = whole("Place in the order, from 1")
    difference_g: float = quantity("g", "Poured minus target")
    person: str | None = text("Who filled it", default=None)
    moving_range_g: float | None = quantity("g", "Away from the fill before", default=None)
    outside: str = choice(("yes", "no"), "Whether it passes a limit by more than a quarter of the scale's step")


@record
class RepeatabilityFound:
    centre_g: float = quantity("g", "Mean of poured minus target", exact=True)
    low_limit_g: float = quantity("g", "Lower limit: centre less three sigma", exact=True)
    high_limit_g: float = quantity("g", "Upper limit: centre and three sigma", exact=True)
    sigma_g: float = quantity("g", "Spread from fill to fill, at least what rounding alone makes", exact=True)
    range_limit_g: float = quantity("g", "Upper limit of the step from one fill to the next", exact=True)
    fills: int = whole("Fills that the limits rest on")
    outside: int = whole("Fills outside the limits")
    chart_alarm_fraction: float | None = quantity(
        "1", "Chance that a chart of so many good fills holds a false alarm", exact=True, digits=2
    )
    rows: tuple[Charted, ...] = listing(Charted, "Fill by fill")


class IndividualsChart(NamedTuple):
    """Limits of an individuals chart."""

    centre: float
    sigma: float
    mean_range: float

    @property
    def low(self) -> float:
        return self.centre - 3.0 * self.sigma

    @property
    def high(self) -> float:
        return self.centre + 3.0 * self.sigma


def individuals_chart(values: Sequence[float], smallest_sigma: float = 0.0) -> IndividualsChart:
    """Centre and sigma of an individuals chart: centre = mean, sigma = mean moving range / 1.128.

    Valid from two values. Limits are centre +/- 3 sigma; the moving range's own limit is 3.267 times its mean.
    ``smallest_sigma`` keeps the limits open where rounding hides the spread. Raises ValueError under two values.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; the example there:

    >>> chart = individuals_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.centre, 2), round(chart.high, 4), round(chart.low, 4)
    (50.81, 55.8041, 45.8159)
    """
    mean_range = mean(abs(later - earlier) for earlier, later in pairwise(values))
    return IndividualsChart(mean(values), max(mean_range / RANGE_TO_SIGMA, smallest_sigma), mean_range)


def repeatability(given: RepeatabilityGiven) -> RepeatabilityFound:
    """Limits from the team's own fills.

    centre = mean; sigma = mean moving range / 1.128, but not under step / sqrt 6, the rounding of two readings;
    limits = centre +/- 3 sigma.
    """
    values = [one.difference_g for one in given.fills]
    if len(values) < 2:
        raise refuse(
            given,
            "fills",
            "a spread needs two fills",
            remedy=Sentence("Give ", Named("fills", "0.02:ana"), ", in the order filled."),
            code="missing_input",
        )
    chart = individuals_chart(values, difference_uncertainty_g(given.scale_step_g, 0.0))
    allowed = STEPS_ALLOWED * given.scale_step_g + 1e-9
    rows = tuple(
        Charted(
            order=place,
            difference_g=one.difference_g,
            person=one.person,
            moving_range_g=None if place == 1 else abs(one.difference_g - values[place - 2]),
            outside="no" if chart.low - allowed <= one.difference_g <= chart.high + allowed else "yes",
        )
        for place, one in enumerate(given.fills, start=1)
    )
    return RepeatabilityFound(
        centre_g=chart.centre,
        low_limit_g=chart.low,
        high_limit_g=chart.high,
        sigma_g=chart.sigma,
        range_limit_g=RANGE_LIMIT_FACTOR * chart.sigma * RANGE_TO_SIGMA,
        fills=len(values),
        outside=sum(row.outside == "yes" for row in rows),
        chart_alarm_fraction=None if len(values) < TOO_FEW_FILLS else between(CHART_ALARMS, len(values)),
        rows=rows,
    )


def judge_repeatability(given: RepeatabilityGiven, found: RepeatabilityFound) -> Judgement:
    count = len(given.fills)
    summary = (
        f"fills land from {found.low_limit_g:+.3f} to {found.high_limit_g:+.3f} g of the target, "
        f"{found.centre_g:+.3f} g in the middle ({count} fills)"
    )
    findings = (*_provisional(count), *_bias(given, found), *_people(given), *_rounded(given))
    if count < TOO_FEW_FILLS:
        return Judgement("unclear", (summary, f"under {TOO_FEW_FILLS} fills say nothing (our own figure)"), findings)
    out = [row for row in found.rows if row.outside == "yes"]
    odd = odd_one_out(
        [one.difference_g for one in given.fills],
        difference_uncertainty_g(given.scale_step_g, 0.0),
        step=given.scale_step_g,
    )
    chance = _chance(found)
    if odd is not None and not out:
        row = found.rows[odd]
        return Judgement(
            "caution",
            (
                f"fill {_named(row)} does not belong with the others, and widens the limits so far that it lies "
                "inside them: what was different?",
                chance,
                summary,
            ),
            findings,
        )
    if out:
        named = tuple(f"fill {_named(row)} is outside the limits: what was different?" for row in out)
        return Judgement("caution", (*named, chance, summary), findings)
    return Judgement("ok", (f"none of {count} fills is outside the limits", summary, chance), findings)


def between(table: Sequence[tuple[int, float]], count: int) -> float:
    """The share for a number of fills, on the straight line between two entries of a table; at its ends the last one.

    >>> between(((5, 0.01), (10, 0.03)), 7), between(((5, 0.01), (10, 0.03)), 40)
    (0.018, 0.03)
    """
    for (fewer, low), (more, high) in pairwise(table):
        if count <= more:
            return low + (high - low) * max(0, count - fewer) / (more - fewer)
    return table[-1][1]


def _chance(found: RepeatabilityFound) -> str:
    """What a whole chart may hold by chance; a person judges the chart, not one fill."""
    hundred = round(100.0 * (found.chart_alarm_fraction or 0.0))
    count = found.fills
    more = (
        f"more than {hundred} hold" if count > CHART_ALARMS[-1][0] else f"{hundred} hold{'s' if hundred == 1 else ''}"
    )
    return f"of 100 charts with {count} good fills {more} a false alarm"


def _named(row: Charted) -> str:
    return f"{row.order}{f' ({row.person})' if row.person else ''}, {row.difference_g:+.3f} g,"


def _provisional(count: int) -> list[str]:
    if not TOO_FEW_FILLS <= count < FEW_FILLS:
        return []
    share = percent(between(FALSE_ALARMS, count), 1)
    return [
        f"limits from {count} fills are provisional (under {FEW_FILLS}, our own figure): "
        f"the next good fill falls outside them in {share} of cases, not 0.3 %"
    ]


def _bias(given: RepeatabilityGiven, found: RepeatabilityFound) -> list[str]:
    count = len(given.fills)
    if count < TOO_FEW_FILLS:
        return []
    half = (
        t_value(count - 1)
        * max(sqrt(sample_variance([one.difference_g for one in given.fills])), found.sigma_g)
        / sqrt(count)
    )
    middle = abs(found.centre_g)
    if middle <= half:
        return []
    return [
        f"on the whole {middle:.3f} g too {'much' if found.centre_g > 0 else 'little'} is poured, from "
        f"{middle - half:.3f} to {middle + half:.3f} g (95 %)"
    ]


def _people(given: RepeatabilityGiven) -> list[str]:
    by_person: dict[str, list[float]] = {}
    for one in given.fills:
        if one.person:
            by_person.setdefault(one.person, []).append(one.difference_g)
    if len(by_person) < 2:
        return []
    means = ", ".join(
        f"{person} {mean(values):+.3f} g in {counted(len(values), 'fill')}"
        for person, values in sorted(by_person.items())
    )
    return [f"by person: {means}"]


def _rounded(given: RepeatabilityGiven) -> list[str]:
    measured = individuals_chart([one.difference_g for one in given.fills]).sigma
    floor = difference_uncertainty_g(given.scale_step_g, 0.0)
    if measured >= floor:
        return []
    return [
        f"the fills differ by less ({measured:.4f} g) than the rounding of the scale makes ({floor:.4f} g): "
        "the limits are the scale's, not the hand's"
    ]


def repeatability_working(given: RepeatabilityGiven, found: RepeatabilityFound) -> tuple[str, ...]:
    measured = individuals_chart([one.difference_g for one in given.fills])
    floor = difference_uncertainty_g(given.scale_step_g, 0.0)
    return (
        f"centre = mean of {len(given.fills)} fills = {found.centre_g:.4f} g",
        f"sigma = mean moving range / {RANGE_TO_SIGMA} = {measured.mean_range:.4f} g / {RANGE_TO_SIGMA} "
        f"= {measured.sigma:.4f} g, at least step/√6 = {floor:.4f} g",
        f"limits = centre − 3 sigma and centre + 3 sigma = {found.low_limit_g:.4f} to {found.high_limit_g:.4f} g",
    )


FILL_REPEATABILITY = Calculator(
    name="fill-repeatability",
    title="Fill repeatability",
    question="How near to the target do our fills land, and was one of them odd?",
    purpose="control limits of the team's own fills, and the fills outside them",
    version=2,
    given=RepeatabilityGiven,
    found=RepeatabilityFound,
    compute=repeatability,
    judge=judge_repeatability,
    working=repeatability_working,
    answer="sigma_g",
    valid=(
        "Fills in the order they were made, differences from each one's own target, on one scale.",
        "From two fills; provisional under 20. Three sigma: about 3 of 1,000 good fills fall outside. Of 100 charts "
        "with 20 good fills 5 hold a false alarm, with 50 good fills 12.",
        "One fill that is off by five sigma is named on about 20 of 100 charts of 6 fills, 50 of 10, 80 of 20 and 90 "
        "of 30 (simulated).",
        "The limits are the team's own spread, not what the diff needs.",
    ),
    sources=(INDIVIDUALS, GRUBBS, GUM, WHOLE_CHART, FEW, PROVISIONAL, COARSE),
    worked=(
        Worked(
            {"fills": ["49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1"]},
            {
                "centre_g": 50.81,
                "high_limit_g": 55.8041,
                "low_limit_g": 45.8159,
                "range_limit_g": 6.1347,
                "outside": 0,
            },
            0.0001,
            INDIVIDUALS,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (FILL_REPEATABILITY,)
