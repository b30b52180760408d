"""Two groups of runs, brought to one figure a run and compared: what the runs allow to say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, NamedTuple

from bevelbook.declare.fields import choice, listing, record, text
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.drift_model import DriftModel, cancels_drift, drift_model, more_runs_needed
from bevelbook.formulas.odd_times import OddTime, odd_times
from bevelbook.formulas.timed_runs import (
    TimedRun,
    counts_by_group,
    is_in_blocks,
    one_figure_a_run,
    order_fault,
    smallest_sd_s,
    timing_step_s,
)
from bevelbook.plugin.calculator import refuse
from bevelbook.stats.least_squares import Interval
from bevelbook.stats.spread import mean, sample_variance
from bevelbook.stats.welch import welch

ASK: Final = "ask"
COUNT: Final = "count"
LEAVE_OUT: Final = "leave out"
Standing = Literal[
    "odd",
    "no order",
    "no drift",
    "no scatter",
    "open",
    "other sign",
    "hidden bend",
    "not alone",
    "if steady",
    "in blocks",
    "far uneven",
    "decided",
]
"""What the runs allow to say; see :func:`standing_of`."""


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
    odd_times: str = choice(
        (ASK, COUNT, LEAVE_OUT),
        "What to do with a time far off the others: ask about it, count it, or leave it out",
        default=ASK,
    )


class RunsCompared(NamedTuple):
    """What follows from the runs, before it is put into words."""

    runs: tuple[TimedRun, ...]
    """One figure a run, in the order of days, drivers and runs; without the odd ones where they do not count."""
    odd: tuple[OddTime, ...]
    fault: str | None
    """Why the order cannot be used."""
    model: DriftModel
    plain: Interval
    standing: Standing
    laps: int
    """Rows that were laps of one run with others, ``laps_of`` of how many runs."""
    laps_of: int
    hides_scatter: bool
    """Whether the times of each group are all equal: read too coarsely, and the intervals are at least a step wide."""

    @property
    def difference(self) -> Interval | None:
        """b minus a by the model; None where order, day or driver may be the difference."""
        return self.model.difference if self.fault is None else None

    @property
    def is_decided(self) -> bool:
        """Whether it can be said which is faster, if only with a caution."""
        return self.standing in ("decided", "far uneven", "in blocks", "if steady", "not alone")


def certain_runs(given: LapComparisonGiven) -> list[TimedRun]:
    """The runs that count: those on a diff that was not doubtful."""
    return [run for run in given.runs if run.doubtful != "yes"]


def compared_runs(given: LapComparisonGiven) -> RunsCompared:
    """Bring the runs to one figure each, set odd times aside, and compare the groups by the model and as timed.

    Where the times of each group are all equal, reading off hides the scatter: each mean may be half a step off, the
    difference a whole one.

    Raises InputError under two runs a side.
    """
    rows = certain_runs(given)
    fault = order_fault(rows)
    figures = one_figure_a_run(rows) if fault is None else None
    runs = figures.runs if figures else tuple(rows)
    _check_enough(given, runs, figures is not None and figures.laps > 0)
    smallest = smallest_sd_s(rows)
    found = odd_times(runs, smallest, fault is None)
    odd = found.odd if given.odd_times != COUNT else ()
    if odd and given.odd_times == LEAVE_OUT:
        _check_enough(given, found.others, False)
    if odd and min(counts_by_group(found.others)) >= 2:
        runs = found.others
    if fault is None:
        runs = tuple(sorted(runs, key=lambda run: (run.day or "", run.driver or "", run.order or 0)))
    if found.model is not None and found.model.runs == runs:
        model = found.model
    else:
        model = drift_model(runs, smallest, fault is None)
    hides_scatter = _all_equal(runs)
    if hides_scatter:
        step = timing_step_s([run.time_s for run in rows])
        plain = _read_to(_mean_difference(runs), step)
        if model.difference is not None:
            model = model._replace(difference=_read_to(model.difference, step))
    else:
        plain = welch(times_of(runs, "a"), times_of(runs, "b"))
    asked = bool(odd) and given.odd_times == ASK
    standing: Standing = "odd" if asked else standing_of(model, plain, fault, hides_scatter)
    laps, laps_of = (figures.laps, figures.of) if figures else (0, 0)
    return RunsCompared(runs, odd, fault, model, plain, standing, laps, laps_of, hides_scatter)


def _mean_difference(runs: Sequence[TimedRun]) -> Interval:
    value = mean(times_of(runs, "b")) - mean(times_of(runs, "a"))
    return Interval(value, value, value, len(runs) - 2)


def _read_to(found: Interval, step: float) -> Interval:
    """Not narrower than a step either way."""
    return found._replace(low=min(found.low, found.value - step), high=max(found.high, found.value + step))


def standing_of(model: DriftModel, plain: Interval, fault: str | None, hides_scatter: bool = False) -> Standing:
    """What the runs allow to say. The model decides; the times as they are have to agree.

    no order    the order of the runs is not known, so a drift cannot be taken out
    no drift    the order does not separate drift, day or driver from the difference
    no scatter  the times of each group are all equal: too coarse to show any scatter
    open        the model's interval includes zero
    other sign  as timed it is the other way round: the answer is all drift
    hidden bend decided over several days or drivers, but each was run in an order in which a drift that bends the same
                way each day looks the same as a difference (a b b a on each): more such days only make it worse
    not alone   as timed it is not decided, and one group came before the other on the whole: it rests on the drift.
                Where both have the same mean order on each day (a b b a) a steady drift cancels and only widens the
                interval as timed, so that the model's decision is enough.
    if steady   decided, but not if the drift bent, or (a single a b b a) nothing shows whether it did
    in blocks   decided, but all of one group was run before all of the other: anything that jumped once, at the change
                (a battery, rubber on the track), looks the same
    far uneven  decided, but one group has at most half the runs of the other, so that its scatter is hardly known
    decided     anything else

    Simulated for equal builds in all 210 orders of five to eight runs (2,000 each; no drift, 0.05 s a run, grip that
    comes in fast and levels off, a bent drift, times that hang together by 0.6): decided is said in at most 5 %;
    without the rule of a bent drift in up to 88 % (a b b b b b b a). What that rule costs: a b b a a b b a decides in
    92 % instead of 96 % where b is 0.1 s faster and the scatter 0.03 s.
    """
    if fault is not None:
        return "no order"
    found = model.difference
    if found is None:
        return "no drift"
    if hides_scatter:
        return "no scatter"
    if not found.decided:
        return "open"
    if found.value * plain.value <= 0.0:
        return "other sign"
    if model.hides_a_bend and len({run.session for run in model.runs}) > 1:
        return "hidden bend"
    if not plain.decided and not cancels_drift(model):
        return "not alone"
    bent = model.bent
    if bent is None or not bent.decided or bent.value * found.value <= 0.0:
        return "if steady"
    if is_in_blocks(model.runs):
        return "in blocks"
    few, many = sorted(counts_by_group(model.runs))
    return "far uneven" if 2 * few <= many else "decided"


def _check_enough(given: LapComparisonGiven, runs: Sequence[TimedRun], has_laps: bool) -> None:
    a, b = counts_by_group(runs)
    if min(a, b) < 2:
        laps = " (the laps of one run are one figure)" if has_laps else ""
        raise refuse(
            given,
            "runs",
            f"a comparison needs two runs a side, there {'is' if a == 1 else 'are'} {a} of a and {b} of b{laps}",
            remedy=Sentence("Give ", Named("runs"), "; runs on a doubtful diff do not count."),
            code="missing_input",
        )


def _all_equal(runs: Sequence[TimedRun]) -> bool:
    return sample_variance(times_of(runs, "a")) + sample_variance(times_of(runs, "b")) == 0


def times_of(runs: Sequence[TimedRun], group: str) -> list[float]:
    return [run.time_s for run in runs if run.group == group]


def longest_span(runs: Sequence[TimedRun]) -> int:
    by_session: dict[object, list[int]] = {}
    for run in runs:
        by_session.setdefault(run.session, []).append(run.order or 0)
    return max(max(orders) - min(orders) for orders in by_session.values())


def more_runs(found: RunsCompared) -> int | None:
    """More runs of each that would decide it; 0 where it is decided, None where the number would not help."""
    if found.standing == "open":
        return more_runs_needed(found.model)
    return 0 if found.is_decided else None
