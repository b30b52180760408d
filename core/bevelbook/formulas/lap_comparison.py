"""Is it really faster: two groups of runs by one model, with the drift of each day taken out."""

from __future__ import annotations

from math import sqrt
from typing import Final

from bevelbook.declare.fields import choice, listing, quantity, record, text, whole
from bevelbook.formulas.drift_model import DriftModel
from bevelbook.formulas.lap_standing import (
    LapComparisonGiven,
    RunsCompared,
    compared_runs,
    longest_span,
    more_runs,
    times_of,
)
from bevelbook.formulas.lap_words import (
    answer_in_words,
    both_ways_in_words,
    cautions_in_words,
    drift_in_words,
    findings_in_words,
    label_of,
    plain_in_words,
)
from bevelbook.formulas.timed_runs import TimedRun
from bevelbook.plugin.calculator import Formula
from bevelbook.plugin.returned_values import Judgement
from bevelbook.stats.spread import mean, sample_variance


@record
class TimeWithoutDrift:
    order: int | None = whole("Place in the day")
    group: str = choice(("a", "b"), "Which of the two")
    time_s: float = quantity("s", "As timed; the mean of a run's laps")
    time_without_drift_s: float | None = quantity("s", "With the drift taken out, as in the middle of the day")
    day: str | None = text("Day", default=None)
    driver: str | None = text("Driver", default=None)
    counts: str = choice(("yes", "no"), "Whether it counts; no where it is far off the others", default="yes")


@record
class LapComparisonFound:
    answer: str = text("The answer in words")
    drift_s_per_run: float | None = quantity(
        "s/run", "How the times drifted from run to run; negative is faster", no_spread=True
    )
    drift_low_s_per_run: float | None = quantity("s/run", "Lower end of that, 95 %", exact=True)
    drift_high_s_per_run: float | None = quantity("s/run", "Upper end of that, 95 %", exact=True)
    drift_over_day_s: float | None = quantity(
        "s", "The same from the first run of a day to the last", digits=3, no_spread=True
    )
    difference_s: float | None = quantity(
        "s", "b minus a, the drift taken out; negative is b faster", digits=3, no_spread=True
    )
    difference_low_s: float | None = quantity("s", "Lower end of that, 95 %", digits=3, exact=True)
    difference_high_s: float | None = quantity("s", "Upper end of that", digits=3, exact=True)
    degrees_of_freedom: float | None = quantity("1", "Of that interval", exact=True, digits=1)
    plain_difference_s: float = quantity("s", "b minus a as timed, the drift left in", digits=3, no_spread=True)
    plain_low_s: float = quantity("s", "Lower end of that, 95 % (Welch)", digits=3, exact=True)
    plain_high_s: float = quantity("s", "Upper end of that", digits=3, exact=True)
    plain_degrees_of_freedom: float = quantity("1", "Of Welch's interval", exact=True, digits=1)
    more_runs_needed: int | None = whole("More runs of each, in turn, that would decide it; 0 where it is decided")
    rows: tuple[TimeWithoutDrift, ...] = listing(TimeWithoutDrift, "Run by run")


def compare_laps(given: LapComparisonGiven) -> LapComparisonFound:
    """b minus a by one model (a level and a drift for each day and driver), and the same as timed (Welch)."""
    found = compared_runs(given)
    drift, difference = found.model.drift, found.difference
    span = longest_span(found.runs)
    more = more_runs(found)
    return LapComparisonFound(
        answer=answer_in_words(given, found, more),
        drift_s_per_run=None if drift is None else drift.value,
        drift_low_s_per_run=None if drift is None else drift.low,
        drift_high_s_per_run=None if drift is None else drift.high,
        drift_over_day_s=None if drift is None else drift.value * span,
        difference_s=None if difference is None else difference.value,
        difference_low_s=None if difference is None else difference.low,
        difference_high_s=None if difference is None else difference.high,
        degrees_of_freedom=None if difference is None else difference.degrees_of_freedom,
        plain_difference_s=found.plain.value,
        plain_low_s=found.plain.low,
        plain_high_s=found.plain.high,
        plain_degrees_of_freedom=found.plain.degrees_of_freedom,
        more_runs_needed=more,
        rows=tuple(_rows(found)),
    )


def _rows(found: RunsCompared) -> list[TimeWithoutDrift]:
    left_out = [one.run for one in found.odd if not any(one.run is run for run in found.runs)]
    every = [(run, "yes") for run in found.runs] + [(run, "no") for run in left_out]
    every.sort(key=lambda pair: (pair[0].day or "", pair[0].driver or "", pair[0].order or 0))
    return [
        TimeWithoutDrift(
            order=run.order,
            group=run.group,
            time_s=run.time_s,
            time_without_drift_s=_without_drift(run, found.model),
            day=run.day,
            driver=run.driver,
            counts=counts,
        )
        for run, counts in every
    ]


def _without_drift(run: TimedRun, model: DriftModel) -> float | None:
    drift = model.drifts.get(run.session)
    return None if drift is None or run.order is None else run.time_s - drift * (run.order - model.middles[run.session])


def judge_laps(given: LapComparisonGiven, found: LapComparisonFound) -> Judgement:
    """ok only where the model decides, the times as they are agree, and nothing else was changed."""
    compared = compared_runs(given)
    findings = findings_in_words(given, compared)
    if compared.standing == "odd":
        return Judgement("unclear", (found.answer, *both_ways_in_words(given, compared)), findings)
    reasons = (found.answer, plain_in_words(given, compared), *drift_in_words(compared))
    if not compared.is_decided:
        return Judgement("unclear", reasons, findings)
    cautions = cautions_in_words(given, compared)
    return Judgement("caution" if cautions else "ok", (*reasons, *cautions), findings)


def laps_working(given: LapComparisonGiven, found: LapComparisonFound) -> tuple[str, ...]:
    compared = compared_runs(given)
    lines = []
    for group in "ab":
        times = times_of(compared.runs, group)
        lines.append(
            f"{label_of(given, group)}: mean {mean(times):.4f} s, spread {sqrt(sample_variance(times)):.4f} s, "
            f"{len(times)} runs"
        )
    difference = compared.difference
    if difference is not None:
        half = (difference.high - difference.low) / 2.0
        lines.append(
            "time = level of the day and driver + drift × order + (b − a), least squares, each group with a scatter of "
            f"its own: b − a = {difference.value:+.4f} s, half width t u = {half:.4f} s (95 %), t at "
            f"{difference.degrees_of_freedom:.2f} degrees of freedom, "
            f"residual scatter {compared.model.fit.residual_sd:.4f} s"
        )
    plain = compared.plain
    half = (plain.high - plain.low) / 2.0
    if compared.hides_scatter:
        lines.append(
            f"as timed: b − a = {plain.value:+.4f} s, half width {half:.4f} s, the step that times are read to"
        )
    else:
        lines.append(
            f"as timed: b − a = {plain.value:+.4f} s, half width t √(s_a²/n_a + s_b²/n_b) = {half:.4f} s (95 %), "
            f"t at {plain.degrees_of_freedom:.2f} degrees of freedom (Welch)"
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
