"""Two builds on track: the runs that they did in turn, compared with the drift of the day separated out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import Answer, Bound, work_out
from bevelbook.declare.errors import InputError
from bevelbook.display.format import wrapped
from bevelbook.facts.in_turn import LABEL_A, LABEL_B, InTurn, known_in_turn
from bevelbook.formulas.lap_comparison import LAP_COMPARISON, LapComparisonFound
from bevelbook.formulas.lap_standing import ASK, LapComparisonGiven, compared_runs
from bevelbook.formulas.timed_runs import TimedRun

NEVER: Final = (
    "no day on which one driver had both in the same place of the same car, with two timed runs of each "
    "and their place in the day"
)


class OnTrack(NamedTuple):
    """What the runs in turn say; ``result`` is None where they say nothing, and ``why_not`` has the reason."""

    runs: InTurn
    result: Answer[LapComparisonGiven, LapComparisonFound] | None
    why_not: str | None

    @property
    def counted(self) -> str:
        """How many runs on which days."""
        return f"{len(self.runs.rows)} runs, {self.runs.time}: {'; '.join(self.runs.days)}"

    @property
    def left_out(self) -> list[str]:
        """How many runs of which build were left out, why, and what would bring them in."""
        return [one.advice for one in self.runs.left_out]

    @property
    def asks_about_a_time(self) -> bool:
        """Whether a time is so far off the others that somebody has to say whether it counts."""
        return self.result is not None and compared_runs(self.result.given).standing == "odd"

    def since_opened(self) -> Iterator[str]:
        """How many runs each build had done since it was filled."""
        for label, (fewest, most) in zip((self.runs.label_a, self.runs.label_b), self.runs.runs_before, strict=False):
            span = f"{fewest:g}" if fewest == most else f"{fewest:g} to {most:g}"
            yield f"{label}: filled {span} runs before these"

    def lines(self) -> Iterator[str]:
        """The comparison for people."""
        if self.result is None:
            yield from wrapped(f"nothing to compare: {self.why_not}", indent="  ")
            for one in self.left_out:
                yield from wrapped(one, indent="  ")
            return
        for reason in (
            f"{self.result.verdict}: {self.result.judgement.reasons[0]}",
            *self.result.judgement.reasons[1:],
        ):
            yield from wrapped(reason, indent="  ")
        for finding in self.result.findings:
            yield from wrapped(f"worth a look: {finding}", indent="  ")
        for one in (self.counted, *self.since_opened(), *self.left_out):
            yield from wrapped(one, indent="  ")

    def as_dict(self) -> dict[str, Any]:
        """The comparison for programs."""
        return {
            "result": self.result.as_dict() if self.result else None,
            "why_not": self.why_not,
            "left_out": [
                {"runs": one.runs, "build": one.whose, "why": one.why.words, "brings_in": one.why.brings_in}
                for one in self.runs.left_out
            ],
            "runs_since_opened": dict(zip((self.runs.label_a, self.runs.label_b), self.runs.runs_before, strict=False)),
        }


def on_track(runs: InTurn, odd_times: str = ASK) -> OnTrack:
    """Compare two builds on the runs that they did in turn; ``odd_times`` as in the inputs of the comparison."""
    if not runs.rows:
        return OnTrack(runs, None, _why_nothing(runs))
    try:
        return OnTrack(runs, compared(runs, odd_times=odd_times), None)
    except InputError as fault:
        return OnTrack(runs, None, fault.what)


def _why_nothing(runs: InTurn) -> str:
    if runs.is_never_in_turn or not runs.left_out:
        return NEVER
    if not any(runs.timed):
        return "none of their runs can be compared"
    a, b = runs.timed
    return (
        "a comparison needs two timed runs of each, in turn, there "
        f"{'is' if a == 1 else 'are'} {a} of {runs.label_a} and {b} of {runs.label_b}"
    )


def compared(
    runs: InTurn, label_a: str | None = None, label_b: str | None = None, odd_times: str = ASK
) -> Answer[LapComparisonGiven, LapComparisonFound]:
    """The comparison of runs in turn, under the labels of the builds or under other ones. Raises InputError."""
    given = LapComparisonGiven(
        runs=tuple(
            TimedRun(
                group=row.group,
                order=row.order,
                time_s=row.time_s,
                day=row.day,
                driver=row.driver,
                doubtful=row.doubtful,
            )
            for row in runs.rows
        ),
        label_a=label_a or runs.label_a,
        label_b=label_b or runs.label_b,
        also_changed=runs.also_changed,
        odd_times=odd_times,
    )
    origins = {name: origin for name, (_, origin) in known_in_turn(runs).items()}
    origins |= {name: "given" for name, label in ((LABEL_A, label_a), (LABEL_B, label_b)) if label}
    bound = Bound(given, {one.name: origins.get(one.same_as or "", "not given") for one in LAP_COMPARISON.inputs}, {})
    return work_out(LAP_COMPARISON, bound)
