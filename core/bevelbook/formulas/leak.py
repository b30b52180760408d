"""Is it still full: oil lost since the fill, from weighings on one mass basis, with trend, date and words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import ceil, floor, log10, sqrt
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import choice, listing, quantity, record, text, which_day
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.disagreeing import Disagreement, disagreements
from bevelbook.formulas.housing_moisture import Housing, water_advice
from bevelbook.formulas.inputs import repeatability, scale_step
from bevelbook.formulas.leak_rate import POINTS_FOR_A_TREND, Rate, RunsToLimit, rate_of, runs_to_limit
from bevelbook.formulas.odd_weighing import ELSE_ON, contradiction, counting_points
from bevelbook.formulas.oil_limits import (
    CAUTION_SHARE,
    LossLimits,
    limit_share_in_words,
    loss_limits,
    whose_limit,
)
from bevelbook.formulas.oil_lost import (
    Loss,
    is_more_than_went_in,
    is_only_contradicted,
    loss_of,
    loss_without_runs,
    merged_points,
    seen_k_of,
    verdict_of,
)
from bevelbook.formulas.oil_lost_words import (
    is_over_for_certain,
    loss_in_words,
    smallest_seen_in_words,
    turned_in_words,
    undecided_in_words,
)
from bevelbook.formulas.readings import Point, Reading, covariance_g2, difference_uncertainty_g, readings_of
from bevelbook.formulas.readings_with_water import (
    believable_sisters_g,
    sister_doubts,
    sister_since,
    sister_state,
    sisters_of_the_day_g,
    water_said,
    water_that_matters,
    with_water,
)
from bevelbook.formulas.runs_left_words import UNCLEAR_IF_ANY, is_limit_undecided, left_by_trend_in_words
from bevelbook.formulas.sister_housing import DoubtfulSister
from bevelbook.formulas.sudden_loss import SuddenLoss, lost_by_the_first_alone, sudden_loss
from bevelbook.physics.weighing import (
    COVERAGE_K,
    SEEN_AT_95,
    ScaleNoise,
    assumed_day_to_day_g,
    assumed_from_day_to_day_in_words,
    assumed_in_words,
)
from bevelbook.plugin.calculator import refuse
from bevelbook.plugin.returned_values import Judgement

SEEN: Final = ("yes", "no", "not known")
EXTRAPOLATION_LIMIT: Final = 1.5
CHECK_THE_SCALE: Final = "check the scale: put one thing on it ten times"
NEVER_CHECKED: Final = "the scale was never checked"
MOST_OF_A_SCALE_G: Final = 1.0
"""Step, repeatability or day term in a row over which something else was typed there (our own figure)."""
HEAVIER: Final = "other parts were on the scale, or dirt, or oil was added"


@record
class LeakWeighing:
    runs: float = quantity("runs", "Runs since the build when it was weighed", minimum=0)
    mass_g: float = quantity("g", "Mass on the scale, outside wiped", above=0)
    scale_step_g: float | None = quantity(
        "g",
        "Smallest step of the scale, if it is not the same one as for the rest",
        default=None,
        above=0,
        maximum=MOST_OF_A_SCALE_G,
    )
    repeatability_g: float | None = quantity(
        "g",
        "Repeatability of that scale (one standard deviation); not known: one step of it is assumed",
        default=None,
        minimum=0,
        maximum=MOST_OF_A_SCALE_G,
    )
    day: str | None = which_day(
        "Day of the weighing: masses of one day share what the scale is off that day", default=None
    )
    day_to_day_g: float | None = quantity(
        "g",
        "How far that scale is off from one day to another (one standard deviation); not known: one step of it is "
        "assumed between days that are said",
        default=None,
        minimum=0,
        maximum=MOST_OF_A_SCALE_G,
    )
    sister_mass_g: float | None = quantity(
        "g", "An empty housing of the same kind, weighed alongside: its change is water, not oil", default=None, above=0
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
    day_to_day_g: float | None = quantity(
        "g",
        "How far the scale is off from one day to another (one standard deviation); not known: one step of it is "
        "assumed between days that are said",
        default=None,
        minimum=0,
        same_as="scales.day_to_day_g",
    )
    housing_material: str | None = text(
        "Material of the housing, which may take up water; unknown counts as nylon",
        default=None,
        same_as="diffs.housing_material",
    )
    housing_mass_g: float | None = quantity(
        "g",
        "Case and lid without metal parts; 5 g if not known",
        default=None,
        above=0,
        plausible=(0.5, 50),
        same_as="diffs.housing_mass_g",
    )

    @property
    def housing(self) -> Housing:
        """The housing from these inputs."""
        return Housing(self.housing_material, self.housing_mass_g)

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
    uncertainty_g_per_run: float = quantity("g/run", "Uncertainty of that (k = 2), from scale and water")
    detected: str = choice(
        SEEN, "Whether the scale can see this loss; all stretches together say yes by chance 1 time in 20 at most"
    )


@record
class LeakFound:
    loss_g: float = quantity("g", "Lost between the first weighing and the last", exact=True)
    loss_low_g: float = quantity("g", "Lower end of that (k = 2), from scale and water", exact=True)
    loss_high_g: float = quantity("g", "Upper end of that", exact=True)
    smallest_loss_seen_g: float = quantity(
        "g", "Smallest loss between these two weighings that the scale could have seen", exact=True
    )
    loss_share: float | None = quantity("1", "Loss as a share of the oil put in", no_spread=True)
    changed_after_runs: float | None = quantity("runs", "Last good weighing before the first bad one", exact=True)
    changed_before_runs: float | None = quantity(
        "runs", "First bad weighing: certainly over the limit to look at it", exact=True
    )
    loss_g_per_run: float | None = quantity(
        "g/run", "Trend, only from five weighings that lie on a line", no_spread=True
    )
    loss_low_g_per_run: float | None = quantity("g/run", "Lower end of the trend, 95 %", exact=True)
    loss_high_g_per_run: float | None = quantity("g/run", "Upper end of the trend, 95 %", exact=True)
    runs_to_limit: float | None = quantity(
        "runs", "Runs since the build at which the stop limit is lost, at the rate of the trend", no_spread=True
    )
    runs_to_limit_low: float | None = quantity(
        "runs", "Lower end of that, 95 %; alone where the trend may be none", exact=True
    )
    runs_to_limit_high: float | None = quantity("runs", "Upper end of that, 95 %", exact=True)
    runs_left: float | None = quantity(
        "runs",
        "The same, counted from the last weighing; none while it is unclear whether any are left",
        no_spread=True,
    )
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
    return loss_without_runs(readings, given.limits) if len({one[0] for one in readings}) == 1 else None


def _disagreeing(given: LeakGiven) -> list[Disagreement]:
    return disagreements(_readings(given))


def _readings(given: LeakGiven) -> list[Reading]:
    return with_water(*_as_read(given))


def _as_read(given: LeakGiven) -> tuple[list[Reading], list[str | None], list[float | None], Housing]:
    """The readings as read, their days, the masses of the sister, and the housing."""
    readings = readings_of([(one.runs, one.mass_g, _scale_of(one, given), one.day) for one in given.weighings])
    sisters_g = sisters_of_the_day_g(readings, [one.sister_mass_g for one in given.weighings])
    return readings, [one.day for one in given.weighings], sisters_g, given.housing


def water_reasons(given: LeakGiven) -> tuple[str, ...]:
    """What the sister housing took off, or why it does not count, and what water in the housing may have moved where
    that matters."""
    points, _ = counting_points(merged_points(_readings(given)))
    masses = [one.mass_g for one in given.weighings]
    as_read = _as_read(given)
    sisters_g = believable_sisters_g(*as_read)
    water = water_said(points[0], points[-1], _readings(given), masses, sisters_g, sister_state(*as_read))
    since = sister_since(*as_read[:2], sisters_g, given.housing)
    return (*sister_reasons(given), *since, *water)


def sister_reasons(given: LeakGiven) -> dict[str, DoubtfulSister]:
    """The masses of the sister housing that cannot be right, by what is asked about them."""
    return {words: doubtful for doubtful, words in sister_doubts(*_as_read(given))}


def advice_on_water(given: LeakGiven) -> str | None:
    """What to do about water in the housing where it may hide the loss; None where it does not matter."""
    points, _ = counting_points(merged_points(_readings(given)))
    water = water_that_matters(points[0], points[-1])
    return None if water is None else water_advice(water[0], sister_state(*_as_read(given)))


def advice_where_unclear(given: LeakGiven, *, is_seen: bool) -> str:
    """What helps where the limits leave a loss unclear, by what causes it: water in the housing, a scale that was never
    checked, or one that is too coarse; ``is_seen`` if a loss was seen."""
    water = advice_on_water(given)
    if water is not None:
        return water
    if is_seen:
        return "weigh it again"
    return "weigh it on a finer scale" if is_scale_checked(given) else CHECK_THE_SCALE


def _scale_of(one: LeakWeighing, given: LeakGiven) -> ScaleNoise:
    """Its own scale, of which something may not be known; the general one if it has no scale of its own."""
    if one.scale_step_g is None and one.repeatability_g is None:
        spread = given.day_to_day_g if one.day_to_day_g is None else one.day_to_day_g
        return ScaleNoise(given.scale_step_g, given.repeatability_g, spread)
    step = given.scale_step_g if one.scale_step_g is None else one.scale_step_g
    return ScaleNoise(step, one.repeatability_g, one.day_to_day_g)


def _scales(given: LeakGiven) -> list[ScaleNoise]:
    return list(dict.fromkeys(_scale_of(one, given) for one in given.weighings))


def is_scale_checked(given: LeakGiven) -> bool:
    """Whether the repeatability of every scale in use is known."""
    return all(one.repeatability_g is not None for one in _scales(given))


def never_checked_in_words(given: LeakGiven) -> str | None:
    """What every figure rests on where a scale in use was never checked: the step that is assumed; else None."""
    steps_g = [one.step_g for one in _scales(given) if one.repeatability_g is None]
    return assumed_in_words(max(steps_g), None) if steps_g else None


def _finest_step_g(given: LeakGiven) -> float:
    return min(one.step_g for one in _scales(given))


def leak(given: LeakGiven) -> LeakFound:
    """Loss first, then weighing to weighing, then a trend and a date where there are five points on a line.

    loss = first - last +/- 2 sqrt(u1^2 + u2^2 - 2 cov), u^2 = step^2 / 12 + s^2 + day^2 for each reading; seen: 1.96 of
    the same. The scale's error is left out: one scale, nearly the same mass. A weighing that the others contradict does
    not count. Date: limit / trend, from the first weighing; none where the trend may be none, or the scale was never
    checked.
    """
    without = _without_runs(given)
    limits, oil = given.limits, given.oil_mass_g
    points = [] if without is not None else points_of(given)
    lost = loss_of(points, limits) if without is None else without
    if is_more_than_went_in(lost, oil) and not (without is not None and lost.verdict == "unclear"):
        raise refuse(
            given,
            "weighings",
            loss_in_words(lost.loss_g, lost.uncertainty_g, oil),
            remedy="Compare weighings with the same parts on the scale only: a closed diff also holds lid and screws.",
            code="mass_basis",
        )
    if without is not None:
        return _found(given, without)
    counting, _ = counting_points(points)
    rate = rate_of(counting)
    reached = None
    if rate is not None and limits.stop_g is not None and is_scale_checked(given):
        reached = runs_to_limit(rate, limits.stop_g, counting[0].runs)
    return _found(given, lost, counting, rate, reached)


def _found(
    given: LeakGiven,
    lost: Loss,
    points: Sequence[Point] = (),
    rate: Rate | None = None,
    reached: RunsToLimit | None = None,
) -> LeakFound:
    oil, runs = given.oil_mass_g, None if reached is None else reached.runs
    is_settled = lost.contradiction is None or lost.contradiction.odd is not None
    seen_k = seen_k_of(len(points) - 1) if is_settled and is_scale_checked(given) else None
    return LeakFound(
        loss_g=lost.loss_g,
        loss_low_g=lost.loss_g - lost.uncertainty_g,
        loss_high_g=lost.loss_g + lost.uncertainty_g,
        smallest_loss_seen_g=lost.seen_g,
        loss_share=None if oil is None else lost.loss_g / oil,
        changed_after_runs=None if lost.bad_from_runs is None else lost.good_until_runs,
        changed_before_runs=lost.bad_from_runs,
        loss_g_per_run=None if rate is None else rate.g_per_run,
        loss_low_g_per_run=None if rate is None else rate.low_g_per_run,
        loss_high_g_per_run=None if rate is None else rate.high_g_per_run,
        runs_to_limit=runs,
        runs_to_limit_low=None if reached is None else reached.low,
        runs_to_limit_high=None if reached is None else reached.high,
        runs_left=_runs_left(given, lost, points, runs),
        rows=tuple(_interval(earlier, later, seen_k) for earlier, later in pairwise(points)),
    )


def _runs_left(given: LeakGiven, lost: Loss, points: Sequence[Point], runs: float | None) -> float | None:
    """None where the limit is reached, or the loss leaves open whether it is."""
    stop_g = given.limits.stop_g
    if runs is None or runs <= points[-1].runs or stop_g is None or lost.verdict == "stop":
        return None
    return None if is_limit_undecided(lost.loss_g, lost.uncertainty_g, stop_g) else runs - points[-1].runs


def _interval(earlier: Point, later: Point, seen_k: float | None) -> LossInterval:
    """From one weighing to the next; ``seen_k`` is how clear a loss has to be, None where that cannot be decided."""
    runs = later.runs - earlier.runs
    loss = earlier.mass_g - later.mass_g
    uncertainty = difference_uncertainty_g(earlier, later)
    return LossInterval(
        from_runs=earlier.runs,
        to_runs=later.runs,
        loss_g=loss,
        loss_g_per_run=loss / runs,
        uncertainty_g_per_run=COVERAGE_K * uncertainty / runs,
        detected="not known" if seen_k is None else "yes" if loss > seen_k * uncertainty else "no",
    )


def _grams(value: float, given: LeakGiven) -> str:
    """As many decimals as the scale shows, at least two."""
    return f"{value:.{max(2, ceil(-log10(_finest_step_g(given)) - 1e-9))}f} g"


def judge_leak(given: LeakGiven, found: LeakFound, *, in_use: bool = True) -> Judgement:
    """The verdict with its reasons, and last what is assumed of the scale between days; if the build is not ``in_use``,
    without the advice to weigh it again."""
    judged = _judged(given, found, in_use=in_use)
    assumed = assumed_from_day_to_day(given)
    return judged if assumed is None else judged._replace(reasons=(*judged.reasons, assumed))


def _judged(given: LeakGiven, found: LeakFound, *, in_use: bool) -> Judgement:
    doubts = disagreeing_reasons(given, in_use=in_use)
    without = _without_runs(given)
    if without is not None:
        return _judge_without_runs(given, without, doubts)
    points = points_of(given)
    limits = given.limits
    lost = loss_of(points, limits)
    findings = _findings(given, found, points, lost, in_use)
    when = f"in {_count(lost.last_runs - lost.first_runs)}"
    is_wet = advice_on_water(given) is not None
    said = loss_in_words(lost.loss_g, lost.uncertainty_g, given.oil_mass_g, when, is_wet=is_wet)
    if lost.loss_g < -lost.seen_g:
        return Judgement(lost.verdict, (f"{said}: {HEAVIER}", *doubts, *water_reasons(given)), findings)
    is_seen = lost.loss_g > lost.seen_g
    if is_seen:
        said += f", ± {lost.uncertainty_g:.3f} g (k = 2)"
    before = (*doubts, said) if is_only_contradicted(lost, limits) else (said, *doubts)
    reasons = (*before, *water_reasons(given), *_where_it_went(given, found, lost, in_use))
    if limits.stop_g is None or limits.caution_g is None:
        unknown = ("how much oil was put in is not known, so no share",) if is_seen else ()
        return Judgement(lost.verdict, (*reasons, *unknown), findings)
    return Judgement(lost.verdict, (*reasons, *_over_which_limit(given, lost)), findings)


def _judge_without_runs(given: LeakGiven, lost: Loss, doubts: tuple[str, ...]) -> Judgement:
    """The verdict where all was weighed after the same runs, and the scale does not explain the difference."""
    is_open = any(not one.counting for one in _disagreeing(given))
    if is_open and lost.verdict == "unclear":
        return Judgement(lost.verdict, doubts, ())
    seen = loss_in_words(lost.loss_g, lost.uncertainty_g, given.oil_mass_g)
    if lost.loss_g > lost.seen_g:
        seen += f", ± {lost.uncertainty_g:.3f} g (k = 2)"
    return Judgement(lost.verdict, (seen, *doubts, *_over_which_limit(given, lost)), ())


def _over_which_limit(given: LeakGiven, lost: Loss) -> tuple[str, ...]:
    limits = given.limits
    if lost.verdict == "ok" or limits.stop_g is None or limits.caution_g is None:
        return ()
    caution, stop = (
        _limit_in_words(given, limit_g, limits, is_stop=is_stop)
        for limit_g, is_stop in ((limits.caution_g, False), (limits.stop_g, True))
    )
    decided = undecided_in_words(lost.loss_g, lost.uncertainty_g, limits, caution, stop)
    if not decided and lost.verdict != "unclear":
        is_over_stop = is_over_for_certain(lost.loss_g, lost.uncertainty_g, limits.stop_g)
        decided = f"over {stop if is_over_stop else caution}"
    return (decided,) if decided else ()


def reached_of(found: LeakFound) -> RunsToLimit | None:
    """When the trend reaches the limit; None without one."""
    if found.runs_to_limit_low is None:
        return None
    return RunsToLimit(found.runs_to_limit, found.runs_to_limit_low, found.runs_to_limit_high)


def _count(runs: float) -> str:
    return counted(runs, "run")


def _limit_in_words(given: LeakGiven, limit_g: float, limits: LossLimits, *, is_stop: bool) -> str:
    """A limit, yours or proposed, with the share of the oil if it was set as one."""
    is_own = limits.owner == "yours" if is_stop or limit_g == limits.stop_g else given.caution_share != CAUTION_SHARE
    named = whose_limit("yours" if is_own else "proposal", limit_g, limits.typed_g)
    if given.oil_mass_g is None or limit_g == given.stop_loss_g:
        return named
    return f"{named} ({limit_share_in_words(limit_g / given.oil_mass_g)} of the oil)"


def _where_it_went(given: LeakGiven, found: LeakFound, lost: Loss, in_use: bool) -> list[str]:
    reasons = []
    points, _ = counting_points(points_of(given))
    is_settled = lost.contradiction is None or lost.contradiction.odd is not None
    if is_settled and is_scale_checked(given):
        at_first, sudden = lost_by_the_first_alone(points), sudden_loss(points)
        if at_first is not None and not _is_repeated(given, at_first.earlier):
            went, rate = _went_in_words(given, at_first, lost)
            reasons.append(f"{went} by the first weighing alone ({rate}): {ELSE_ON}")
        if sudden is not None:
            if _is_repeated(given, sudden.later):
                sudden = sudden._replace(is_confirmed=True)
            reasons.append(_sudden_in_words(given, sudden, lost, in_use))
    if found.changed_before_runs is not None:
        reasons.append(
            f"{turned_in_words(found.changed_after_runs, found.changed_before_runs, given.limits)}: "
            "what was run between them is doubtful"
        )
    reached = reached_of(found)
    if reached is not None:
        reasons.append(_date_in_words(given, reached, lost))
    return reasons


def _is_repeated(given: LeakGiven, point: Point) -> bool:
    """Whether two weighings or more after the same runs agree on a point."""
    same = [one for one in _readings(given) if one.runs == point.runs]
    return len(same) > 1 and all(one.counting for one in disagreements(same))


def _sudden_in_words(given: LeakGiven, sudden: SuddenLoss, lost: Loss, in_use: bool) -> str:
    """What went in one stretch, never more of the loss than there is; where one weighing alone shows it, that it does.

    A single weighing may be odd: that a loss was sudden is said only where a second one, after the same runs or later,
    shows that the mass stayed down.
    """
    went, rate = _went_in_words(given, sudden, lost)
    if sudden.is_confirmed:
        return f"sudden: {went} ({rate})"
    return f"{went} by the last weighing alone ({rate})" + (": weigh once more to be sure" if in_use else "")


def _went_in_words(given: LeakGiven, sudden: SuddenLoss, lost: Loss) -> tuple[str, str]:
    """What went in one stretch, and its rate."""
    interval = _interval(sudden.earlier, sudden.later, None)
    gone = "all of it" if sudden.loss_g >= lost.loss_g else f"{_grams(sudden.loss_g, given)} of it"
    went = f"{gone} went between run {sudden.earlier.runs:g} and {sudden.later.runs:g}"
    rate = f"{interval.loss_g_per_run:.3f} ± {interval.uncertainty_g_per_run:.3f} g per run, k = 2"
    return went, rate


def _date_in_words(given: LeakGiven, reached: RunsToLimit, lost: Loss) -> str:
    """When the trend reaches the limit, and the runs left; none where the loss leaves open whether it is over it."""
    stop_g = given.limits.stop_g or 0.0
    limit = _limit_in_words(given, stop_g, given.limits, is_stop=True)
    is_open = is_limit_undecided(lost.loss_g, lost.uncertainty_g, stop_g)
    left = UNCLEAR_IF_ANY if is_open else left_by_trend_in_words(reached, lost.last_runs)
    if reached.runs is None:
        return left if is_open else f"{left}: {limit} is not reached before run {floor(reached.low)}"
    at = f"at run {reached.runs:.1f} ({reached.low:.1f} to {reached.high:.1f}, 95 %)"
    if not is_open and (lost.verdict == "stop" or reached.runs <= lost.last_runs):
        return f"the trend reached {limit} {at}"
    return f"{left}: the trend reaches {limit} {at}"


def disagreeing_reasons(given: LeakGiven, *, in_use: bool = True) -> tuple[str, ...]:
    """Weighings that contradict each other: what the scale does not explain, and which of them count."""
    readings = _readings(given)
    apart = [f"{one.words}{one.advice if in_use else ''}" for one in disagreements(readings)]
    found = contradiction(merged_points(readings))
    return tuple(apart if found is None else [*apart, f"{found.words}{found.advice if in_use else ''}"])


def _findings(given: LeakGiven, found: LeakFound, weighed: list[Point], lost: Loss, in_use: bool) -> tuple[str, ...]:
    points, _ = counting_points(weighed)
    again = ": say the runs of each, and weigh again with the same parts on the scale" if in_use else ""
    findings = [
        f"{_grams(one.heaviest[1], given)} and {_grams(one.lightest[1], given)}, both after {_count(one.runs)}, are "
        f"further apart than the scale explains{again}"
        for one in _disagreeing(given)
        if not one.counting
    ]
    first, last = points[0], points[-1]
    if first.runs > 0:
        findings.append(f"the first weighing came after {_count(first.runs)}: what was lost before is not known")
    findings.extend(
        f"{assumed_in_words(one.step_g, None)}, and no loss between two weighings is called seen, none sudden, and no "
        "date is given: put one thing on it ten times to know it better"
        for one in _scales(given)
        if one.repeatability_g is None
    )
    findings.extend(_days_not_said(given, points, lost))
    seen_k = seen_k_of(len(points) - 1)
    gained = [
        f"{_grams(later.mass_g - earlier.mass_g, given)} heavier at run {later.runs:g} than at run {earlier.runs:g}"
        for earlier, later in pairwise(points)
        if later.mass_g - earlier.mass_g > seen_k * difference_uncertainty_g(earlier, later)
    ]
    findings.extend(f"{one}: {HEAVIER}" for one in gained)
    if len({one._replace(day_to_day_g=None) for one in _scales(given)}) > 1:
        findings.append("weighed on different scales: the difference between them is not in the uncertainty")
    if len(points) >= POINTS_FOR_A_TREND and found.loss_g_per_run is None:
        findings.append("no trend and no date: the weighings do not lie on one line within what the scale explains")
    elif found.loss_g_per_run is not None and given.limits.stop_g is not None and found.runs_to_limit is None:
        unknown = "the trend is not distinguishable from zero" if is_scale_checked(given) else NEVER_CHECKED
        findings.append(f"no date: {unknown}")
    if found.runs_to_limit is not None:
        beyond = (found.runs_to_limit - first.runs) / (last.runs - first.runs)
        if beyond > EXTRAPOLATION_LIMIT:
            findings.append(
                f"the date lies {beyond:.1f} times as far out as the last weighing: it is only good if nothing changes"
            )
    return tuple(findings)


def assumed_from_day_to_day(given: LeakGiven) -> str | None:
    """What is assumed of the scale between the days of the weighings, in words; None where nothing is."""
    unknown = [one for one in _scales(given) if one.day_to_day_g is None]
    if len({one.day for one in given.weighings} - {None}) < 2 or not unknown:
        return None
    return assumed_from_day_to_day_in_words(max(one.step_g for one in unknown), None)


def _days_not_said(given: LeakGiven, points: Sequence[Point], lost: Loss) -> Iterator[str]:
    """Said where the scale's shift from day to day is not known, nor on which days it weighed, and one step of it would
    change what is said."""
    days = {one.day for one in given.weighings}
    unknown = [one for one in _scales(given) if one.day_to_day_g is None]
    if None not in days or not unknown:
        return
    step = assumed_day_to_day_g(max(one.step_g for one in unknown), None)
    moved = sqrt(difference_uncertainty_g(points[0], points[-1]) ** 2 + 2.0 * step**2)
    is_seen = lost.loss_g > lost.seen_g
    if (is_seen and lost.loss_g <= SEEN_AT_95 * moved) or (
        lost.verdict in ("caution", "stop") and verdict_of(lost.loss_g, moved, given.limits) != lost.verdict
    ):
        yield (
            "weighed on days that are not said, and how far the scale is off from one day to another is not known: one "
            f"step of it ({step:g} g) would make this unclear; put one thing on it on several days to know"
        )


def leak_working(given: LeakGiven, found: LeakFound) -> tuple[str, ...]:
    without = _without_runs(given)
    if without is not None:
        heaviest, lightest = without.first_mass_g, without.last_mass_g
        return (f"heavier − lighter = {heaviest:g} g − {lightest:g} g = {without.loss_g:.3f} g, no run between them",)
    points, contradicted = counting_points(points_of(given))
    first, last = points[0], points[-1]
    lines = [] if contradicted is None else [contradicted.words]
    lines += [
        f"loss = first − last = {first.mass_g:g} g − {last.mass_g:g} g = {found.loss_g:.3f} g",
        f"U = 2 √(u₁² + u₂²{_minus_shared(first, last)}) = {found.loss_high_g - found.loss_g:.4f} g with u₁ = "
        f"{first.uncertainty_g:.4f} g and u₂ = {last.uncertainty_g:.4f} g, u² = step²/12 + s² for each reading"
        + (" + the day's and the water's" if first.readings else ""),
        f"smallest loss seen = 0.98 U = {found.smallest_loss_seen_g:.4f} g, "
        f"said as {smallest_seen_in_words(found.smallest_loss_seen_g)}",
    ]
    if found.loss_g_per_run is not None:
        lines.append(
            f"trend by least squares with the scale's uncertainty over {len(points)} weighings: "
            f"{found.loss_g_per_run:.4f} g per run ({found.loss_low_g_per_run:.4f} to "
            f"{found.loss_high_g_per_run:.4f}, 95 %)"
        )
        if found.runs_to_limit is not None:
            lines.append(
                f"limit = {given.limits.stop_g:g} g / {found.loss_g_per_run:.4f} g per run from run {first.runs:g} on "
                f"= run {found.runs_to_limit:.1f}; its ends by dividing by those of the trend"
            )
    elif len(points) < POINTS_FOR_A_TREND:
        lines.append(f"no trend: {POINTS_FOR_A_TREND} weighings are needed; there are {len(points)}")
    return tuple(lines)


def _minus_shared(first: Point, last: Point) -> str:
    return " − 2 cov" if first.readings and covariance_g2(first, last) else ""
