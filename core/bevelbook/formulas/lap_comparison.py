"""Is it really faster: two groups of runs, the drift of the day first, then the difference."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import Final, NamedTuple

from bevelbook.declare.counting import plural
from bevelbook.declare.fields import choice, listing, quantity, record, text, whole
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.inputs import doubtful_in_words, was_doubtful
from bevelbook.plugin.calculator import Formula, refuse
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.line import CONFIDENCE, t_value
from bevelbook.stats.spread import mean, sample_variance

POWER: Final = 0.8
MOST_MORE_RUNS: Final = 200
NOTHING_ELSE: Final = ("nothing", "none", "no")


@record
class TimedRun:
    group: str = choice(("a", "b"), "Which of the two")
    order: int = whole("Place in the day, over both groups, from 1", minimum=1)
    time_s: float = quantity("s", "Lap time, or the mean of the best laps", above=0)
    day: str | None = text("Day, if the runs are from more than one", default=None)
    doubtful: str = was_doubtful()


@record
class LapComparisonGiven:
    runs: tuple[TimedRun, ...] = listing(TimedRun, "Runs of both groups", singular="run", same_as="in_turn.runs")
    label_a: str = text("What a is, such as 7,000", default="a", same_as="in_turn.label_a")
    label_b: str = text("What b is, such as 10,000", default="b", same_as="in_turn.label_b")
    also_changed: str | None = text(
        'What else was changed between the groups; "nothing" if nothing was',
        default=None,
        same_as="in_turn.also_changed",
    )


@record
class TimeWithoutDrift:
    order: int = whole("Place in the day")
    group: str = choice(("a", "b"), "Which of the two")
    time_s: float = quantity("s", "As timed")
    time_without_drift_s: float | None = quantity("s", "With the drift taken out, as in the middle of the day")
    day: str | None = text("Day", default=None)


@record
class LapComparisonFound:
    answer: str = text("The answer in words")
    drift_s_per_run: float | None = quantity("s/run", "How the times drifted from run to run; negative is faster")
    drift_low_s_per_run: float | None = quantity("s/run", "Lower end of that, 95 %", exact=True)
    drift_high_s_per_run: float | None = quantity("s/run", "Upper end of that, 95 %", exact=True)
    drift_over_day_s: float | None = quantity("s", "The same from the first run of a day to the last", digits=3)
    difference_s: float = quantity("s", "b minus a; negative is b faster", digits=3)
    difference_low_s: float = quantity("s", "Lower end of that, 95 % (Welch)", digits=3, exact=True)
    difference_high_s: float = quantity("s", "Upper end of that", digits=3, exact=True)
    degrees_of_freedom: float = quantity("1", "Of Welch's interval", exact=True)
    difference_without_drift_s: float | None = quantity("s", "b minus a with the drift taken out", digits=3)
    difference_without_drift_low_s: float | None = quantity("s", "Lower end of that, 95 %", digits=3, exact=True)
    difference_without_drift_high_s: float | None = quantity("s", "Upper end of that", digits=3, exact=True)
    more_runs_needed: int | None = whole("More runs of each group that would decide it; 0 where it is decided")
    rows: tuple[TimeWithoutDrift, ...] = listing(TimeWithoutDrift, "Run by run")


class Interval(NamedTuple):
    """An estimate with its 95 % interval."""

    value: float
    low: float
    high: float
    degrees_of_freedom: float

    @property
    def decided(self) -> bool:
        return self.low > 0 or self.high < 0


def welch(a: Sequence[float], b: Sequence[float]) -> Interval:
    """Mean of b minus mean of a with Welch's 95 % interval (scipy.stats.ttest_ind, unequal variances).

    Valid from two values a side that are not all equal.

    >>> found = welch([15.61, 15.70, 15.65], [15.70, 15.72])
    >>> round(found.value, 4), round(found.low, 4), round(found.high, 4), round(found.degrees_of_freedom, 2)
    (0.0567, -0.0424, 0.1557, 2.52)
    """
    from scipy.stats import ttest_ind

    fit = ttest_ind(b, a, equal_var=False)
    interval = fit.confidence_interval(CONFIDENCE)
    return Interval(mean(b) - mean(a), float(interval.low), float(interval.high), float(fit.df))


def _fitted(columns: Sequence[Sequence[float]], values: Sequence[float], wanted: int) -> Interval | None:
    """One coefficient of an ordinary least-squares fit; None if the columns do not determine it."""
    from numpy import asarray
    from scipy.linalg import inv, lstsq

    design = [list(row) for row in zip(*columns, strict=True)]
    left = len(values) - len(columns)
    coefficients, _, rank, _ = lstsq(asarray(design), asarray(values))
    if rank < len(columns) or left < 1:
        return None
    misfit = sum(
        (value - sum(c * x for c, x in zip(coefficients, row, strict=True))) ** 2
        for value, row in zip(values, design, strict=True)
    )
    products = [[sum(x * y for x, y in zip(one, other, strict=True)) for other in columns] for one in columns]
    error = sqrt(misfit / left * float(inv(asarray(products))[wanted][wanted]))
    value, half = float(coefficients[wanted]), t_value(left) * error
    return Interval(value, value - half, value + half, left)


def _levels(keys: Sequence[object]) -> list[list[float]]:
    return [[1.0 if one == key else 0.0 for one in keys] for key in dict.fromkeys(keys)]


def _centred_orders(runs: Sequence[TimedRun]) -> list[float]:
    middle = mean(run.order for run in runs)
    return [run.order - middle for run in runs]


def drift_of(runs: Sequence[TimedRun]) -> Interval | None:
    """Drift per run: slope of time on order with a level for each group of each day; None with too few runs."""
    columns = [*_levels([(run.day, run.group) for run in runs]), _centred_orders(runs)]
    return _fitted(columns, [run.time_s for run in runs], len(columns) - 1)


def difference_without_drift(runs: Sequence[TimedRun]) -> Interval | None:
    """b minus a in one fit with a level for each day and the drift; None if the runs do not determine it."""
    columns = [
        *_levels([run.day for run in runs]),
        [1.0 if run.group == "b" else 0.0 for run in runs],
        _centred_orders(runs),
    ]
    return _fitted(columns, [run.time_s for run in runs], len(columns) - 2)


def balanced(runs: Sequence[TimedRun]) -> bool:
    """Whether both groups have the same mean order on every day, so that a steady drift cancels."""
    for day in dict.fromkeys(run.day for run in runs):
        orders = [[run.order for run in runs if run.day == day and run.group == group] for group in "ab"]
        if not all(orders) or abs(mean(orders[0]) - mean(orders[1])) > 1e-9:
            return False
    return True


def more_runs_needed(a: Sequence[float], b: Sequence[float]) -> int | None:
    """More runs of each group until a difference and spread as seen show in four of five comparisons, at 95 %.

    Power of Welch's test by the noncentral t: P(|T| > t) with mean |d| / se at the degrees of freedom of the larger
    groups. None over 200. The difference seen is itself uncertain, so this is only a guide.

    >>> more_runs_needed([15.90, 15.94, 15.88, 15.95], [15.86, 15.90, 15.84, 15.91])
    8
    """
    difference = abs(mean(b) - mean(a))
    variances = (sample_variance(a), sample_variance(b))
    for more in range(1, MOST_MORE_RUNS + 1):
        parts = [v / (len(side) + more) for v, side in zip(variances, (a, b), strict=True)]
        error = sqrt(sum(parts))
        freedom = error**4 / sum(part**2 / (len(side) + more - 1) for part, side in zip(parts, (a, b), strict=True))
        if _power(difference / error, freedom) >= POWER:
            return more
    return None


def _power(away: float, freedom: float) -> float:
    from scipy.special import nctdtr

    limit = t_value(freedom)
    if away > limit + 10.0:
        return 1.0
    return 1.0 - float(nctdtr(freedom, away, limit)) + float(nctdtr(freedom, away, -limit))


def certain(given: LapComparisonGiven) -> list[TimedRun]:
    """The runs that count: those on a diff that was not doubtful."""
    return [run for run in given.runs if run.doubtful != "yes"]


def _times(runs: Sequence[TimedRun], group: str) -> list[float]:
    return [run.time_s for run in runs if run.group == group]


def compare_laps(given: LapComparisonGiven) -> LapComparisonFound:
    """Drift within the groups first, then b minus a with Welch's interval, then the same with the drift taken out."""
    runs = certain(given)
    a, b = _times(runs, "a"), _times(runs, "b")
    if min(len(a), len(b)) < 2:
        raise refuse(
            given,
            "runs",
            f"a comparison needs two runs a side, there are {len(a)} of a and {len(b)} of b",
            remedy=Sentence("Give ", Named("runs"), "; runs on a doubtful diff do not count."),
            code="missing_input",
        )
    if sample_variance(a) + sample_variance(b) == 0:
        raise refuse(
            given,
            "runs",
            "the times of each group are all equal, so they say nothing about the scatter",
            remedy="Give times to the hundredth or finer, and more runs.",
        )
    difference = welch(a, b)
    drift = drift_of(runs)
    without = difference_without_drift(runs)
    drift_spoils = difference.decided and _one_day(runs) and not balanced(runs) and not (without and without.decided)
    more = more_runs_needed(a, b) if not difference.decided else None if drift_spoils else 0
    span = _longest_span(runs)
    middle = mean(run.order for run in runs)
    return LapComparisonFound(
        answer=_answer(given, difference, more, drift, span, drift_spoils),
        drift_s_per_run=None if drift is None else drift.value,
        drift_low_s_per_run=None if drift is None else drift.low,
        drift_high_s_per_run=None if drift is None else drift.high,
        drift_over_day_s=None if drift is None else drift.value * span,
        difference_s=difference.value,
        difference_low_s=difference.low,
        difference_high_s=difference.high,
        degrees_of_freedom=difference.degrees_of_freedom,
        difference_without_drift_s=None if without is None else without.value,
        difference_without_drift_low_s=None if without is None else without.low,
        difference_without_drift_high_s=None if without is None else without.high,
        more_runs_needed=more,
        rows=tuple(
            TimeWithoutDrift(
                order=run.order,
                group=run.group,
                time_s=run.time_s,
                time_without_drift_s=None if drift is None else run.time_s - drift.value * (run.order - middle),
                day=run.day,
            )
            for run in sorted(runs, key=lambda run: (run.day or "", run.order))
        ),
    )


def _longest_span(runs: Sequence[TimedRun]) -> int:
    by_day: dict[str | None, list[int]] = {}
    for run in runs:
        by_day.setdefault(run.day, []).append(run.order)
    return max(max(orders) - min(orders) for orders in by_day.values())


def _one_day(runs: Sequence[TimedRun]) -> bool:
    """Whether the groups share a day, so that drift within the day is the question."""
    return bool({run.day for run in runs if run.group == "a"} & {run.day for run in runs if run.group == "b"})


def _answer(
    given: LapComparisonGiven,
    difference: Interval,
    more: int | None,
    drift: Interval | None,
    span: int,
    drift_spoils: bool,
) -> str:
    a, b = given.label_a, given.label_b
    word = "faster" if difference.value < 0 else "slower"
    size = f"{abs(difference.value):.3f} s a lap"
    drifted = ""
    if drift is not None and abs(drift.value * span) > abs(difference.value):
        drifted = (
            f"the runs got {abs(drift.value * span):.3f} s {'faster' if drift.value < 0 else 'slower'} over the day"
            f"{'' if drift.decided else ' (by chance, perhaps)'}, more than the difference; "
        )
    if drift_spoils:
        return (
            f"{drifted}not decided: {b} was {word} than {a} by {size}, but one came before the other and the drift "
            "may explain it; run them in turn, a b b a, so that it cancels"
        )
    if difference.decided:
        near, far = sorted((abs(difference.low), abs(difference.high)))
        return f"{drifted}{b} is {word} than {a} by {size}; from {near:.3f} to {far:.3f} s fits (95 %)"
    left_open = (
        f"{drifted}not decided: {b} was {word} than {a} by {size}, but anything from "
        f"{-difference.low:.3f} s faster to {difference.high:.3f} s slower fits (95 %)"
    )
    if more is None:
        return f"{left_open}; even {MOST_MORE_RUNS} more runs of each would hardly decide it"
    return f"{left_open}; about {more} more {plural(more, 'run')} of each would decide it, if it stays like this"


def judge_laps(given: LapComparisonGiven, found: LapComparisonFound) -> Judgement:
    runs = certain(given)
    drift = _drift_in_words(found)
    reasons = (found.answer,) if drift is None else (found.answer, drift)
    findings = _findings(given, runs)
    if found.more_runs_needed != 0:
        return Judgement("unclear", reasons, findings)
    if not _one_day(runs):
        return Judgement(
            "caution", (*reasons, "the groups ran on different days: the day may be the difference"), findings
        )
    if given.also_changed is not None and given.also_changed.casefold() not in NOTHING_ELSE:
        return Judgement(
            "caution",
            (*reasons, f"also changed: {given.also_changed}; the difference is from all of it together"),
            findings,
        )
    return Judgement("ok", reasons, findings)


def _drift_in_words(found: LapComparisonFound) -> str | None:
    if found.drift_s_per_run is None or found.drift_over_day_s is None:
        return None
    fits = f"{found.drift_low_s_per_run:+.3f} to {found.drift_high_s_per_run:+.3f} fits, 95 %"
    word = "faster" if found.drift_s_per_run < 0 else "slower"
    if found.drift_low_s_per_run is not None and found.drift_high_s_per_run is not None:
        is_decided = found.drift_low_s_per_run > 0 or found.drift_high_s_per_run < 0
        fits += "" if is_decided else ", so there may be none"
    return (
        f"drift: the runs got {word} by {abs(found.drift_over_day_s):.3f} s over the day "
        f"({found.drift_s_per_run:+.3f} s per run; {fits})"
    )


def _findings(given: LapComparisonGiven, runs: Sequence[TimedRun]) -> tuple[str, ...]:
    findings = []
    if given.also_changed is None:
        findings.append(
            "anything else changed between the two: tyres and runs on them, battery, driver, height, the line? "
            'Write it under "also changed", or "nothing" there'
        )
    findings += doubtful_in_words([run.doubtful for run in given.runs])
    places = [(run.day, run.order) for run in runs]
    if len(set(places)) < len(places):
        findings.append("two runs have the same order in one day: the drift is only as good as the order")
    days = len({run.day for run in runs})
    if days > 1:
        findings.append(f"runs of {days} days: other differences between the days are in the spread")
    return tuple(findings)


def laps_working(given: LapComparisonGiven, found: LapComparisonFound) -> tuple[str, ...]:
    runs = certain(given)
    lines = []
    for group, label in (("a", given.label_a), ("b", given.label_b)):
        times = _times(runs, group)
        lines.append(
            f"{label}: mean {mean(times):.4f} s, spread {sqrt(sample_variance(times)):.4f} s, {len(times)} runs"
        )
    half = (found.difference_high_s - found.difference_low_s) / 2.0
    lines.append(
        f"b − a = {found.difference_s:+.4f} s, half width t √(s_a²/n_a + s_b²/n_b) = {half:.4f} s, "
        f"t at {found.degrees_of_freedom:.2f} degrees of freedom (Welch)"
    )
    if found.difference_without_drift_s is not None:
        lines.append(
            f"with the drift taken out: b − a = {found.difference_without_drift_s:+.4f} s "
            f"({found.difference_without_drift_low_s:+.4f} to {found.difference_without_drift_high_s:+.4f}, 95 %)"
        )
    return tuple(lines)


LAP_COMPARISON: Final = Formula(
    title="Run comparison",
    given=LapComparisonGiven,
    found=LapComparisonFound,
    compute=compare_laps,
    judge=judge_laps,
    working=laps_working,
)
