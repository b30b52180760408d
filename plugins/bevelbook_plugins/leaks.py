"""Is it still full: oil lost since the fill, from weighings on one mass basis (``leak-trend``)."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from math import ceil, log10, sqrt
from typing import Any, Final, NamedTuple

from bevelbook import Calculator, Judgement, Source, Worked, choice, hookimpl, listing, quantity, record, refuse
from bevelbook.formulas.inputs import repeatability, scale_step
from bevelbook.physics.oil_lost import CAUTION_SHARE, STOP_SHARE
from bevelbook.physics.regression import CONFIDENCE, INVERSE, Line, straight_line, t_value, where_line_reaches
from bevelbook.physics.weighing import COVERAGE_K, GUM, SEEN_AT_95, reading_uncertainty_g

ON_THE_LINE: Final = 1e-6
"""Scatter under this part of the scale's uncertainty is none at all."""
POINTS_FOR_A_TREND: Final = 5
SUDDEN_K: Final = 3.0
EXTRAPOLATION_LIMIT: Final = 1.5
LIMITS: Final = Source("proposal", "5 % of the oil lost asks for a second look, 10 % is a stop")
CONSTRUCTED: Final = Source(
    "computed",
    "constructed: 0.25 g by difference, U = 2 × √2 × √(0.01²/12 + 0.005²) g = 0.016 g; 0.25 / 1.50 = 16.7 %; "
    "0.24 g in 7 runs = 0.034 g per run",
)


@record
class Weighing:
    runs: float = quantity("runs", "Runs since the build when it was weighed", minimum=0)
    mass_g: float = quantity("g", "Mass on the scale, outside wiped", above=0)
    scale_step_g: float | None = quantity(
        "g", "Smallest step of the scale, where it is another one than for the rest", default=None, above=0
    )
    repeatability_g: float | None = quantity(
        "g", "Repeatability of that scale (one standard deviation)", default=None, minimum=0
    )


@record
class LeakGiven:
    weighings: tuple[Weighing, ...] = listing(
        Weighing,
        "Weighings of one build, all with the same parts on the pan",
        singular="weighing",
        same_as="listings.weighings",
    )
    scale_step_g: float = scale_step()
    repeatability_g: float = repeatability()
    oil_mass_g: float | None = quantity(
        "g", "Oil put in at the fill", default=None, above=0, plausible=(0, 10), same_as="builds.oil_mass_g"
    )
    caution_share: float = quantity(
        "1", "Share of the oil lost that asks for a second look", default=CAUTION_SHARE, above=0
    )
    stop_share: float = quantity("1", "Share of the oil lost at which the diff is not run", default=STOP_SHARE, above=0)


@record
class Interval:
    from_runs: float = quantity("runs", "From this weighing")
    to_runs: float = quantity("runs", "To this one")
    loss_g: float = quantity("g", "Lost between them; negative is a gain")
    loss_g_per_run: float = quantity("g/run", "The same for each run")
    uncertainty_g_per_run: float = quantity("g/run", "Uncertainty of that (k = 2), from the scale alone")
    detected: str = choice(("yes", "no"), "Whether the scale can tell this loss from nothing")


@record
class LeakFound:
    loss_g: float = quantity("g", "Lost between the first weighing and the last", exact=True)
    loss_low_g: float = quantity("g", "Lower end of that (k = 2), from the scale alone", exact=True)
    loss_high_g: float = quantity("g", "Upper end of that", exact=True)
    smallest_loss_seen_g: float = quantity(
        "g", "Smallest loss between these two weighings that the scale could have seen", exact=True
    )
    loss_share: float | None = quantity("1", "Loss as a share of the oil put in")
    changed_after_runs: float | None = quantity(
        "runs", "Last weighing that was still good, before the first bad one", exact=True
    )
    changed_before_runs: float | None = quantity(
        "runs", "First bad weighing: certainly over the limit for a second look", exact=True
    )
    loss_g_per_run: float | None = quantity("g/run", "Trend, only from five weighings that lie on a line")
    loss_low_g_per_run: float | None = quantity("g/run", "Lower end of the trend, 95 %", exact=True)
    loss_high_g_per_run: float | None = quantity("g/run", "Upper end of the trend, 95 %", exact=True)
    runs_to_limit: float | None = quantity("runs", "Runs since the build at which the trend reaches the stop limit")
    runs_to_limit_low: float | None = quantity("runs", "Lower end of that, 95 %", exact=True)
    runs_to_limit_high: float | None = quantity("runs", "Upper end of that, 95 %", exact=True)
    runs_left: float | None = quantity("runs", "The same, counted from the last weighing")
    rows: tuple[Interval, ...] = listing(Interval, "Weighing to weighing")


class Point(NamedTuple):
    """What the scale showed after so many runs, with the standard uncertainty (k = 1) of that reading."""

    runs: float
    mass_g: float
    uncertainty_g: float


def points_of(given: LeakGiven) -> list[Point]:
    """The weighings in order of runs; several after the same runs become their mean."""
    by_runs: dict[float, list[Weighing]] = {}
    for one in given.weighings:
        by_runs.setdefault(one.runs, []).append(one)
    if len(by_runs) < 2:
        raise refuse(
            given,
            "weighings",
            "a loss needs two weighings with runs between them",
            remedy="Weigh again with the same parts on the pan, and give --weighing RUNS:MASS for each.",
            code="missing_input",
        )
    found = []
    for runs in sorted(by_runs):
        same = by_runs[runs]
        variance = sum(_reading_uncertainty_g(one, given) ** 2 for one in same)
        found.append(Point(runs, sum(one.mass_g for one in same) / len(same), sqrt(variance) / len(same)))
    return found


def _reading_uncertainty_g(one: Weighing, given: LeakGiven) -> float:
    step = given.scale_step_g if one.scale_step_g is None else one.scale_step_g
    repeatability = given.repeatability_g if one.repeatability_g is None else one.repeatability_g
    return reading_uncertainty_g(step, repeatability)


def _difference_uncertainty_g(first: Point, last: Point) -> float:
    return sqrt(first.uncertainty_g**2 + last.uncertainty_g**2)


def trend_of(points: list[Point]) -> Line | None:
    """The line of mass on runs, from five points whose residuals the scale explains (chi-squared at 95 %).

    Readings that lie on the line to the last digit, as equal ones do, scatter less than the scale's step allows to
    tell: then the scale's own uncertainty stands for their scatter.
    """
    if len(points) < POINTS_FOR_A_TREND:
        return None
    from scipy.special import chdtri

    line = straight_line([one.runs for one in points], [one.mass_g for one in points])
    of_scale = sqrt(sum(one.uncertainty_g**2 for one in points) / len(points))
    if line.residual_sd < ON_THE_LINE * of_scale:
        line = line.with_scatter(of_scale)
    misfit = sum(((one.mass_g - line.at(one.runs)) / one.uncertainty_g) ** 2 for one in points)
    return line if misfit <= float(chdtri(line.degrees_of_freedom, 1.0 - CONFIDENCE)) else None


def _bracket(points: list[Point], limit_g: float | None) -> tuple[float | None, float | None]:
    """The last good weighing before the first bad one, and that one, in runs.

    Bad: the loss is certainly over the limit; good: certainly under it. Without a limit: detected or not.
    """
    first = points[0]
    good = first.runs
    for one in points[1:]:
        loss = first.mass_g - one.mass_g
        uncertainty = _difference_uncertainty_g(first, one)
        if limit_g is None:
            bad = loss > SEEN_AT_95 * uncertainty
            fine = not bad
        else:
            bad = loss - COVERAGE_K * uncertainty >= limit_g
            fine = loss + COVERAGE_K * uncertainty < limit_g
        if bad:
            return good, one.runs
        if fine:
            good = one.runs
    return None, None


def leak(given: LeakGiven) -> LeakFound:
    """Loss first, then weighing to weighing, then a trend and a date where there are five points on a line.

    loss = first - last +/- 2 sqrt(u1^2 + u2^2), u^2 = step^2 / 12 + s^2 for each reading; seen: 1.96 sqrt(u1^2 + u2^2).
    The scale's error is left out: one scale, nearly the same mass. Trend: ordinary least squares; date: where the
    line passes the first reading less ``stop_share`` of the oil, with its inversion (Fieller) interval, none where
    g >= 1.
    """
    points = points_of(given)
    first, last = points[0], points[-1]
    loss = first.mass_g - last.mass_g
    uncertainty = _difference_uncertainty_g(first, last)
    wide = COVERAGE_K * uncertainty
    oil = given.oil_mass_g
    if oil is not None and loss - wide > oil:
        raise refuse(
            given,
            "weighings",
            f"{loss:.2f} g lost, but only {oil:.2f} g was put in",
            remedy="Compare weighings with the same parts on the pan only: a closed diff also carries lid and screws.",
            code="mass_basis",
        )
    line = trend_of(points)
    half = 0.0 if line is None else t_value(line.degrees_of_freedom) * line.slope_error
    reached = None
    if line is not None and line.slope < 0 and oil is not None:
        reached = where_line_reaches(line, first.mass_g - given.stop_share * oil)
        if reached.low is None:
            reached = None
    after, before = _bracket(points, None if oil is None else given.caution_share * oil)
    return LeakFound(
        loss_g=loss,
        loss_low_g=loss - wide,
        loss_high_g=loss + wide,
        smallest_loss_seen_g=SEEN_AT_95 * uncertainty,
        loss_share=None if oil is None else loss / oil,
        changed_after_runs=after,
        changed_before_runs=before,
        loss_g_per_run=None if line is None else 0.0 - line.slope,
        loss_low_g_per_run=None if line is None else -line.slope - half,
        loss_high_g_per_run=None if line is None else -line.slope + half,
        runs_to_limit=None if reached is None else reached.x,
        runs_to_limit_low=None if reached is None else reached.low,
        runs_to_limit_high=None if reached is None else reached.high,
        runs_left=None if reached is None or reached.x <= last.runs else reached.x - last.runs,
        rows=tuple(_interval(earlier, later) for earlier, later in pairwise(points)),
    )


def _interval(earlier: Point, later: Point) -> Interval:
    runs = later.runs - earlier.runs
    loss = earlier.mass_g - later.mass_g
    uncertainty = _difference_uncertainty_g(earlier, later)
    return Interval(
        from_runs=earlier.runs,
        to_runs=later.runs,
        loss_g=loss,
        loss_g_per_run=loss / runs,
        uncertainty_g_per_run=COVERAGE_K * uncertainty / runs,
        detected="yes" if loss > SEEN_AT_95 * uncertainty else "no",
    )


def sudden_interval(points: list[Point]) -> tuple[Point, Point] | None:
    """The stretch that lost oil faster than all before it, by more than three standard uncertainties; the clearest."""
    first = points[0]
    clearest, found = SUDDEN_K, None
    for earlier, later in pairwise(points[1:]):
        before, now = earlier.runs - first.runs, later.runs - earlier.runs
        faster = (earlier.mass_g - later.mass_g) / now - (first.mass_g - earlier.mass_g) / before
        uncertainty = sqrt(
            (earlier.uncertainty_g * (1.0 / now + 1.0 / before)) ** 2
            + (later.uncertainty_g / now) ** 2
            + (first.uncertainty_g / before) ** 2
        )
        if faster > clearest * uncertainty:
            clearest, found = faster / uncertainty, (earlier, later)
    return found


def _grams(value: float, given: LeakGiven) -> str:
    """As many decimals as the scale shows, two at least."""
    return f"{value:.{max(2, ceil(-log10(given.scale_step_g) - 1e-9))}f} g"


def judge_leak(given: LeakGiven, found: LeakFound) -> Judgement:
    points = points_of(given)
    runs = points[-1].runs - points[0].runs
    findings = _findings(given, found, points)
    if found.loss_g < -found.smallest_loss_seen_g:
        return Judgement(
            "unclear",
            (
                f"{_grams(-found.loss_g, given)} heavier than {runs:g} runs ago: "
                "other parts on the pan, dirt, or oil added?",
            ),
            findings,
        )
    wide = found.loss_high_g - found.loss_g
    share = "" if given.oil_mass_g is None else f" of {_grams(given.oil_mass_g, given)} ({found.loss_share:.1%})"
    if found.loss_g > found.smallest_loss_seen_g:
        told = f"lost {_grams(found.loss_g, given)}{share} in {runs:g} runs, ± {wide:.3f} g (k = 2)"
    else:
        told = (
            f"no loss detected in {runs:g} runs: the smallest this scale could have seen "
            f"is {found.smallest_loss_seen_g:.3f} g"
        )
    reasons = (told, *_where_it_went(given, found, points))
    oil = given.oil_mass_g
    if oil is None:
        if found.loss_g > found.smallest_loss_seen_g:
            return Judgement("caution", (*reasons, "how much oil was put in is not known, so no share"), findings)
        return Judgement("ok", reasons, findings)
    for share_limit, proposed, over in (
        (given.stop_share, STOP_SHARE, "stop"),
        (given.caution_share, CAUTION_SHARE, "caution"),
    ):
        whose = "this project's proposal" if share_limit == proposed else "your limit"
        named = f"{100 * share_limit:.3g}% of the oil, {share_limit * oil:.3g} g ({whose})"
        if found.loss_low_g >= share_limit * oil:
            return Judgement("stop" if over == "stop" else "caution", (*reasons, f"over {named}"), findings)
        if found.loss_high_g >= share_limit * oil:
            return Judgement("unclear", (*reasons, f"whether it is over {named} this scale cannot tell"), findings)
    return Judgement("ok", reasons, findings)


def _where_it_went(given: LeakGiven, found: LeakFound, points: list[Point]) -> list[str]:
    told = []
    sudden = sudden_interval(points)
    if sudden is not None:
        earlier, later = sudden
        interval = _interval(earlier, later)
        told.append(
            f"sudden: {_grams(interval.loss_g, given)} of it went between run {earlier.runs:g} and {later.runs:g} "
            f"({interval.loss_g_per_run:.3f} ± {interval.uncertainty_g_per_run:.3f} g per run)"
        )
    if found.changed_before_runs is not None:
        told.append(
            f"good at run {found.changed_after_runs:g}, bad at run {found.changed_before_runs:g}: "
            "what was run between them is doubtful"
        )
    if found.runs_to_limit is not None:
        limit = f"{given.stop_share:.0%} lost"
        spread = f"{found.runs_to_limit_low:.1f} to {found.runs_to_limit_high:.1f}"
        at = f"at run {found.runs_to_limit:.1f} ({spread}, 95 %)"
        told.append(
            f"the trend reached {limit} {at}"
            if found.runs_left is None
            else f"about {found.runs_left:.0f} runs left: the trend reaches {limit} {at}"
        )
    return told


def _findings(given: LeakGiven, found: LeakFound, points: list[Point]) -> tuple[str, ...]:
    findings = []
    first, last = points[0], points[-1]
    if first.runs > 0:
        findings.append(f"the first weighing came after {first.runs:g} runs: what was lost before is not known")
    one_step = given.scale_step_g * 1.5
    if given.repeatability_g == 0 and any(row.detected == "yes" and row.loss_g < one_step for row in found.rows):
        findings.append(
            "a loss of one step counts as detected because the scale's repeatability is not given: "
            "put one mass on it ten times to find it"
        )
    gained = [
        f"{_grams(later.mass_g - earlier.mass_g, given)} heavier at run {later.runs:g} than at run {earlier.runs:g}"
        for earlier, later in pairwise(points)
        if later.mass_g - earlier.mass_g > SEEN_AT_95 * _difference_uncertainty_g(earlier, later)
    ]
    findings.extend(f"{one}: other parts on the pan, dirt, or oil added?" for one in gained)
    if len({one.uncertainty_g for one in points}) > 1 and any(one.scale_step_g is not None for one in given.weighings):
        findings.append("weighed on different scales: what these differ by is not in the uncertainty")
    if len(points) >= POINTS_FOR_A_TREND and found.loss_g_per_run is None:
        findings.append("no trend and no date: the weighings do not lie on one line within what the scale explains")
    elif found.loss_g_per_run is not None and given.oil_mass_g is not None and found.runs_to_limit is None:
        findings.append("no date: the trend cannot be told from none")
    if found.runs_to_limit is not None:
        beyond = (found.runs_to_limit - first.runs) / (last.runs - first.runs)
        if beyond > EXTRAPOLATION_LIMIT:
            findings.append(
                f"the date lies {beyond:.1f} times as far out as was weighed: it holds only if nothing changes"
            )
    return tuple(findings)


def leak_working(given: LeakGiven, found: LeakFound) -> tuple[str, ...]:
    points = points_of(given)
    first, last = points[0], points[-1]
    lines = [
        f"loss = first − last = {first.mass_g:g} g − {last.mass_g:g} g = {found.loss_g:.3f} g",
        f"U = 2 √(u₁² + u₂²) = 2 √({first.uncertainty_g:.4f}² + {last.uncertainty_g:.4f}²) g "
        f"= {found.loss_high_g - found.loss_g:.4f} g, with u² = step²/12 + s² for each reading",
        f"smallest loss seen = 1.96 √(u₁² + u₂²) = {found.smallest_loss_seen_g:.4f} g",
    ]
    if found.loss_g_per_run is not None:
        lines.append(
            f"trend by least squares over {len(points)} weighings: {found.loss_g_per_run:.4f} g per run "
            f"({found.loss_low_g_per_run:.4f} to {found.loss_high_g_per_run:.4f}, 95 %)"
        )
    elif len(points) < POINTS_FOR_A_TREND:
        lines.append(f"no trend from {len(points)} weighings: it takes {POINTS_FOR_A_TREND}")
    return tuple(lines)


LEAK_TREND = Calculator(
    name="leak-trend",
    title="Leak trend",
    question="Is this diff still full, and how long will it be?",
    purpose="oil lost between weighings, with what the scale can tell, and the runs left",
    version=2,
    given=LeakGiven,
    found=LeakFound,
    compute=leak,
    judge=judge_leak,
    working=leak_working,
    answer="loss_g",
    valid=(
        "Weighings on one mass basis only: the same parts on the pan, outside wiped, one scale if possible.",
        "Loss and intervals from two weighings; a trend and a date only from five whose scatter the scale explains.",
        "Without the oil put in there is no share and no date, and a bad weighing is one with a loss detected.",
        "The scale's own error is left out: the same scale at nearly the same mass makes the same one twice.",
    ),
    sources=(GUM, INVERSE, LIMITS),
    cautions=(
        "A diff that lost oil left it somewhere: look on the floor and on the car, wipe it up at once, it is slippery.",
    ),
    worked=(
        Worked(
            {
                "weighings": ["0:18.35", "6:18.34", "13:18.10"],
                "repeatability_g": "0.005",
                "oil_mass_g": "1.50",
            },
            {
                "loss_g": 0.25,
                "loss_low_g": 0.234,
                "loss_high_g": 0.266,
                "loss_share": 0.1667,
                "smallest_loss_seen_g": 0.016,
                "changed_after_runs": 6,
                "changed_before_runs": 13,
                "runs_to_limit": None,
            },
            0.0005,
            CONSTRUCTED,
            "stop",
        ),
        Worked(
            {"weighings": ["0:18.60", "8:18.49"], "oil_mass_g": "1.50"},
            {"loss_g": 0.11, "loss_share": 0.0733},
            0.00005,
            Source("computed", "constructed: 0.11 g of 1.50 g = 7.3 %"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (LEAK_TREND,)
