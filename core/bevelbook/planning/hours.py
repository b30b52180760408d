"""How many hours the work on several diffs is: hands one after the other, and the longest waiting once.

Several diffs share a wash and a wait, so hands are summed and of the waits the longest counts. Out of the car and in
again is a figure of its own, per car and place. What is not timed is named and never counted as nothing: the sum is
then "at least". What this project proposes: every act but "leave it" takes a diff out of its car, of several cars that
share it the first; and of what is unclear no hours are known.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import (
    CHANGE_THE_OIL,
    JOBS,
    LEAVE_IT,
    LOOK_AT_IT,
    NEW,
    REBUILD_IT,
    SECOND_ONE,
    UNCLEAR_WHAT,
    WEIGH_IT,
)
from bevelbook.facts.job_times import LOOK_OVER, OIL_CHANGE, OUT_AND_IN, REBUILD, WEIGH
from bevelbook.planning.minutes import NOT_TIMED, Minutes, MinutesOfJobs, minutes_in_words
from bevelbook.planning.places import DiffInPlace

MOST_NAMED: Final = 12
"""How many of those that nobody timed are named in a sentence; the work itself names all of them."""
_TYPED_FOR: Final = {WEIGH_IT: WEIGH, LOOK_AT_IT: LOOK_OVER}
_BUILT_FOR: Final = {CHANGE_THE_OIL: OIL_CHANGE, REBUILD_IT: REBUILD, SECOND_ONE: REBUILD}
_JOB_OF: Final = _TYPED_FOR | _BUILT_FOR


class WorkHours(NamedTuple):
    """Minutes per diff (by id) that has work, and per car (by id) and place of taking it out and putting it in.

    ``hands_min`` is the sum of all that is known, None where nothing is; ``longest_wait_min`` the longest waiting that
    is known. ``untimed`` names what is not in them: with any of it, both are "at least". ``to_type`` are the jobs for
    which no figure of the team stands in, of ``JOBS``.
    """

    of_diffs: Mapping[str, Minutes]
    out_and_in: Mapping[tuple[str, str], Minutes]
    hands_min: float | None
    longest_wait_min: float | None
    words: str
    untimed: tuple[str, ...]
    to_type: tuple[str, ...] = ()

    @property
    def is_at_least(self) -> bool:
        """Whether there is work whose minutes nobody knows."""
        return bool(self.untimed)


def hours_of(connection: sqlite3.Connection, acts: Mapping[str, str], places: Sequence[DiffInPlace]) -> WorkHours:
    """The hours of what a plan says of each diff: ``acts`` has one of ``PLAN_ACTS`` by diff (id); ``places`` where each
    is. Raises LookupError for a diff that has an act and no place."""
    jobs = MinutesOfJobs(connection)
    in_place = {one.diff: one for one in places}
    of_diffs: dict[str, Minutes] = {}
    out_and_in: dict[tuple[str, str], Minutes] = {}
    untimed: list[str] = []
    to_type: set[str] = set()
    for diff, act in acts.items():
        place = in_place[diff]
        if act == LEAVE_IT:
            continue
        if act == UNCLEAR_WHAT:
            untimed.append(f"{place.label}, as it is unclear what it needs")
            continue
        took = of_diffs[diff] = _minutes_of(jobs, act, place)
        if took.hands is None:
            untimed.append(f"{act} {place.label}" if act == REBUILD_IT else f"{place.label}: {act}")
        elif took.waiting is None:
            untimed.append(f"the waiting of {place.label}")
        if took.hands is None or took.waiting is None:
            to_type.add(_JOB_OF[act])
        if place.car is not None and place.position is not None:
            key = (place.car, place.position)
            out = out_and_in[key] = jobs.typed(OUT_AND_IN, diff, place.car, place.position)
            if out.hands is None:
                untimed.append(f"{OUT_AND_IN} at {place.car_name} {place.position}")
                to_type.add(OUT_AND_IN)
    all_of_it = (*of_diffs.values(), *out_and_in.values())
    hands = [one.hands for one in all_of_it if one.hands is not None]
    waits = [one.waiting for one in all_of_it if one.waiting]
    hands_min = sum(hands) if hands or not untimed else None
    longest_wait_min = max(waits, default=None if untimed else 0.0)
    in_it_min = sum(one.hands for one in out_and_in.values() if one.hands is not None)
    words = _in_words(hands_min, in_it_min, longest_wait_min, untimed)
    in_order = tuple(one for one in JOBS if one in to_type)
    return WorkHours(of_diffs, out_and_in, hands_min, longest_wait_min, words, tuple(untimed), in_order)


def _minutes_of(jobs: MinutesOfJobs, act: str, place: DiffInPlace) -> Minutes:
    if act in _TYPED_FOR:
        return jobs.typed(_TYPED_FOR[act], place.diff, place.car, place.position)
    kind = NEW if place.build is None else _BUILT_FOR[act]
    return jobs.of_build(kind, place.diff, place.car, place.position)


def _in_words(
    hands_min: float | None, out_and_in_min: float, longest_wait_min: float | None, untimed: Sequence[str]
) -> str:
    """As it stands under a plan: ``at least 1 h 20 min of hands, 20 min of it out of the car and in again; and 3 h of
    waiting; not timed: rebuild rear-b``. A sum of figures that are each about right is about right too."""
    named = (
        [*untimed[:MOST_NAMED], f"and {len(untimed) - MOST_NAMED} more"] if len(untimed) > MOST_NAMED + 1 else untimed
    )
    left_out = f"{NOT_TIMED}: {', '.join(named)}" if untimed else ""
    if hands_min is None:
        return left_out
    if not hands_min:
        return "no work"
    in_it = f", {minutes_in_words(out_and_in_min)} of it {OUT_AND_IN}" if out_and_in_min else ""
    waits = f"{';' if in_it else ','} and {minutes_in_words(longest_wait_min)} of waiting" if longest_wait_min else ""
    words = f"{minutes_in_words(hands_min)} of hands{in_it}{waits}"
    return f"at least {words}; {left_out}" if untimed else f"about {words}"
