"""What is due for each diff before so many runs: one act, with its reasons in numbers, and what would settle it.

The decision is made in :func:`decide` alone: the plan of an event, the check, the first page and the page of a diff
take it from here. It rests on facts only. These rules are this project's proposal, nobody published them: a limit of
runs asks for fresh oil while all else is sound; a diff that is opened anyway is rebuilt where its seals are at their
last use or something else is wrong with it; oil that may run out within the runs planned is unclear, oil that does so
for certain a rebuild; a diff of which nobody wrote how many runs are planned does a usual day.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import (
    CHANGE_THE_OIL,
    LEAVE_IT,
    LOOK_AT_IT,
    NOT_SAID,
    PLAN_ACTS,
    REBUILD_IT,
    UNCLEAR_WHAT,
    WEIGH_IT,
)
from bevelbook.display.days import built_in_words
from bevelbook.facts import diffs
from bevelbook.facts.masses import LEFT_OPEN, weighed_masses_sql
from bevelbook.facts.runs import RECORDS, count_of
from bevelbook.facts.sql import Row
from bevelbook.facts.usual_runs import RUNS_OF_A_DAY, usual_runs
from bevelbook.formulas.leak import CHECK_THE_SCALE
from bevelbook.formulas.oil_lost_words import state_of_loss
from bevelbook.formulas.runs_left_words import NONE_LEFT, left_in_words, whole_runs
from bevelbook.reports.due_reasons import (
    LIMIT_PASSED,
    NOTHING_KNOWN,
    OIL_MAY_RUN_OUT,
    OIL_NOT_FORESEEN,
    OIL_RUNS_OUT,
    SEALS_AT_LAST_USE,
    WEIGHED_ONCE,
    WEIGHINGS_DISAGREE,
)
from bevelbook.reports.oil_lost_line import disagreeing_said, is_unclear_by_weighings
from bevelbook.reports.resting_reasons import RestingReasons
from bevelbook.reports.shelf import (
    ADVICE,
    lost_said,
    reasons_in_words,
    runs_against_limit,
    shelf_rows,
    short_reason,
    short_words,
)

_ACT_OF: Final = {
    diffs.LOST_TOO_MUCH: REBUILD_IT,
    diffs.BROKE: REBUILD_IT,
    diffs.NOTCHY: REBUILD_IT,
    OIL_RUNS_OUT: REBUILD_IT,
    diffs.RUNS_REACHED: CHANGE_THE_OIL,
    diffs.WET_ON_PAPER: LOOK_AT_IT,
    diffs.LOST_SOME: LOOK_AT_IT,
    diffs.CANNOT_TELL: WEIGH_IT,
    diffs.NOT_WEIGHED: WEIGH_IT,
    diffs.WEIGHED_LONG_AGO: WEIGH_IT,
    diffs.SEALS_OVER: LOOK_AT_IT,
    diffs.TURNS_BADLY: LOOK_AT_IT,
    WEIGHINGS_DISAGREE: WEIGH_IT,
    LIMIT_PASSED: CHANGE_THE_OIL,
    SEALS_AT_LAST_USE: LEAVE_IT,
    OIL_MAY_RUN_OUT: UNCLEAR_WHAT,
    OIL_NOT_FORESEEN: UNCLEAR_WHAT,
    WEIGHED_ONCE: UNCLEAR_WHAT,
    NOTHING_KNOWN: UNCLEAR_WHAT,
    diffs.ON_THE_BENCH: REBUILD_IT,
    diffs.GIVEN_UP: REBUILD_IT,
    diffs.OPENED: REBUILD_IT,
    diffs.NOT_BUILT: REBUILD_IT,
}
"""What each reason asks for, the most urgent first; those of the shelf in its order."""
URGENCY: Final = tuple(_ACT_OF)
_OPENINGS: Final = (diffs.RUNS_REACHED, LIMIT_PASSED)
"""Reasons for which a diff is opened though all of it may be sound."""
_SEEN_TO_WHEN_OPEN: Final = (
    diffs.WET_ON_PAPER,
    diffs.LOST_SOME,
    diffs.SEALS_OVER,
    diffs.TURNS_BADLY,
    SEALS_AT_LAST_USE,
)
"""Reasons for which a diff that is opened anyway gets more than fresh oil."""
_OF_WEIGHINGS: Final = (
    diffs.NOT_WEIGHED,
    diffs.WEIGHED_LONG_AGO,
    WEIGHED_ONCE,
    WEIGHINGS_DISAGREE,
    OIL_MAY_RUN_OUT,
    OIL_NOT_FORESEEN,
)
"""Reasons that opening a diff settles: no weighing is asked for then."""
PHRASE_OF: Final = {
    LEAVE_IT: "leave {} as it is",
    UNCLEAR_WHAT: "unclear: {}",
    WEIGH_IT: "weigh {}",
    LOOK_AT_IT: "look at {}",
    CHANGE_THE_OIL: "change the oil in {}",
    REBUILD_IT: "rebuild {}",
}
"""Each act as a sentence, with ``{}`` for the name of the diff."""


BETWEEN_OPENINGS: Final = "runs between openings"
BY_OIL_LOST: Final = "oil lost"
"""The measures by which runs are left."""
WEIGH_AGAIN: Final = "weigh it again"
_SETTLED_BY: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        NOTHING_KNOWN: ("write down which oil is in it, how many grams, and its runs", "weigh it closed"),
        OIL_NOT_FORESEEN: (CHECK_THE_SCALE, "weigh it after its next run"),
        WEIGHED_ONCE: ("weigh it the same way after its next run",),
        diffs.NOT_BUILT: ("if it is built, write its build down",),
        diffs.ON_THE_BENCH: ("finish it there",),
        diffs.LOST_SOME: ("find where it is wet",),
        diffs.TURNS_BADLY: ("turn it by hand",),
        diffs.SEALS_OVER: ("new seals when it is next opened",),
    }
)
"""What settles a reason, or is done for it, beside the act itself; where the diff is opened, nothing of it is left."""


_FIRST_MASSES: Final = f"""
WITH asked AS MATERIALIZED (SELECT b.* FROM json_each(?) t CROSS JOIN builds b ON b.id = t.value)
SELECT build, min(runs) FROM ({weighed_masses_sql("asked", RECORDS)})
WHERE runs IS NOT NULL AND mass_basis NOT IN ('{NOT_SAID}', '{LEFT_OPEN}') GROUP BY build ORDER BY build
"""
"""After how many runs builds were first weighed with it said what was on the scale."""


class DiffState(NamedTuple):
    """All that decides what is due for a diff, and nothing else. Runs are since its build.

    ``reasons`` are those of the shelf (``facts.diffs``); ``resting`` are reasons that were put by. ``stop_low_runs``
    and ``stop_high_runs`` are the ends of the interval in which its limit of oil lost is reached. ``is_loss_seen`` is
    whether a loss was seen; ``is_anything_known`` whether anything is written down of its build but its day.
    ``is_weighed_once`` is whether it was weighed since its last run, with nothing before to hold that against: weighing
    it again says nothing.
    """

    reasons: tuple[str, ...] = ()
    resting: frozenset[str] = frozenset()
    runs: float = 0.0
    limit_runs: float | None = None
    seal_uses: int | None = None
    limit_seal_uses: float | None = None
    stop_low_runs: float | None = None
    stop_runs: float | None = None
    stop_high_runs: float | None = None
    weighed_at_runs: float | None = None
    is_loss_seen: bool = False
    is_limit_known: bool = False
    do_weighings_disagree: bool = False
    is_anything_known: bool = True
    is_weighed_once: bool = False

    @property
    def is_apart(self) -> bool:
        """Whether it cannot run as it is."""
        return any(diffs.WORD_OF[reason] == diffs.APART for reason in self.reasons)


class RunsToGo(NamedTuple):
    """Runs left by the measure that ends first. ``left`` is None where only ``low`` is known, the runs that are left at
    least; ``high`` with it."""

    by: str
    left: float | None
    low: float | None
    high: float | None
    words: str


class Decision(NamedTuple):
    """What is due: one act of ``PLAN_ACTS``, and the reasons for it by their keys, those that ask for it first."""

    act: str
    reasons: tuple[str, ...]

    @property
    def urgency(self) -> int:
        """How urgent it is: the smaller the more; of no reason the least."""
        return min((URGENCY.index(one) for one in self.reasons), default=len(URGENCY))


class Due(NamedTuple):
    """What is due for a diff, with its last build, by id and label.

    ``reasons`` are words with their numbers, ``settle`` what would settle what is unclear, or goes with the act.
    ``keys`` are the reasons by their keys, the ones that ask for the act first.
    """

    diff: str
    label: str
    build: str | None
    build_label: str | None
    act: str
    reasons: tuple[str, ...]
    settle: tuple[str, ...]
    runs_left: RunsToGo | None
    keys: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {**self._asdict(), "runs_left": self.runs_left._asdict() if self.runs_left else None}

    @property
    def words(self) -> str:
        """What to do and why, in one line."""
        return f"{PHRASE_OF[self.act].format(self.label)}{self.after}"

    @property
    def after(self) -> str:
        """The reasons and what settles them, as they follow what is to be done."""
        why = f" ({'; '.join(self.reasons)})" if self.reasons else ""
        return f"{why}: {'; '.join(self.settle)}" if self.settle else why


class RunsPlanned(NamedTuple):
    """How many runs are ahead of a diff: as planned, or as many as a day usually has."""

    runs: float
    is_usual: bool

    @property
    def words(self) -> str:
        """``12 planned``, ``a day usually has 4``."""
        return f"a day usually has {self.runs:g}" if self.is_usual else f"{self.runs:g} planned"


def decide(state: DiffState, runs_planned: float, *, is_opened: bool = False) -> Decision:
    """What is due for a diff before so many runs: the heaviest act that any reason asks for.

    More runs behind it, or ahead, never make it lighter. ``is_opened`` where it is opened anyway, for another oil: that
    gives no reason of its own, but what is seen to while it is open asks for a rebuild.

    >>> decide(DiffState(runs=8.0, limit_runs=10.0), 6.0).act, decide(DiffState(runs=4.0, limit_runs=10.0), 6.0).act
    ('change the oil', 'leave it')
    >>> decide(DiffState(runs=8.0, limit_runs=10.0, seal_uses=3, limit_seal_uses=3.0), 6.0).act
    'rebuild'
    >>> [decide(DiffState(runs=2.0, seal_uses=3, limit_seal_uses=3.0), 6.0, is_opened=one).act for one in (False, True)]
    ['leave it', 'rebuild']
    >>> [decide(DiffState(runs=6.0, stop_low_runs=14.6, stop_high_runs=25.5), runs).act for runs in (8.0, 12.0, 20.0)]
    ['leave it', 'unclear', 'rebuild']
    """
    asked = {one: _ACT_OF[one] for one in _reasons(state, runs_planned) if one not in state.resting}
    if is_opened or any(one in asked for one in _OPENINGS):
        asked |= dict.fromkeys((one for one in _SEEN_TO_WHEN_OPEN if one in asked), REBUILD_IT)
    act = max(asked.values(), key=PLAN_ACTS.index, default=LEAVE_IT)
    if is_opened or PLAN_ACTS.index(act) >= PLAN_ACTS.index(CHANGE_THE_OIL):
        settled = {*_OF_WEIGHINGS} if state.is_loss_seen else {*_OF_WEIGHINGS, diffs.CANNOT_TELL}
    else:
        settled = {SEALS_AT_LAST_USE}
    asked = {one: each for one, each in asked.items() if one not in settled}
    act = max(asked.values(), key=PLAN_ACTS.index, default=LEAVE_IT) if is_opened else act
    in_order = sorted(asked, key=lambda one: (-PLAN_ACTS.index(_ACT_OF[one]), URGENCY.index(one)))
    return Decision(act, tuple(in_order))


def _reasons(state: DiffState, runs_planned: float) -> Iterator[str]:
    """Every reason that holds, in no order."""
    if state.is_apart:
        yield from state.reasons
        return
    if not state.is_anything_known and state.runs == 0.0:
        yield NOTHING_KNOWN
    else:
        is_once = state.is_weighed_once and diffs.NOT_WEIGHED not in state.resting
        yield from (WEIGHED_ONCE if is_once and one == diffs.NOT_WEIGHED else one for one in state.reasons)
    if state.do_weighings_disagree:
        yield WEIGHINGS_DISAGREE
    if state.limit_runs is not None and state.runs < state.limit_runs < state.runs + runs_planned:
        yield LIMIT_PASSED
    uses, most = state.seal_uses, state.limit_seal_uses
    if uses is not None and most is not None and uses == most:
        yield SEALS_AT_LAST_USE
    yield from _oil_ahead(state, runs_planned)


def _oil_ahead(state: DiffState, runs_planned: float) -> Iterator[str]:
    """Whether the limit of oil lost is reached within the runs planned, for certain or perhaps."""
    if diffs.LOST_TOO_MUCH in state.reasons:
        return
    after = state.runs + runs_planned
    if state.stop_high_runs is not None and state.stop_high_runs < after:
        yield OIL_RUNS_OUT
    elif state.stop_low_runs is not None:
        if state.stop_low_runs < after:
            yield OIL_MAY_RUN_OUT
    elif state.is_loss_seen and state.is_limit_known and diffs.CANNOT_TELL not in state.reasons:
        yield OIL_NOT_FORESEEN


def runs_to_go(state: DiffState) -> RunsToGo | None:
    """Runs left by the measure that ends first, of the limit of runs and that of oil lost; None where neither is known,
    and for a diff that is apart."""
    if state.is_apart:
        return None
    found = [one for one in (_by_limit_of_runs(state), _by_oil_lost(state)) if one is not None]
    return min(found, key=lambda one: (one.low or 0.0, one.by), default=None)


def _by_limit_of_runs(state: DiffState) -> RunsToGo | None:
    if state.limit_runs is None:
        return None
    left = max(0.0, state.limit_runs - state.runs)
    words = (
        f"{count_of(left)} left of your {state.limit_runs:g}"
        if left
        else runs_against_limit(state.limit_runs, state.runs)
    )
    return RunsToGo(BETWEEN_OPENINGS, left, left, left, words)


def _by_oil_lost(state: DiffState) -> RunsToGo | None:
    if diffs.LOST_TOO_MUCH in state.reasons:
        return RunsToGo(BY_OIL_LOST, 0.0, 0.0, 0.0, NONE_LEFT)
    if state.stop_low_runs is None:
        return None
    low = max(0.0, state.stop_low_runs - state.runs)
    left, high = (
        None if one is None else max(0.0, one - state.runs) for one in (state.stop_runs, state.stop_high_runs)
    )
    return RunsToGo(BY_OIL_LOST, left, low, high, f"{left_in_words(low, high)} left until the limit of oil lost")


def state_of(row: Row, resting: frozenset[str] = frozenset()) -> DiffState:
    """The state of a diff from its row of the shelf."""
    is_loss_seen = (
        row["loss_g"] is not None and state_of_loss(row["loss_g"], row["loss_uncertainty_g"], row["oil_in_g"]) == "lost"
    )
    reasons = tuple(filter(None, (row["reasons"] or "").split(diffs.BETWEEN_REASONS)))
    known = (row["fluid"], row["viscosity_cst"], row["hand_feel"], row["seal_uses"])
    return DiffState(
        reasons=reasons,
        resting=resting,
        runs=row["runs"],
        limit_runs=row["limit_runs"],
        seal_uses=row["seal_uses"],
        limit_seal_uses=row["limit_seal_uses"],
        stop_low_runs=row["stop_low_runs"],
        stop_runs=row["stop_runs"],
        stop_high_runs=row["stop_high_runs"],
        weighed_at_runs=row["weighed_at_runs"],
        is_loss_seen=is_loss_seen,
        is_limit_known=row["stop_g"] is not None,
        do_weighings_disagree=bool(row["weighings_apart"]) and not is_unclear_by_weighings(row),
        is_anything_known=reasons != (diffs.NOT_WEIGHED,) or any(one is not None for one in known),
    )


class Decided(NamedTuple):
    """A row of the shelf with its state, the runs ahead of it, and what is due."""

    row: Row
    state: DiffState
    planned: RunsPlanned
    decision: Decision


def decided(
    connection: sqlite3.Connection,
    shelf: Sequence[Row],
    planned: Mapping[str, float | None] = MappingProxyType({}),
    opened: Collection[str] = (),
) -> list[Decided]:
    """What is due for each row of the shelf, in their order; ``planned`` are runs by diff (id), the others do a usual
    day; ``opened`` are diffs that are opened anyway. What was put by does not count. It rests on facts alone, and no
    build is worked out again."""
    resting = RestingReasons(connection).of_rows(shelf)
    once = _weighed_once(connection, shelf)
    found = []
    usual: float | None = None
    for row in shelf:
        state = state_of(row, resting.get(row["diff"], frozenset()))._replace(is_weighed_once=row["build"] in once)
        runs = planned.get(row["diff"])
        if runs is None:
            if usual is None:
                usual = usual_runs(connection) if _are_runs_asked(shelf) else RUNS_OF_A_DAY
            ahead = RunsPlanned(usual, is_usual=True)
        else:
            ahead = RunsPlanned(runs, is_usual=False)
        found.append(Decided(row, state, ahead, decide(state, ahead.runs, is_opened=row["diff"] in opened)))
    return found


def _weighed_once(connection: sqlite3.Connection, shelf: Iterable[Row]) -> set[str]:
    """Builds that ran and were weighed since, while nothing before that can be held against it."""
    runs = {row["build"]: row["runs"] for row in shelf if row["runs"] and diffs.NOT_WEIGHED in (row["reasons"] or "")}
    if not runs:
        return set()
    found = connection.execute(_FIRST_MASSES, (json.dumps(sorted(runs)),))
    return {build for build, first in found if first >= runs[build]}


def _are_runs_asked(shelf: Iterable[Row]) -> bool:
    """Whether the runs ahead matter for any row: only then the records are asked how many a day usually has."""
    return any(row["limit_runs"] is not None or row["stop_low_runs"] is not None for row in shelf)


def due_of_diffs(
    connection: sqlite3.Connection,
    planned: Mapping[str, float | None] = MappingProxyType({}),
    opened: Collection[str] = (),
    *,
    shelf: Sequence[Row] | None = None,
) -> dict[str, Due]:
    """What is due for every diff, by its id; ``planned`` and ``opened`` as in :func:`decided`, ``shelf`` its rows with
    their advice where they are known already."""
    found = shelf_rows(connection) if shelf is None else shelf
    return {one.row["diff"]: due_in_words(one) for one in decided(connection, found, planned, opened)}


def due_in_words(one: Decided) -> Due:
    """The same in words; the row has its advice (``shelf.with_advice``)."""
    row, decision = one.row, one.decision
    words = dict(reasons_in_words(row))
    reasons = [said for key in decision.reasons if (said := _said(key, one, words))]
    to_go = runs_to_go(one.state)
    if decision.act == LEAVE_IT:
        reasons = list(_why_left(one, to_go))
    return Due(
        row["diff"],
        row["label"],
        row["build"],
        row["build_label"],
        decision.act,
        tuple(dict.fromkeys(reasons)),
        tuple(dict.fromkeys(_settled_by(one))),
        to_go,
        decision.reasons,
    )


def _said(reason: str, one: Decided, words: Mapping[str, str]) -> str:
    """A reason in words as short as they can be beside what is to be done."""
    row, state = one.row, one.state
    match reason:
        case diffs.NOT_BUILT:
            return "no build of it is written down"
        case diffs.OPENED:
            wet = f", wet at {row['leak_place']}" if row["leak_place"] else ""
            return f"opened {row['opened_on']}{wet}"
        case diffs.ON_THE_BENCH | diffs.GIVEN_UP:
            return next(short_words(row), "")
        case _ if reason == LIMIT_PASSED:
            by_limit = _by_limit_of_runs(state)
            return f"{by_limit.words if by_limit else ''}; {one.planned.words}"
        case _ if reason in (OIL_RUNS_OUT, OIL_MAY_RUN_OUT):
            by_oil = _by_oil_lost(state)
            is_said = not {diffs.LOST_SOME, diffs.CANNOT_TELL}.isdisjoint(one.decision.reasons)
            lost = "" if is_said else f"{lost_said(row)}, "
            return f"{lost}{by_oil.words if by_oil else ''}; {one.planned.words}"
        case _ if reason == OIL_NOT_FORESEEN:
            return f"{lost_said(row)}, and how many runs are left is not known"
        case _ if reason == SEALS_AT_LAST_USE:
            return f"a seal has had its {counted(row['seal_uses'], 'use')}"
        case _ if reason == WEIGHED_ONCE:
            return f"weighed once, after {count_of(state.runs)}: what it lost till then nobody knows"
        case _ if reason == NOTHING_KNOWN:
            return "nothing is written down of what is in it"
        case _ if reason == WEIGHINGS_DISAGREE:
            return next(disagreeing_said(row, in_use=False), "")
        case _:
            return short_reason(reason, row, words[reason])


def _why_left(one: Decided, to_go: RunsToGo | None) -> Iterator[str]:
    """In numbers why a diff may stay as it is: runs left, oil lost, uses of its seals, days since it was built."""
    row, state = one.row, one.state
    if to_go is not None:
        yield f"{to_go.words}; {one.planned.words}"
    yield lost_said(row)
    if state.seal_uses is not None and state.limit_seal_uses is not None:
        yield f"a seal was closed in {counted(state.seal_uses, 'time')}, your limit is {state.limit_seal_uses:g}"
    yield built_in_words(row["built_on"])
    words = dict(reasons_in_words(row))
    yield from (f"put by: {short_reason(key, row, words[key])}" for key in state.reasons if key in state.resting)


def _settled_by(one: Decided) -> Iterator[str]:
    """What settles it, or goes with the act."""
    state, act, keys = one.state, one.decision.act, one.decision.reasons
    is_opened = act in (CHANGE_THE_OIL, REBUILD_IT) and not state.is_apart
    for key in () if is_opened else keys:
        yield from _SETTLED_BY.get(key, ())
    if act == UNCLEAR_WHAT and OIL_MAY_RUN_OUT in keys:
        yield _weighing_that_settles(state)
    elif act == LOOK_AT_IT and any(_ACT_OF[key] == WEIGH_IT or key == OIL_MAY_RUN_OUT for key in keys):
        yield "weigh it"
    if diffs.CANNOT_TELL in state.reasons and diffs.CANNOT_TELL not in state.resting:
        advice = one.row[ADVICE] or WEIGH_AGAIN
        if act == CHANGE_THE_OIL:
            yield "weigh it closed before you open it"
        elif act != REBUILD_IT and advice != WEIGH_AGAIN:
            yield advice


def _weighing_that_settles(state: DiffState) -> str:
    """When a weighing would say more: now if it ran since the last one, else after the runs that are left for sure."""
    if state.runs > (state.weighed_at_runs or 0.0):
        return "weigh it now"
    sure = whole_runs((state.stop_low_runs or 0.0) - state.runs)
    return f"weigh it again after {count_of(max(1, sure))}"
