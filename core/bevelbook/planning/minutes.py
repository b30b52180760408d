"""How long a job on a diff takes: from the team's own builds at the bench, else as typed, else not timed."""

from __future__ import annotations

import sqlite3
from typing import Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import NEW
from bevelbook.facts.bench_minutes import BenchMinutes, UsualMinutes
from bevelbook.facts.job_times import OIL_CHANGE, REBUILD, TypedJobTime, TypedMinutes

RestsOn = Literal["own builds", "your figure", "not timed"]
OWN_BUILDS: RestsOn = "own builds"
YOUR_FIGURE: RestsOn = "your figure"
NOT_TIMED: RestsOn = "not timed"
_TYPED_AS: Final = {NEW: REBUILD, REBUILD: REBUILD, OIL_CHANGE: OIL_CHANGE}
"""Under which job the team types the minutes of a kind of build; a new one takes those of a rebuild, and says so."""
_HOURS_FROM_MIN: Final = 120.0
"""From so many minutes on they are said in hours."""


class Minutes(NamedTuple):
    """Minutes of a job: of hands, and of the waiting that goes with it, None where that was not timed.

    From the team's own builds ``hands`` and ``waiting`` are medians, ``hands_low`` and ``hands_high`` the quartiles,
    and ``builds`` how many they were; else these are None and 0. ``waiting_rests_on`` may be another than ``rests_on``.
    """

    hands: float | None
    hands_low: float | None
    hands_high: float | None
    waiting: float | None
    rests_on: RestsOn
    waiting_rests_on: RestsOn
    builds: int
    words: str


def minutes_in_words(minutes: float) -> str:
    """Whole minutes, from two hours on in hours and minutes.

    >>> minutes_in_words(44.6), minutes_in_words(119.6), minutes_in_words(190.0), minutes_in_words(180.0)
    ('45 min', '2 h', '3 h 10 min', '3 h')
    """
    whole = round(minutes)
    if whole < _HOURS_FROM_MIN:
        return f"{whole} min"
    hours, rest = divmod(whole, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def span_of_minutes_in_words(low: float, high: float) -> str:
    """From few minutes to many.

    >>> span_of_minutes_in_words(40.0, 55.2), span_of_minutes_in_words(100.0, 150.0), span_of_minutes_in_words(4.8, 5.2)
    ('40 to 55 min', '100 min to 2 h 30 min', '5 min')
    """
    first, last = minutes_in_words(low), minutes_in_words(high)
    if first == last:
        return first
    is_one_unit = first.endswith(" min") and last.endswith(" min") and "h" not in first + last
    return f"{first.removesuffix(' min')} to {last}" if is_one_unit else f"{first} to {last}"


class MinutesOfJobs:
    """How long the team's jobs take, from what was timed at the bench and what was typed.

    That typed minutes of a build without its waiting leave the waiting open, while those of a weighing say that none
    goes with it, is this project's own proposal.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._bench = BenchMinutes(connection)
        self._typed = TypedMinutes(connection)

    def of_build(self, kind: str, diff: str, car: str | None = None, position: str | None = None) -> Minutes:
        """How long a build of a kind takes on a diff (by id), in a car and a place where it is for one."""
        usual = self._bench.usual(kind)
        job = _TYPED_AS.get(kind)
        typed = None if job is None else self._typed.typed(job, diff, car, position)
        if usual is not None:
            return _of_own_builds(usual, typed)
        if typed is None:
            return _not_timed(f"{NOT_TIMED} yet, {self._bench.still_needed(kind)}")
        found = _as_typed(typed, f"{YOUR_FIGURE} for a {job}" if kind == NEW else YOUR_FIGURE)
        if typed.waiting_min is not None:
            return found
        return found._replace(waiting_rests_on=NOT_TIMED, words=f"{found.words}; its waiting is {NOT_TIMED}")

    def may_be_typed(self, kind: str) -> bool:
        """Whether the team may type how long a kind of build takes: not of a top-up."""
        return kind in _TYPED_AS

    def typed(self, job: str, diff: str, car: str | None = None, position: str | None = None) -> Minutes:
        """How long a job takes that no build comes of, such as a weighing: as the team typed it."""
        typed = self._typed.typed(job, diff, car, position)
        if typed is None:
            return _not_timed(NOT_TIMED)
        found = _as_typed(typed, YOUR_FIGURE)
        return found if found.waiting is not None else found._replace(waiting=0.0)


def _of_own_builds(usual: UsualMinutes, typed: TypedJobTime | None) -> Minutes:
    """What the builds say; their waiting as typed where it was timed too seldom."""
    hands = f"{span_of_minutes_in_words(usual.hands_low_min, usual.hands_high_min)} of hands"
    builds = f"from {counted(usual.builds, 'build')}"
    waiting, rests_on, words = usual.waiting_min, OWN_BUILDS, f"{hands}, {builds}"
    if waiting is not None and round(waiting) > 0:
        words = f"{hands} and {minutes_in_words(waiting)} of waiting, {builds}"
    elif waiting is None and typed is not None and typed.waiting_min is not None:
        waiting, rests_on = typed.waiting_min, YOUR_FIGURE
        words = f"{words}, and {minutes_in_words(waiting)} of waiting, {YOUR_FIGURE}"
    elif waiting is None:
        rests_on, words = NOT_TIMED, f"{words}; its waiting is {NOT_TIMED} yet"
    return Minutes(
        usual.hands_min, usual.hands_low_min, usual.hands_high_min, waiting, OWN_BUILDS, rests_on, usual.builds, words
    )


def _as_typed(typed: TypedJobTime, mark: str) -> Minutes:
    waits = f" and {minutes_in_words(typed.waiting_min)} of waiting" if typed.waiting_min else ""
    words = f"about {minutes_in_words(typed.hands_min)}{' of hands' if waits else ''}{waits}, {mark}"
    return Minutes(typed.hands_min, None, None, typed.waiting_min, YOUR_FIGURE, YOUR_FIGURE, 0, words)


def _not_timed(words: str) -> Minutes:
    return Minutes(None, None, None, None, NOT_TIMED, NOT_TIMED, 0, words)
