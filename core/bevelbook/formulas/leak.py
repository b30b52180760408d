"""Is it still full: oil lost since the fill, from weighings on one mass basis, with trend, date and words."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, log10, sqrt
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import choice, listing, quantity, record
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.disagreeing import CLEAR_K, Disagreement, Reading, disagreements
from bevelbook.formulas.inputs import repeatability, scale_step
from bevelbook.formulas.oil_limits import (
    CAUTION_SHARE,
    LossLimits,
    limit_share_in_words,
    loss_limits,
    whose_limit,
)
from bevelbook.formulas.oil_lost import (
    Loss,
    Point,
    difference_uncertainty_g,
    is_more_than_went_in,
    loss_of,
    loss_without_runs,
    merged_points,
)
from bevelbook.formulas.oil_lost_words import (
    is_over_for_certain,
    loss_in_words,
    smallest_seen_in_words,
    turned_in_words,
    undecided_in_words,
)
from bevelbook.physics.weighing import COVERAGE_K, SEEN_AT_95, assumed_in_words, reading_uncertainty_g
from bevelbook.plugin.calculator import refuse
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.line import CONFIDENCE, Line, Reached, straight_line, t_value, where_line_reaches

ON_THE_LINE: Final = 1e-6
"""Scatter below this part of the scale's uncertainty counts as none."""
POINTS_FOR_A_TREND: Final = 5
EXTRAPOLATION_LIMIT: Final = 1.5
HEAVIER: Final = "other parts were on the scale, or dirt, or oil was added"


@record
class LeakWeighing:
    runs: float = quantity("runs", "Runs since the build when it was weighed", minimum=0)
    mass_g: float = quantity("g", "Mass on the scale, outside wiped", above=0)
    scale_step_g: float | None = quantity(
        "g", "Smallest step of the scale, if it is not the same one as for the rest", default=None, above=0
    )
    repeatability_g: float | None = quantity(
        "g",
        "Repeatability of that scale (one standard deviation); not known: one step of it is assumed",
        default=None,
        minimum=0,
    )


@record
class LeakGiven:
    weighings: tuple[LeakWeighing, ...] = listing(
        LeakWeighing,
        "Weighings of one build, all with the same parts on the scale",
        singular="weighing",
        same_as="listings.weighings",
    )
    scale_step_g: float = scale_step()
    repeatability_g: float | None = repeatability()
    oil_mass_g: float | None = quantity(
        "g", "Oil put in at the fill", default=None, above=0, plausible=(0, 10), same_as="build_facts.oil_in_g"
    )
    caution_share: float = quantity(
        "1", "Share of the oil lost from which to look at it", default=CAUTION_SHARE, above=0
    )
    stop_share: float | None = quantity(
        "1",
        "Your limit as a share of the oil, at which you stop running the diff; 10 % if you have none",
        default=None,
        above=0,
        same_as="diff_facts.limit_loss_share",
    )
    stop_loss_g: float | None = quantity(
        "g",
        "Your limit in grams; the nearer of the two holds",
        default=None,
        above=0,
        same_as="diff_facts.limit_loss_g",
    )

    @property
    def limits(self) -> LossLimits:
        """The limits from these inputs."""
        return loss_limits(self.oil_mass_g, self.stop_loss_g, self.stop_share, self.caution_share)


@record
class LossInterval:
    from_runs: float = quantity("runs", "From this weighing")
    to_runs: float = quantity("runs", "To this one")
    loss_g: float = quantity("g", "Lost between them; negative is a gain")
    loss_g_per_run: float = quantity("g/run", "The same for each run")
    uncertainty_g_per_run: float = quantity("g/run", "Uncertainty of that (k = 2), from the scale alone")
    detected: str = choice(("yes", "no"), "Whether the scale can see this loss")


@record
class LeakFound:
    loss_g: float = quantity("g", "Lost between the first weighing and the last", exact=True)
    loss_low_g: float = quantity("g", "Lower end of that (k = 2), from the scale alone", exact=True)
    loss_high_g: float = quantity("g", "Upper end of that", exact=True)
    smallest_loss_seen_g: float = quantity(
        "g", "Smallest loss between these two weighings that the scale could have seen", exact=True
    )
    loss_share: float | None = quantity("1", "Loss as a share of the oil put in")
    changed_after_runs: float | None = quantity("runs", "Last good weighing before the first bad one", exact=True)
    changed_before_runs: float | None = quantity(
        "runs", "First bad weighing: certainly over the limit to look at it", exact=True
    )
    loss_g_per_run: float | None = quantity("g/run", "Trend, only from five weighings that lie on a line")
    loss_low_g_per_run: float | None = quantity("g/run", "Lower end of the trend, 95 %", exact=True)
    loss_high_g_per_run: float | None = quantity("g/run", "Upper end of the trend, 95 %", exact=True)
    runs_to_limit: float | None = quantity("runs", "Runs since the build at which the trend reaches the stop limit")
    runs_to_limit_low: float | None = quantity("runs", "Lower end of that, 95 %", exact=True)
    runs_to_limit_high: float | None = quantity("runs", "Upper end of that, 95 %", exact=True)
    runs_left: float | None = quantity("runs", "The same, counted from the last weighing")
    rows: tuple[LossInterval, ...] = listing(LossInterval, "Weighing to weighing")


def points_of(given: LeakGiven) -> list[Point]:
    """The weighings in order of runs. Raises InputError unless two have runs between them."""
    points = merged_points(_readings(given))
    if len(points) < 2:
        raise refuse(
            given,
            "weighings",
            "a loss needs two weighings with runs between them",
            remedy=Sentence("Weigh it once more with the same parts on the scale, and give ", Named("weighings"), "."),
            code="missing_input",
        )
    return points


def _without_runs(given: LeakGiven) -> Loss | None:
    """What weighings without runs between them say where they disagree; None if there are runs, or nothing is open."""
    readings = _readings(given)
    return loss_without_runs(readings) if len({one[0] for one in readings}) == 1 else None


def _disagreeing(given: LeakGiven) -> list[Disagreement]:
    return disagreements(_readings(given))


def _readings(given: LeakGiven) -> list[Reading]:
    return [
        (one.runs, one.mass_g, reading_uncertainty_g(_step_g(one, given), _repeatability_g(one, given)) ** 2)
        for one in given.weighings
    ]


def _step_g(one: LeakWeighing, given: LeakGiven) -> float:
    return given.scale_step_g if one.scale_step_g is None else one.scale_step_g


def _repeatability_g(one: LeakWeighing, given: LeakGiven) -> float | None:
    """Its own scale's, which may not be known; the general one if it has no scale of its own."""
    has_own_scale = one.scale_step_g is not None or one.repeatability_g is not None
    return one.repeatability_g if has_own_scale else given.repeatability_g


def _finest_step_g(given: LeakGiven) -> float:
    return min(_step_g(one, given) for one in given.weighings)


def trend_of(points: list[Point]) -> Line | None:
    """The line of mass over runs, from five points whose residuals the scale explains (chi-squared at 95 %).

    Readings that lie on the line to the last digit, as equal ones do, scatter less than the scale's step can show: then
    the scale's own uncertainty is taken as their scatter.
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


def leak(given: LeakGiven) -> LeakFound:
    """Loss first, then weighing to weighing, then a trend and a date where there are five points on a line.

    loss = first - last +/- 2 sqrt(u1^2 + u2^2), u^2 = step^2 / 12 + s^2 for each reading; seen: 1.96 sqrt(u1^2 + u2^2).
    The scale's error is left out: one scale, nearly the same mass. Trend: ordinary least squares; date: where the
    line passes the first reading less the stop limit, with its inversion (Fieller) interval, none where
    g >= 1.
    """
    without = _without_runs(given)
    if without is not None:
        return _found(given, without)
    points = points_of(given)
    first = points[0]
    limits = given.limits
    lost = loss_of(points, limits)
    oil = given.oil_mass_g
    if is_more_than_went_in(lost, oil):
        raise refuse(
            given,
            "weighings",
            loss_in_words(lost.loss_g, lost.uncertainty_g, oil),
            remedy="Compare weighings with the same parts on the scale only: a closed diff also holds lid and screws.",
            code="mass_basis",
        )
    line = trend_of(points)
    reached = None
    if line is not None and line.slope < 0 and limits.stop_g is not None:
        reached = where_line_reaches(line, first.mass_g - limits.stop_g)
        if reached.low is None:
            reached = None
    return _found(given, lost, points, line, reached)


def _found(
    given: LeakGiven,
    lost: Loss,
    points: Sequence[Point] = (),
    line: Line | None = None,
    reached: Reached | None = None,
) -> LeakFound:
    half = 0.0 if line is None else t_value(line.degrees_of_freedom) * line.slope_error
    oil = given.oil_mass_g
    return LeakFound(
        loss_g=lost.loss_g,
        loss_low_g=lost.loss_g - lost.uncertainty_g,
        loss_high_g=lost.loss_g + lost.uncertainty_g,
        smallest_loss_seen_g=lost.seen_g,
        loss_share=None if oil is None else lost.loss_g / oil,
        changed_after_runs=None if lost.bad_from_runs is None else lost.good_until_runs,
        changed_before_runs=lost.bad_from_runs,
        loss_g_per_run=None if line is None else 0.0 - line.slope,
        loss_low_g_per_run=None if line is None else -line.slope - half,
        loss_high_g_per_run=None if line is None else -line.slope + half,
        runs_to_limit=None if reached is None else reached.x,
        runs_to_limit_low=None if reached is None else reached.low,
        runs_to_limit_high=None if reached is None else reached.high,
        runs_left=None if reached is None or reached.x <= points[-1].runs else reached.x - points[-1].runs,
        rows=tuple(_interval(earlier, later) for earlier, later in pairwise(points)),
    )


def _interval(earlier: Point, later: Point) -> LossInterval:
    runs = later.runs - earlier.runs
    loss = earlier.mass_g - later.mass_g
    uncertainty = difference_uncertainty_g(earlier, later)
    return LossInterval(
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
    clearest, found = CLEAR_K, None
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
    """As many decimals as the scale shows, at least two."""
    return f"{value:.{max(2, ceil(-log10(_finest_step_g(given)) - 1e-9))}f} g"


def judge_leak(given: LeakGiven, found: LeakFound, *, in_use: bool = True) -> Judgement:
    """The verdict with its reasons; if the build is not ``in_use``, without the advice to weigh it again."""
    doubts = disagreeing_reasons(given, in_use=in_use)
    without = _without_runs(given)
    if without is not None:
        seen = loss_in_words(without.loss_g, without.uncertainty_g, given.oil_mass_g)
        return Judgement(without.verdict, doubts if without.verdict == "unclear" else (seen, *doubts), ())
    points = points_of(given)
    limits = given.limits
    lost = loss_of(points, limits)
    runs = points[-1].runs - points[0].runs
    findings = _findings(given, found, points, in_use)
    said = loss_in_words(lost.loss_g, lost.uncertainty_g, given.oil_mass_g, f"in {_count(runs)}")
    if lost.loss_g < -lost.seen_g:
        return Judgement(lost.verdict, (f"{said}: {HEAVIER}", *doubts), findings)
    is_seen = lost.loss_g > lost.seen_g
    if is_seen:
        said += f", ± {lost.uncertainty_g:.3f} g (k = 2)"
    reasons = (said, *doubts, *_where_it_went(given, found, points))
    if limits.stop_g is None or limits.caution_g is None:
        unknown = ("how much oil was put in is not known, so no share",) if is_seen else ()
        return Judgement(lost.verdict, (*reasons, *unknown), findings)
    if lost.verdict == "ok":
        return Judgement(lost.verdict, reasons, findings)
    caution, stop = (
        _limit_in_words(given, limit_g, limits, is_stop=is_stop)
        for limit_g, is_stop in ((limits.caution_g, False), (limits.stop_g, True))
    )
    decided = undecided_in_words(lost.loss_g, lost.uncertainty_g, limits, caution, stop)
    if not decided:
        is_over_stop = is_over_for_certain(lost.loss_g, lost.uncertainty_g, limits.stop_g)
        decided = f"over {stop if is_over_stop else caution}"
    return Judgement(lost.verdict, (*reasons, decided), findings)


def _count(runs: float) -> str:
    return counted(runs, "run")


def _limit_in_words(given: LeakGiven, limit_g: float, limits: LossLimits, *, is_stop: bool) -> str:
    """A limit, yours or proposed, with the share of the oil if it was set as one."""
    is_own = limits.owner == "yours" if is_stop or limit_g == limits.stop_g else given.caution_share != CAUTION_SHARE
    named = whose_limit("yours" if is_own else "proposal", limit_g)
    if given.oil_mass_g is None or limit_g == given.stop_loss_g:
        return named
    return f"{named} ({limit_share_in_words(limit_g / given.oil_mass_g)} of the oil)"


def _where_it_went(given: LeakGiven, found: LeakFound, points: list[Point]) -> list[str]:
    reasons = []
    sudden = sudden_interval(points)
    if sudden is not None:
        earlier, later = sudden
        interval = _interval(earlier, later)
        reasons.append(
            f"sudden: {_grams(interval.loss_g, given)} of it went between run {earlier.runs:g} and {later.runs:g} "
            f"({interval.loss_g_per_run:.3f} ± {interval.uncertainty_g_per_run:.3f} g per run, k = 2)"
        )
    if found.changed_before_runs is not None:
        reasons.append(
            f"{turned_in_words(found.changed_after_runs, found.changed_before_runs, given.limits.caution_g)}: "
            "what was run between them is doubtful"
        )
    if found.runs_to_limit is not None:
        limit = _limit_in_words(given, given.limits.stop_g or 0.0, given.limits, is_stop=True)
        spread = f"{found.runs_to_limit_low:.1f} to {found.runs_to_limit_high:.1f}"
        at = f"at run {found.runs_to_limit:.1f} ({spread}, 95 %)"
        reasons.append(
            f"the trend reached {limit} {at}"
            if found.runs_left is None
            else f"about {found.runs_left:.0f} runs left: the trend reaches {limit} {at}"
        )
    return reasons


def disagreeing_reasons(given: LeakGiven, *, in_use: bool = True) -> tuple[str, ...]:
    """Readings after the same runs that the scale does not explain, and which of them counts."""
    return tuple(f"{one.words}{one.advice if in_use else ''}" for one in _disagreeing(given))


def _findings(given: LeakGiven, found: LeakFound, points: list[Point], in_use: bool) -> tuple[str, ...]:
    again = ": say the runs of each, and weigh again with the same parts on the scale" if in_use else ""
    findings = [
        f"{_grams(one.heaviest[1], given)} and {_grams(one.lightest[1], given)}, both after {one.runs:g} runs, are "
        f"further apart than the scale explains{again}"
        for one in _disagreeing(given)
        if not one.counting
    ]
    first, last = points[0], points[-1]
    if first.runs > 0:
        findings.append(f"the first weighing came after {first.runs:g} runs: what was lost before is not known")
    unchecked = {_step_g(one, given) for one in given.weighings if _repeatability_g(one, given) is None}
    findings.extend(
        f"{assumed_in_words(step, None)}: put one thing on it ten times to know it better" for step in sorted(unchecked)
    )
    gained = [
        f"{_grams(later.mass_g - earlier.mass_g, given)} heavier at run {later.runs:g} than at run {earlier.runs:g}"
        for earlier, later in pairwise(points)
        if later.mass_g - earlier.mass_g > SEEN_AT_95 * difference_uncertainty_g(earlier, later)
    ]
    findings.extend(f"{one}: {HEAVIER}" for one in gained)
    if len({one.uncertainty_g for one in points}) > 1 and any(one.scale_step_g is not None for one in given.weighings):
        findings.append("weighed on different scales: the difference between them is not in the uncertainty")
    if len(points) >= POINTS_FOR_A_TREND and found.loss_g_per_run is None:
        findings.append("no trend and no date: the weighings do not lie on one line within what the scale explains")
    elif found.loss_g_per_run is not None and given.limits.stop_g is not None and found.runs_to_limit is None:
        findings.append("no date: the trend is not distinguishable from zero")
    if found.runs_to_limit is not None:
        beyond = (found.runs_to_limit - first.runs) / (last.runs - first.runs)
        if beyond > EXTRAPOLATION_LIMIT:
            findings.append(
                f"the date lies {beyond:.1f} times as far out as the last weighing: it is only good if nothing changes"
            )
    return tuple(findings)


def leak_working(given: LeakGiven, found: LeakFound) -> tuple[str, ...]:
    without = _without_runs(given)
    if without is not None:
        heaviest, lightest = without.first_mass_g, without.last_mass_g
        return (f"heaviest − lightest = {heaviest:g} g − {lightest:g} g = {without.loss_g:.3f} g, no run between them",)
    points = points_of(given)
    first, last = points[0], points[-1]
    lines = [
        f"loss = first − last = {first.mass_g:g} g − {last.mass_g:g} g = {found.loss_g:.3f} g",
        f"U = 2 √(u₁² + u₂²) = 2 √({first.uncertainty_g:.4f}² + {last.uncertainty_g:.4f}²) g "
        f"= {found.loss_high_g - found.loss_g:.4f} g, with u² = step²/12 + s² for each reading",
        f"smallest loss seen = 1.96 √(u₁² + u₂²) = {found.smallest_loss_seen_g:.4f} g, "
        f"said as {smallest_seen_in_words(found.smallest_loss_seen_g)}",
    ]
    if found.loss_g_per_run is not None:
        lines.append(
            f"trend by least squares over {len(points)} weighings: {found.loss_g_per_run:.4f} g per run "
            f"({found.loss_low_g_per_run:.4f} to {found.loss_high_g_per_run:.4f}, 95 %)"
        )
    elif len(points) < POINTS_FOR_A_TREND:
        lines.append(f"no trend: {POINTS_FOR_A_TREND} weighings are needed; there are {len(points)}")
    return tuple(lines)
