"""What a comparison or a summary left out: how many runs, of which build, why, and what would bring them in.

The reasons have one home here: commands, pages and calculators name them in the same words.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.formulas.percent import percent

LEFT_OUT: Final = "left out"
"""The key under which what is known of a record holds the words for the runs that its listing leaves out."""


class Why(NamedTuple):
    """A reason for leaving runs out, and what would bring such runs in; empty if nothing would."""

    words: str
    brings_in: str = ""


NO_CALL: Final = Why("no call", "say what was decided after each")
NO_TEMPERATURE: Final = Why("no track temperature", "write down the track temperature")
NO_DIFF_TEMPERATURE: Final = Why("no temperature of the diff", "measure the diff after the run")
NO_GRIP: Final = Why("no grip", "write down the grip")
NO_OIL: Final = Why("the viscosity of the oil is not known", "give the fluid its viscosity and where that is from")
NO_PLACE: Final = Why("no place in the car", "write down where the diff was, or where it usually runs")
NO_VENUE: Final = Why("no venue", "write down the venue")
NO_TIME: Final = Why("no lap time", "write down the best lap, the mean of the best five or the list of laps")
NO_ORDER: Final = Why("no place in the day", "write down the time of day or the place in the day")
BOTH_IN_THE_CAR: Final = Why("both were in the car")
OTHER_TIME: Final = Why("another kind of time than the others", "write down the same kind of time for each run")
NONE_LEFT: Final = Why("no run of the other is left to compare with")
_TOGETHER: Final = "run both on one day, by one driver, in one place of one car"


def lost_oil(loss_g: float | None, oil_in_g: float | None) -> Why:
    """The diff lost oil.

    >>> lost_oil(0.15, 1.86).words, lost_oil(0.15, None).words, lost_oil(None, 1.86).words
    ('it lost 8 % of its oil', 'it lost 0.15 g of oil', 'it lost oil')
    """
    how_much = "oil"
    if loss_g is not None:
        how_much = f"{percent(loss_g / oil_in_g)} of its oil" if oil_in_g else f"{loss_g:.2f} g of oil"
    return Why(f"it lost {how_much}", "run it again on a full diff")


def another(what: str) -> Why:
    """The other build ran on another day, at another venue, with another driver or car, or in another place.

    >>> another("driver").words
    'another driver'
    """
    return Why(f"another {what}", _TOGETHER)


def not_recorded(what: str) -> Why:
    """What would have to be equal is recorded for one of the two alone.

    >>> not_recorded("driver").words
    'no driver recorded for one of the two'
    """
    return Why(f"no {what} recorded for one of the two", f"write down the {what}")


class RunsLeftOut(NamedTuple):
    """Runs that were left out: how many, of which build (empty for any), and why. A note may hold several runs."""

    runs: float
    whose: str
    why: Why

    @property
    def words(self) -> str:
        """The same in words.

        >>> RunsLeftOut(5, "rear-a/1", lost_oil(0.15, 1.86)).words, RunsLeftOut(1, "", NO_CALL).words
        ('5 runs of rear-a/1 left out: it lost 8 % of its oil', '1 run left out: no call')
        """
        of = f" of {self.whose}" if self.whose else ""
        return f"{counted(self.runs, 'run')}{of} left out: {self.why.words}"

    @property
    def advice(self) -> str:
        """The same with what would bring them in.

        >>> RunsLeftOut(1, "", NO_CALL).advice
        '1 run left out: no call; say what was decided after each'
        """
        return f"{self.words}; {self.why.brings_in}" if self.why.brings_in else self.words


def counted_by_reason(found: Iterable[tuple[str, Why, float]]) -> tuple[RunsLeftOut, ...]:
    """Left-out runs, each note with the label of its build, the reason and its runs, added up; most first.

    >>> counted_by_reason([("", NO_GRIP, 1), ("", NO_CALL, 1), ("", NO_CALL, 3)])[0].words
    '4 runs left out: no call'
    """
    counts: dict[tuple[str, Why], float] = {}
    for label, why, runs in found:
        counts[label, why] = counts.get((label, why), 0) + runs
    return tuple(RunsLeftOut(count, *one) for one, count in sorted(counts.items(), key=lambda item: -item[1]))
